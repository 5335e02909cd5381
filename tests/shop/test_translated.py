"""No text of the demo's pages and papers escapes translation.

On the pages each translated text stands in brackets. What a template shows of a value is data (names, what people
typed, texts of service books, words of the pure core) and exempt, but for the values listed here, which hold texts of
the pages themselves. The papers are printed in a language that marks every translated word.
"""

import re
from collections import Counter
from collections.abc import Iterator
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path
from urllib.parse import urlsplit

import django
import pypdf
import pytest
from babel.messages.pofile import read_po
from django.template.base import VariableNode
from django.test import override_settings
from django.urls import resolve
from django.utils import translation
from django.utils.safestring import SafeData, mark_safe

from catalogue import of_pages
from tests.shop.marked import OF_PAPER, marked_catalogue, unmarked, with_marks
from witnessmark.book import load_book
from witnessmark.shop import scenario
from witnessmark.shop.models import Member, Shop, Visit
from witnessmark.shop.pages.bench import forms, rows, views
from witnessmark.shop.work.visit import read
from witnessmark.units.table import UNITS

OURS = {"title", "stop.word", "next_step.words", "next_step.button", "field.label", "field.help_text|safe"}  # fmt: skip
FROM_THE_CORE = {
    "calculator",
    "visit-calculator",
    "prices-book",
    "prices-common",
    "pack",
    "pack-new",
}  # labels that books and the core give
OF_A_KIND = 2  # pages at one kind of address that are looked at
AT_EACH_STAGE = 4  # of a visit
NO_PAGES = {"paper", "photo", "waste-csv", "wrench-doubt-csv"}  # files, not pages
CODE = {"script", "style", "svg"}  # a picture shows what the core drew
SHOWN = ("aria-label", "alt", "placeholder", "title")
NO_WORDS = OF_PAPER | {unit for units in UNITS.values() for unit in units} | {
    "Witness", "Mark", "N·m", "lbf·ft", "mi", "CSV", "PDF", "US",
}  # fmt: skip

A_WORD = re.compile(r"[^\W\d_][\w’'·-]*[^\W\d_]")


@pytest.fixture(scope="module")
def demo(fresh_database, django_db_blocker, tmp_path_factory) -> Iterator[Shop]:
    """The demo workshop, built once for this module: committed, and gone with the next fresh database."""
    home = tmp_path_factory.mktemp("home")
    hashers = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    with (
        override_settings(HOME=home, PHOTOS=home / "photos", PASSWORD_HASHERS=hashers),
        pytest.MonkeyPatch.context() as patched,
    ):
        patched.setattr(scenario, "load_book", lambda path: with_marks(load_book(path)))
        with django_db_blocker.unblock():
            fresh_database()
            shop = scenario.build()
        yield shop
        with django_db_blocker.unblock():
            fresh_database()


@pytest.fixture
def brackets(monkeypatch):
    """Translation puts every text into brackets, and a template what it shows of a value; every text that was asked."""
    asked: set[str] = set()

    def said(text):
        asked.add(str(text))
        return mark_safe(f"⟦{text}⟧") if isinstance(text, SafeData) else f"⟦{text}⟧"

    translation.gettext("")  # Django fetches its functions at the first call
    of_django = translation._trans
    monkeypatch.setattr(of_django, "gettext", said)
    monkeypatch.setattr(of_django, "pgettext", lambda _context, text: said(text), raising=False)
    monkeypatch.setattr(
        of_django,
        "ngettext",
        lambda one, many, n: said(one if n == 1 else many),
        raising=False,
    )
    render = VariableNode.render_annotated

    def shown(node, context):
        words = render(node, context)
        ours = str(node.filter_expression) in OURS or "<" in words  # of our templates: a form, too
        return words if ours else mark_safe(f"‹{words}›")

    def row(words, detail="", **more):
        """The bench's rows are no variables of a template: what they tell of a visit is put between them here."""
        return rows.line(f"‹{words}›", detail and f"‹{detail}›", **more)

    monkeypatch.setattr(VariableNode, "render_annotated", shown)
    monkeypatch.setattr(views, "line", row)
    _forget_blank_forms()
    yield asked
    _forget_blank_forms()


def _forget_blank_forms() -> None:
    """Those of the bench are kept by language: brackets are none, and must not meet what other tests left, or stay."""
    forms._blank.cache_clear()
    forms._blank_found.cache_clear()
    forms._blank_of_card.cache_clear()


