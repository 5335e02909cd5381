"""A language of its own for tests: every text that is translated comes marked, so that one that is not stands out."""

import re
from io import BytesIO

import pypdf
from django.test import Client
from django.utils.dates import MONTHS, MONTHS_3, MONTHS_AP

from catalogue import compiled, messages
from witnessmark.book import Book
from witnessmark.book.translate import _said, _strings
from witnessmark.shop.models import Member, Owner, Visit, WasteContainer, Wrench, WrenchEvent
from witnessmark.shop.work.visit import read
from witnessmark.units.table import UNITS

LANGUAGE = (
    "fo"  # known to the locale data, not to Django, which then writes its own words in English
)
_MARKS = str.maketrans("aeiouyAEIOUY", "âêîôûŷÂÊÎÔÛŶ")
_NAMES = re.compile(r"(\{\w+\})")
_SEAL = re.compile(r"\b[0-9a-f]{64}\b")
_WORD = re.compile(r"[^\W\d_]{2,}")
TYPED = {  # what people type, by its name in the entries; all else in them is chosen
    "text", "reason", "because", "complaint", "owner_said", "safe_now", "source", "value", "low", "high", "bottle",
    "into", "code", "codes", "short_wait", "not_ridden_because", "was", "why", "pasted", "torque", "where", "place",
}  # fmt: skip
OF_PAPER = {"min", "km", "DOT", "SAE", "API", "JASO"}
SLUGS = ("estimate", "road-test", "service-record", "call-back", "not-ridden", "declined")


def marked(text: str) -> str:
    """The text with its vowels marked; names in braces stay. Example: ``Fôûnd: {text}``."""
    parts = _NAMES.split(text)
    return "".join(part if _NAMES.fullmatch(part) else part.translate(_MARKS) for part in parts)


def with_marks(book: Book) -> Book:
    """The book with every text translated by marks."""
    said = dict.fromkeys(text for text in _strings(_said(book.model_dump(mode="json"))) if text)
    return book.model_copy(
        update={"translations": {LANGUAGE: {text: marked(text) for text in said}}}
    )


def marked_catalogue(settings, folder) -> None:
    """Make the language known to Django: every text of the papers, marked."""
    catalogue = messages()
    for message in catalogue:
        if isinstance(message.id, str):
            message.string = marked(message.id)
        else:
            message.string = tuple(marked(one) for one in message.id)
    place = folder / LANGUAGE / "LC_MESSAGES"
    place.mkdir(parents=True)
    (place / "django.mo").write_bytes(compiled(catalogue))
    settings.LOCALE_PATHS = [*settings.LOCALE_PATHS, folder]


def unmarked(client: Client, visit: Visit) -> dict[str, list[str]]:
    """Words on the papers of a visit that nobody typed and nobody translated, by paper."""
    Owner.objects.update(language=LANGUAGE)
    known = _typed(visit)
    found = {}
    for slug in SLUGS:
        answer = client.get(f"/visits/{visit.pk}/papers/{slug}.pdf")
        if answer.status_code == 200:
            pages = pypdf.PdfReader(BytesIO(answer.content)).pages
            text = _SEAL.sub("", " ".join(page.extract_text() for page in pages))
            words = _WORD.findall(text)
            plain = [word for word in words if word.isascii() and re.search("[aeiouy]", word)]
            found[slug] = [word for word in plain if word not in known]
    assert "service-record" in found
    return {slug: words for slug, words in found.items() if words}


def _typed(visit: Visit) -> set[str]:
    """Every word of names, of units and of what a person typed."""
    work = read(visit)
    texts = [
        *OF_PAPER,
        *map(str, MONTHS.values()),
        *map(str, MONTHS_AP.values()),
        work.book.title,
        *_values(work.pinned),
    ]
    texts += [str(month).title() for month in MONTHS_3.values()]
    texts += [name for quantity in UNITS.values() for name in quantity]
    for row in (
        visit.shop, visit.machine, visit.machine.owner, *Member.objects.all(), *Wrench.objects.all(),
        *WrenchEvent.objects.all(), *WasteContainer.objects.all(), *(m.user for m in Member.objects.all()),
    ):  # fmt: skip
        texts += [str(value) for value in vars(row).values() if isinstance(value, str)]
    for entry in work.entries:
        texts += _of_body(entry.body)
        if entry.kind in ("added", "line_written"):
            texts += _strings(entry.body)
    return {word for text in texts for word in _WORD.findall(text)}


def _values(book: Book) -> list[str]:
    """Figures and their sources are printed as they are written."""
    every = [
        (one.source, one.value if one.quantity != "words" else "") for one in book.figures.values()
    ]
    return [text for pair in every for text in pair if text]


def _of_body(said, name: str = "") -> list[str]:
    if isinstance(said, str):
        return [said] if name in TYPED else []
    if isinstance(said, list):
        return [text for one in said for text in _of_body(one, name)]
    if isinstance(said, dict):
        return [text for key, one in said.items() for text in _of_body(one, key)]
    return []
