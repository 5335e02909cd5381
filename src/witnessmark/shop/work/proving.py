"""A figure read in the machine's own manual, as an entry over the pinned book."""

from __future__ import annotations

from witnessmark import units
from witnessmark.book.model import Book
from witnessmark.shop.store import Act


def figure_set(book: Book, name: str, value: str, source: str) -> Act:
    """The entry that gives a figure its value and source. Raises QuantityError for what is no such quantity."""
    figure = book.figures[name]
    if figure.quantity != "words":
        units.read(value, figure.quantity)
    was = figure.value or ""
    return "figure_set", {"figure": name, "value": value, "source": source, "was": was}
