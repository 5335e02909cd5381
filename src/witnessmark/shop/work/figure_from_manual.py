"""A figure read in the machine's own manual, as an entry over the pinned book."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from witnessmark import units
from witnessmark.book.model import Book
from witnessmark.book.plausible import look_at
from witnessmark.errors import WitnessError
from witnessmark.shop.store import EntryDraft

VOUCH = gettext_lazy("It is right anyway, because")


class DoubtError(WitnessError):
    """A figure that looks wrong for what it is, and that nobody has vouched for yet."""


def figure_set(book: Book, name: str, value: str, source: str, vouched: str = "") -> EntryDraft:
    """The entry that gives a figure its value and source.

    Raises QuantityError for what is no such quantity, DoubtError for what looks wrong where
    ``vouched`` does not say why it is right.
    """
    figure = book.figures[name]
    if figure.quantity != "words":
        units.read(value, figure.quantity)
    look = look_at(book, name, text=value)
    doubtful = look is not None and look.doubtful
    if look is not None and doubtful and not vouched:
        said = _("{doubt} Nothing is saved yet: correct it, or say below why it is right.")
        raise DoubtError("value", said.format(doubt=look.words), "")
    body = {"figure": name, "value": value, "source": source, "was": figure.value or ""}
    return "figure_set", body | ({"vouched": vouched} if doubtful else {})
