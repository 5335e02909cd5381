"""What is told of a figure while it is typed: how it was understood, and what speaks against it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from django.utils.translation import gettext as _

from witnessmark import units
from witnessmark.book.model import ENTRIES, Book
from witnessmark.book.plausible import Plausibility, look_at
from witnessmark.shop.forms import in_words


def looks_at(book: Book, name: str, typed: Mapping[str, str]) -> list[Plausibility]:
    """How the values typed for a figure look; one that has no objection stands for the others."""
    every = (look_at(book, name, key, typed.get(key, "")) for key in ENTRIES)
    return _told(every)


def understood(book: Book, name: str, typed: Mapping[str, str]) -> list[str]:
    """What was taken from each value, in the base unit where it was written in another; what is wrong with it."""
    quantity = book.figures[name].quantity
    texts = [typed[key] for key in ENTRIES if typed.get(key)] if quantity != "words" else []
    return [_understood(text, quantity) for text in texts]


def _told(looks: Iterable[Plausibility | None]) -> list[Plausibility]:
    """Every doubt; else the first thing there is to say."""
    there = [look for look in looks if look is not None]
    return [look for look in there if look.doubtful] or there[:1]


def _understood(text: str, quantity: units.Quantity) -> str:
    try:
        amount = units.read(text, quantity)
    except units.QuantityError as error:
        return in_words(error)
    shown = units.show(amount.value, quantity)
    if shown == amount.understood:
        return _("Read as {understood}.").format(understood=shown)
    return _("Read as {understood}, that is {shown}.").format(
        understood=amount.understood, shown=shown
    )
