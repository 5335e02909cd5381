"""Every form of every address, filled as nobody should: words and a way on, never a 500."""

import random
import re
from html.parser import HTMLParser
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import URLPattern

from tests.fuzz.hostile import TEXTS
from tests.shop.test_scope import ADDRESSES, Rows, a_row_of_everything, path_of
from witnessmark.shop.ids import new_id

pytestmark = pytest.mark.postgres_long
LEFT_ALONE = {"sign-out"}  # the test itself would be signed out
Fields = dict[str, list[str]]


class Forms(HTMLParser):
    """The forms of a page that are posted: where to, and what each field would send."""

    def __init__(self, page: str, path: str) -> None:
        super().__init__()
        self.found: list[tuple[str, Fields]] = []
        self._path, self._fields = path, None
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        if tag == "form" and said.get("method") == "post":
            self._fields: Fields | None = {}
            self.found.append((said.get("action") or self._path, self._fields))
        elif tag in {"input", "textarea", "select", "button"} and said.get("name"):
            fields = self.found[-1][1] if said.get("form") and self.found else self._fields
            if fields is not None and said.get("type") != "file":
                fields.setdefault(said["name"], []).append(said.get("value", ""))

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._fields = None


@pytest.fixture
def rows(desk, worked_on) -> Rows:
    """A visit half worked, and one row of every other table."""
    return a_row_of_everything(desk, worked_on)


@pytest.fixture
def client(technician, client_of) -> Client:
    return client_of(technician)


def forms_of(client: Client, address: URLPattern, rows: Rows) -> list[tuple[str, Fields]]:
    """Those that its page shows; else a form that sends the ids of everything there is."""
    path = path_of(address, rows)
    answer = client.get(path)
    assert answer.status_code < 500, path
    page = "" if answer.streaming else answer.content.decode(errors="replace")
    ids = {name: [str(row.pk)] for name, row in rows.items()}
    by_hand = {"entry_id": [str(new_id())], "seen": ["{}"], **ids}
    shown = Forms(page, path).found if "html" in answer.headers.get("Content-Type", "") else []
    return [(action, fields) for action, fields in shown if "/sign-out/" not in action] + [
        (path, by_hand)
    ]


def spoilt(fields: Fields, chance: random.Random) -> Fields:
    """One to three fields typed over, left out, doubled or made up."""
    sent = {name: [chance.choice(values)] for name, values in fields.items()}
    for _ in range(chance.randint(1, 3)):
        name = chance.choice([*sent, chance.choice(("card", "item", "line", "step", "x"))])
        match chance.randrange(10):
            case 0:
                sent.pop(name, None)
            case 1:
                sent[name] = [*sent.get(name, [""]), chance.choice(TEXTS)]
            case _:
                sent[name] = [chance.choice(TEXTS)]
    return sent


def posted(client: Client, path: str, fields: Fields) -> Any:
    """As a browser sends it; half a letter goes out as the bytes that no browser would send."""
    pairs = ((name, value) for name, values in fields.items() for value in values)
    body = "&".join(f"{_quoted(name)}={_quoted(value)}" for name, value in pairs)
    return client.post(path, body, content_type="application/x-www-form-urlencoded")


def _quoted(text: str) -> str:
    return "".join(f"%{byte:02X}" for byte in text.encode("utf-8", "surrogatepass"))


def refused_in_words(answer: Any) -> bool:
    """A page that says something and offers a way on."""
    page = answer.content.decode()
    said = re.search(r'<h1>\s*\S|role="alert"|class="fault"', page)
    return bool(said) and ("<a " in page or "<button" in page)


def _fuzz(client: Client, rows: Rows, address: URLPattern, rounds: int, answered) -> None:
    chance = random.Random(str(address.pattern))
    for action, fields in forms_of(client, address, rows):
        for _ in range(rounds):
            sent = spoilt(fields, chance)
            with answered(), transaction.atomic():
                answer = posted(client, action.partition("#")[0], sent)
                said = f"{action} {str(sent)[:600]}"
                assert answer.status_code < 500, said
                if answer.status_code >= 400 and answer.status_code != 405:
                    assert refused_in_words(answer), said
                transaction.set_rollback(True)  # each tries the same store


def _asked(client: Client, rows: Rows, address: URLPattern, texts: int, answered) -> None:
    """The address itself, with what is asked in its query spoilt."""
    chance = random.Random(f"?{address.pattern}")
    names = (
        "q",
        "page",
        "revision",
        "card",
        "step",
        "item",
        "begin",
        "with",
        "mode",
        "size",
        "figure",
        "doubt",
    )
    path = path_of(address, rows)
    for text in chance.sample(TEXTS, texts):
        query = "&".join(f"{name}={_quoted(text[:4000])}" for name in names)
        with answered():
            assert client.get(f"{path}?{query}").status_code < 500, (path, text[:80])


TRIED = [address for address in ADDRESSES if address.name not in LEFT_ALONE]


def test_whatever_is_sent_is_answered_in_words(rows, client, answered):
    for address in TRIED:
        _fuzz(client, rows, address, 1, answered)
        _asked(client, rows, address, 1, answered)


@pytest.mark.long
@pytest.mark.parametrize("address", TRIED, ids=lambda a: str(a.pattern) or "/")
def test_whatever_is_sent_a_hundred_times_is_answered_in_words(address, rows, client, answered):
    _fuzz(client, rows, address, 60, answered)
    _asked(client, rows, address, len(TEXTS), answered)
