"""A figure read in the machine's own manual, as an entry over the pinned book."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from witnessmark import units
from witnessmark.book.amounts import figure_faults
from witnessmark.book.model import ENTRIES, Book, Figure
from witnessmark.book.plausible import look_at
from witnessmark.errors import WitnessError
from witnessmark.shop.store import EntryDraft

VOUCH = gettext_lazy("It is right anyway, because")


class DoubtError(WitnessError):
    """A figure that looks wrong for what it is, and that nobody has vouched for yet; `place`: which part of it."""


def figure_set(
    book: Book, name: str, given: Mapping[str, str], source: str, vouched: str = ""
) -> EntryDraft:
    """The entry that gives a figure its value, or both ends of a range, and source.

    ``given``: `value`, `low`, `high`, `tolerance`, as far as there are, each with its unit. Raises QuantityError
    (`place`: which of them) for what is no such quantity, DoubtError for what looks wrong where ``vouched`` does
    not say why it is right.
    """
    figure = book.figures[name]
    given = {key: text for key, text in given.items() if text}
    typed = Figure.model_validate({"text": figure.text, "quantity": figure.quantity, **given})
    if len(ends := {"low", "high"} & given.keys()) == 1 and "value" not in given:
        problem, expected = _("a range has two ends"), _("give this end too, or one value alone")
        raise units.QuantityError("high" if "low" in ends else "low", problem, expected)
    for fault in figure_faults((), typed):
        raise units.QuantityError(str(fault.path[-1]), fault.problem, fault.expected)
    looks = [look_at(book, name, key, given[key]) for key in ENTRIES if key in given]
    doubt = next((look for look in looks if look is not None and look.doubtful), None)
    if doubt is not None and not vouched:
        said = _("{doubt} Nothing is saved yet: correct it, or say below why it is right.")
        raise DoubtError(doubt.key, said.format(doubt=doubt.words), "")
    body = {"figure": name, **given, "source": source, "was": figure.written}
    return "figure_set", body | ({"vouched": vouched} if doubt is not None else {})
