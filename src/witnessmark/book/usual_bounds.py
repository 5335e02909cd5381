"""What is common for a quantity of a motorcycle, by what it is: wide bounds that only slips of the pen leave.

Judged by us; common practice, no source. They warn, and never stand for a figure.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from witnessmark.book.model import Book
from witnessmark.book.select import steps
from witnessmark.units import Quantity


@dataclass(frozen=True)
class Usual:
    """Least and most in the base unit of the quantity, for what is called so; ``what`` in a sentence."""

    what: str
    low: float
    high: float
    called: str = ""  # a pattern in the id or the text of the figure; empty: any


_BY_NAME: dict[Quantity, tuple[Usual, ...]] = {
    "pressure": (
        Usual("a tyre", 100, 450, r"\b(tyre|tire)s?\b"),
        Usual("compression", 400, 3000, r"\bcompression\b"),
        Usual("oil pressure", 20, 1000, r"\boil\b"),
        Usual("a fuel line", 20, 1000, r"\b(fuel|petrol)\b"),
        Usual("the difference between two cylinders", 0.5, 30, r"\bvacuum\b"),
        Usual("a radiator cap", 50, 250, r"\b(radiator|coolant|cap)\b"),
        Usual("a motorcycle", 5, 3000),
    ),
    "length": (
        Usual("the gap of a spark plug", 0.3, 2, r"\b(spark|plugs?|electrodes?)\b.*\bgap|\bgap\b.*\bplug"),
        Usual("the clearance of a valve", 0.02, 0.8, r"\bvalves?\b|\btappets?\b|\b(inlet|intake|exhaust)\b.*clearance"),
        Usual("a tyre's tread", 0.5, 12, r"\btread\b"),
        Usual("a brake lining", 0.3, 15, r"\b(pads?|linings?|shoes?)\b"),
        Usual("a brake disc", 2, 12, r"\b(disc|disk|rotor)s?\b.*thick|thick.*\b(disc|disk|rotor)"),
        Usual("run-out", 0.005, 3, r"\brun.?out\b"),
        Usual("a drum or a bell", 60, 300, r"\b(drum|bell)\b"),
        Usual("the play of a lever or cable", 0.2, 60, r"\b(lever|cable|clutch|throttle|pedal)\b"),
        Usual("the slack of a chain or belt", 2, 120, r"\b(chain|belt)\b.*\b(slack|play|sag|deflection|tension)"),
        Usual("the length of a chain", 50, 2500, r"\bchain\b"),
        Usual("the oil level of a fork", 30, 350, r"\bfork\b.*\b(oil|level|gap)\b|\bair gap\b"),
        Usual("a motorcycle", 0.005, 3000),
    ),
    "voltage": (Usual("a motorcycle", 0.01, 100),),
    "current": (Usual("a motorcycle", 0.00001, 500),),
    "charge": (Usual("the battery of a motorcycle", 1.5, 60),),
    "angle": (Usual("an angle of turning on", 5, 720),),
    "rotation": (
        Usual("idling", 500, 2500, r"\bidl"),
        Usual("a motorcycle's engine", 100, 20_000),
    ),
    "temperature": (Usual("a motorcycle", -60, 400),),
    "torque": (Usual("a motorcycle", 0.5, 400),),
}  # fmt: skip
_FILLINGS: dict[str, Usual] = {  # by the family of the fluid, mL
    "engine oil": Usual("engine oil of a motorcycle", 300, 7000),
    "gear oil": Usual("gear oil of a motorcycle", 40, 2000),
    "fork oil": Usual("the oil of a fork", 80, 2500),
    "glycol brake fluid": Usual("brake fluid of a motorcycle", 5, 1500),
    "silicone brake fluid": Usual("brake fluid of a motorcycle", 5, 1500),
    "mineral clutch oil": Usual("the fluid of a clutch", 5, 500),
    "coolant": Usual("coolant of a motorcycle", 300, 8000),
    "two-stroke oil": Usual("two-stroke oil of a motorcycle", 5, 4000),
    "chain lubricant": Usual("chain lubricant", 1, 2000),
}
_ANY_VOLUME = Usual("a motorcycle", 1, 35_000)
_EVERY: dict[Quantity, Usual] = {
    "distance": Usual("an interval of service", 100, 200_000),
    "duration": Usual("an interval of service", 0.5, 240),
}


def usual_of(book: Book, name: str) -> Usual | None:
    """What is common for that figure; None where anything may be."""
    figure = book.figures[name]
    if figure.quantity == "volume":
        return _filling(book, name)
    if any(name in (job.every_distance, job.every_time) for job in book.jobs.values()):
        return _EVERY.get(figure.quantity)
    said = re.sub(r"[_\W]+", " ", f"{name} {figure.text}".casefold())
    rows = _BY_NAME.get(figure.quantity, ())
    return next((row for row in rows if re.search(row.called, said)), None)


def _filling(book: Book, name: str) -> Usual:
    families = {
        book.fluids[fluid].family
        for step in steps(book).values()
        for fluid, use in step.fluids.items()
        if use.figure == name
    }
    return _FILLINGS[families.pop()] if len(families) == 1 else _ANY_VOLUME
