"""Documents kept by their hash: pinned books, plans taken, estimates shown."""

import hashlib
import json
from collections.abc import Iterable
from contextlib import suppress
from functools import lru_cache
from typing import Any
from uuid import UUID

import tomlkit
from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from witnessmark import book as books
from witnessmark.book import Book
from witnessmark.book.differences import differences
from witnessmark.book.model import Figure
from witnessmark.kept_versions import KeptError
from witnessmark.shop.models import (
    BookRevision,
    DocumentKept,
    EstimateKept,
    KeptContent,
    PlanKept,
    Shop,
    StoredBook,
)
from witnessmark.shop.models.changes import note

MOST_NOTED = 20  # of what one revision changes: another build changes hundreds
WORDS: dict[type[KeptContent], Any] = {  # translated where they are read
    BookRevision: gettext_lazy("the kept service book"),
    PlanKept: gettext_lazy("the kept plan"),
    EstimateKept: gettext_lazy("the kept estimate"),
    DocumentKept: gettext_lazy("the kept document"),
}


def keep(shop: Shop, model: type[KeptContent], content: bytes) -> str:
    """Keep the bytes once per shop; return their SHA-256."""
    sha256 = hashlib.sha256(content).hexdigest()
    rows = model._default_manager.filter(shop=shop, sha256=sha256)
    if not rows.exists():
        try:
            with transaction.atomic():
                model(shop=shop, sha256=sha256, content=content).save(force_insert=True)
        except IntegrityError:  # somebody kept the same between the look and the insert
            if not rows.exists():
                raise
    return sha256


def content(shop_id: UUID, model: type[KeptContent], sha256: str) -> bytes:
    """The bytes kept under a hash. Raises KeptError where they are gone, or are not those that were kept."""
    row = model._default_manager.filter(shop=shop_id, sha256=sha256).first()
    what = str(WORDS[model])
    right = _("do not work by it: run `witnessmark verify`, and restore the backup from before")
    if row is None:
        raise KeptError(what, _("is not in the database any more"), right)
    if not is_itself(row):
        raise KeptError(what, _("was changed since it was kept"), right)
    return bytes(row.content)


def is_itself(row: KeptContent) -> bool:
    """Whether the bytes are those that the row's hash names."""
    return hashlib.sha256(row.content).hexdigest() == row.sha256


def keep_book(shop: Shop, book: Book, text: str = "") -> StoredBook:
    """Keep a book's revision and make it the current one of its name. `text`: its TOML as written."""
    sha256 = keep(shop, BookRevision, books.canonical(book))
    current = BookRevision.objects.get(shop=shop, sha256=sha256)
    with transaction.atomic():
        rows = StoredBook.objects.select_for_update().select_related("current")
        before = rows.filter(shop=shop, name=book.name).first()
        stored, _made = StoredBook.objects.update_or_create(
            shop=shop,
            name=book.name,
            defaults={"title": book.title, "text": text, "current": current},
        )
        _note(_readable(before), book)
    return stored


def text_of(stored: StoredBook) -> str:
    """The TOML of a stored book, to go on from: as it was written, else whole."""
    if stored.text:
        return stored.text
    return whole_text(book_of(stored.shop, stored.current.sha256))


def whole_text(book: Book) -> str:
    """A book as TOML that extends nothing."""
    return tomlkit.dumps(book.model_dump(mode="python", exclude_defaults=True))


def _readable(stored: StoredBook | None) -> Book | None:
    """The book as it was; None for none, and for one that is damaged: it must be possible to replace it."""
    try:
        return book_of(stored.shop, stored.current.sha256) if stored else None
    except KeptError:
        return None


def _note(before: Book | None, book: Book) -> None:
    """Tell what another revision changes: figure by figure, and whether anything else is another."""
    about = f"Service book: {book.title}"
    if before is None:
        note(about, "added", "", book.title)
        return
    for name in {**before.figures, **book.figures}:
        was, now = before.figures.get(name), book.figures.get(name)
        words = (now or was).text  # type: ignore[union-attr]
        note(about, words, _figure(was), _figure(now))
    others = before.model_copy(update={"figures": book.figures})
    if others == book:
        return
    told = [one for one in differences(others, book) if one.path[0] != "translations"]
    for one in told[:MOST_NOTED]:
        note(about, f"{one.thing}, {one.what}", one.was or "", one.now or "")
    if len(told) > MOST_NOTED or not told:
        note(about, "jobs, steps or conditions", "as they were", "changed: its text shows them")


def _figure(one: Figure | None) -> str:
    """A figure with its limits and source, as the document has it."""
    if one is None:
        return ""
    parts = {"least": one.low, "most": one.high, "±": one.tolerance, "source": one.source}
    return "; ".join(
        filter(None, (one.value, *(f"{name} {part}" for name, part in parts.items() if part)))
    )


def book_of(shop: Shop, revision: str) -> Book:
    """The book of a kept revision. Raises KeptError as `content` does, or for a book of a newer version."""
    return _book(shop.pk, revision)


@lru_cache(maxsize=256)
def _book(shop_id: UUID, revision: str) -> Book:
    """A revision never changes, so it is read once."""
    return _of_form(content(shop_id, BookRevision, revision))


@lru_cache(maxsize=64)
def _of_form(form: bytes) -> Book:
    """The same book in two shops is one book."""
    return books.from_canonical(form)


def lines_of(shop: Shop, estimates: Iterable[str]) -> dict[str, str]:
    """The words of the lines of kept estimates, by id, the newest last; one that is not as it was kept has none."""
    words: dict[str, str] = {}
    for sha256 in estimates:
        with suppress(KeptError):
            words |= _lines(shop.pk, sha256)
    return words


@lru_cache(maxsize=256)
def _lines(shop_id: UUID, sha256: str) -> dict[str, str]:
    made = json.loads(content(shop_id, EstimateKept, sha256))
    return {line["id"]: line["text"] for line in made.get("lines", [])}
