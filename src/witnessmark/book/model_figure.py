"""A figure of a machine: a quantity as its manual has it, with its source, and who compared it."""

from __future__ import annotations

import re
from datetime import date
from functools import cached_property
from typing import NamedTuple

from witnessmark import units
from witnessmark.book.fields import BookModel, Words, Written
from witnessmark.units import Amount, Quantity


class Checked(BookModel):
    """Who compared a figure with its source, and on which day."""

    by: Words
    on: date


class Confirmed(Checked):
    """A second pair of eyes compared a figure with its source; it speaks of the figure as it was then."""

    of: Words  # `Figure.written`


class Bounds(NamedTuple):
    """The least and the most a figure allows, in the base unit of its quantity; None: no limit."""

    low: float | None
    high: float | None


ENTRIES = ("value", "low", "high")  # of a figure: each a quantity by itself
PER_CENT = re.compile(r"(\d{1,3}(?:[.,]\d+)?)\s*%")


class Figure(BookModel):
    """One quantity of a machine: *missing* without a value, *unproven* with a value but without a source."""

    text: Words
    quantity: Quantity
    value: Written = None  # as written, with its unit: "20 Nm", "24 months", "SAE 80W-90" (words)
    low: Written = None  # a range: both ends, in place of or around the value
    high: Written = None
    tolerance: Written = None  # "2 Nm" or "10 %", either side of the value
    source: Written = None  # document and page
    sent_by: Written = None  # the shop it came from: unproven here until somebody looks it up
    checked: Checked | None = None
    note: str = ""
    vouched: Written = None  # looks wrong for what it is, and is right: somebody's word why
    photo: Written = None  # SHA-256 of a photo of the page, kept by the shop
    entered: Checked | None = None  # who typed it, and when
    confirmed: Confirmed | None = None  # by somebody else than who typed it

    @property
    def written(self) -> str:
        """The value as the document has it, with its tolerance or range; empty where it is missing."""
        ends = f"{self.low or '…'} to {self.high or '…'}" if self.low or self.high else ""
        if self.value is None:
            return ends
        spread = f" ± {self.tolerance}" if self.tolerance else ""
        return self.value + (f" ({ends})" if ends else spread)

    @property
    def seen_twice(self) -> Confirmed | None:
        """The confirmation, where it speaks of the figure as it is written now."""
        one = self.confirmed
        return one if one is not None and one.of == self.written else None

    @cached_property
    def amounts(self) -> dict[str, Amount]:
        """Those of `ENTRIES` that are given, read; empty for words. Raises QuantityError."""
        if self.quantity == "words":
            return {}
        given = {key: getattr(self, key) for key in ENTRIES}
        return {key: units.read(text, self.quantity) for key, text in given.items() if text}

    def in_base(self, *keys: str) -> float | None:
        """The first of those entries that is given, in the base unit; None where none is, and for words."""
        return next((self.amounts[key].value for key in keys if key in self.amounts), None)

    @cached_property
    def spread(self) -> float | None:
        """The tolerance either side of the value, in the base unit; None where none is given."""
        value = self.in_base("value")
        if self.tolerance is None or value is None:
            return None
        if share := PER_CENT.fullmatch(self.tolerance):
            return value * float(share[1].replace(",", ".")) / 100
        return units.read_difference(self.tolerance, self.quantity)

    @cached_property
    def bounds(self) -> Bounds:
        """What it allows: its ends, else its value less and plus the tolerance, else the value."""
        low, value, high = (self.in_base(key) for key in ("low", "value", "high"))
        if low is None and high is None and value is not None:
            return Bounds(value - (self.spread or 0.0), value + (self.spread or 0.0))
        return Bounds(low, high)
