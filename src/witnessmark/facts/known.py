"""What is known of work done before, and what was read on the machine."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import Literal

from witnessmark.facts.odometer import FactError
from witnessmark.units import BASE, BOUNDS, Quantity

Known = Literal["record", "word", "never"]


@dataclass(frozen=True, slots=True)
class LastDone:
    """When a job was last done, and how we know.

    ``record``: a paper, a stamp or our own ledger; ``word``: the owner or the seller says so;
    ``never``: not known to have been done. ``km`` and ``on`` are None where not known; ``source``
    is the paper or who said it.
    """

    job: str
    known: Known
    km: float | None = None
    on: date | None = None
    source: str = ""

    def __post_init__(self) -> None:
        """Raise FactError for a distance no machine has run, or a date of what was never done."""
        if self.km is not None and not (
            math.isfinite(self.km) and 0 <= self.km <= BOUNDS["distance"].high
        ):
            raise FactError(
                f"last done {self.job}", f"{self.km} km cannot be", "give the odometer of that day"
            )
        if self.known == "never" and (self.km is not None or self.on is not None):
            problem = "never known to be done, yet with a day or a distance"
            raise FactError(
                f"last done {self.job}", problem, "give how it is known: record or word"
            )


@dataclass(frozen=True, slots=True)
class ReadingTaken:
    """A value read on the machine: which reading of the book, value in the base unit, day, odometer.

    A reading in words has no value.
    """

    reading: str
    value: float | None
    quantity: Quantity
    on: date
    km: float | None = None
    words: str = ""

    @property
    def unit(self) -> str:
        """The base unit of the value."""
        return BASE[self.quantity]