class Page(HTMLParser):
    """`escaped`: the texts of a page that stand outside of brackets; `links`: where it leads."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.escaped: list[str] = []
        self.links: list[str] = []
        self._depth = 0
        self._code = False
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        said = {name: value or "" for name, value in attrs}
        self._code = self._code or tag in CODE
        if tag == "a":
            self.links.append(re.sub(r"[‹›⟦⟧]", "", said.get("href", "")))
        for name in SHOWN:
            self._judge(said.get(name, ""), 0)

    def handle_endtag(self, tag):
        self._code = self._code and tag not in CODE

    def handle_data(self, data):
        if not self._code:
            self._depth = self._judge(data, self._depth)

    def _judge(self, text: str, depth: int) -> int:
        outside = ""
        for sign in text:
            depth += (sign in "⟦‹") - (sign in "⟧›")
            outside += " " if depth else sign
        if set(A_WORD.findall(outside)) - NO_WORDS:
            self.escaped.append(" ".join(outside.split()))
        return depth


def pages(client, start="/"):
    """Some pages of each kind, reached from the first one by links: address, and the page."""
    waiting, seen, kinds = [start], set(), Counter()
    while waiting:
        address = waiting.pop(0)
        path = urlsplit(address).path
        kind = resolve(path).url_name
        most = AT_EACH_STAGE if path.startswith("/visits/") else OF_A_KIND
        if path in seen or kind in NO_PAGES or kinds[kind] == most:
            continue
        seen.add(path)
        kinds[kind] += 1
        answer = client.get(address)
        if answer.status_code in (302, 303):
            waiting.append(answer.url)
            continue
        assert answer.status_code in (200, 422), address
        page = Page(answer.content.decode())
        yield kind, address, page.escaped
        waiting += [link for link in page.links if link.startswith("/")]


@pytest.mark.django_db
def test_no_text_of_a_page_escapes_translation(demo, client_of, brackets):
    client = client_of(Member.objects.filter(shop=demo, role="head").first())
    found = list(pages(client))
    kinds = {kind for kind, _address, _escaped in found}
    assert {"today", "arrival", "needs", "price", "order", "bench", "handback", "papers"} <= kinds
    ours = [(kind, texts) for kind, _address, texts in found if kind not in FROM_THE_CORE]
    asked = {
        condition.asked
        for visit in Visit.objects.filter(shop=demo)
        if (book := read(visit).state.book and read(visit).book)
        for condition in book.conditions.values()
    }
    assert sorted({f"{kind}: {text}" for kind, texts in ours for text in {*texts} - asked}) == []
    known = {one for text in of_pages() for one in (text if isinstance(text, tuple) else [text])}
    assert sorted(brackets - known - of_django()) == [], "a translator never finds them"


@pytest.mark.django_db
def test_no_text_of_a_paper_escapes_translation(demo, settings, tmp_path, client_of, monkeypatch):
    """Printed in a language that marks every translated word, the papers have no unmarked one that nobody typed."""
    marked_catalogue(settings, tmp_path / "locale")
    client = client_of(Member.objects.filter(role="head").first())
    found = {str(visit): unmarked(client, visit) for visit in Visit.objects.all()}
    assert {visit: words for visit, words in found.items() if words} == {}
    client.cookies["units"] = "us"
    for visit in Visit.objects.all():
        assert length(client, visit, "service-record") <= 2, (
            "both units, and the longer words of the marks' kind"
        )
        planned = visit.entry_rows.filter(kind="plan_taken").exists()
        assert bool(length(client, visit, "job-card")) == planned


def of_django() -> set[str]:
    """The texts of Django itself, which it translates itself."""
    found: set[str] = set()
    for path in Path(django.__file__).parent.glob("**/locale/en/LC_MESSAGES/django.po"):
        with path.open("rb") as file:
            for message in read_po(file):
                found.update([message.id] if isinstance(message.id, str) else message.id)
    return found


def length(client, visit: Visit, paper: str) -> int:
    """How many pages a paper has; 0: there is none."""
    answer = client.get(f"/visits/{visit.pk}/papers/{paper}.pdf")
    return len(pypdf.PdfReader(BytesIO(answer.content)).pages) if answer.status_code == 200 else 0


def test_a_text_that_escapes_is_found():
    assert Page("<p>⟦Save⟧ ‹Mara› 60 N·m</p>").escaped == []
    assert Page('<h1>Save</h1><a href="/" aria-label="Back">⟦To ‹Mara›⟧</a>').escaped == [
        "Save",
        "Back",
    ]
