"""Whether what was read can be believed: more than a new one has, or far past its limits, is asked for again.

The bounds are our own judgement of motorcycles, without a source. They ask, and never refuse.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from witnessmark.book.model import Reading
from witnessmark.facts.verdict import FAR
from witnessmark.units import Quantity, show


@dataclass(frozen=True)
class _New:
    """What a new one has at most, in the base unit, by a pattern in the id or the text of the reading."""

    what: str
    most: float
    called: str


_NEW: dict[Quantity, tuple[_New, ...]] = {
    "length": (
        _New("the lining of a new brake pad or shoe", 7, r"\b(pads?|linings?|shoes?)\b"),
        _New("the tread of a new road tyre", 12, r"\btread\b"),
        _New("a new brake disc", 9, r"\b(disc|disk|rotor)s?\b"),
        _New("a clearance", 1, r"\bclearance\b"),
        _New("the slack of a chain or belt", 120, r"\b(chain|belt)\b.*\bslack\b"),
        _New("the play of a lever or cable", 60, r"\bplay\b"),
    ),
    "voltage": (_New("the battery of a motorcycle at rest", 16, r"\bbattery\b"),),
}
_MAY_BE_BELOW_ZERO: tuple[Quantity, ...] = ("temperature", "angle")


def doubt(name: str, reading: Reading, value: float, low: float | None, high: float | None) -> str:
    """What is hard to believe of a value (base unit) read; empty where nothing is.

    ``low`` and ``high``: the limits of the reading, as far as they are known.
    Example: "the lining of a new brake pad or shoe is 7 mm at most".
    """
    said = re.sub(r"[_\W]+", " ", f"{name} {reading.text}".casefold())
    rows = _NEW.get(reading.quantity, ())
    new = next((row for row in rows if re.search(row.called, said)), None)
    if new is not None and value > new.most:
        return f"{new.what} is {_show(new.most, reading)} at most"
    if value <= 0 and reading.quantity not in _MAY_BE_BELOW_ZERO:
        return "that is nothing at all"
    for limit, how in ((high, "most"), (low, "least")):
        if limit is not None and limit > 0 and value > FAR * limit:
            return f"that is {value / limit:.0f} times the {how}, {_show(limit, reading)}"
    if low is not None and low > 0 and value < low / FAR:
        return f"that is less than a {_ORDINAL} of the least, {_show(low, reading)}"
    return ""


_ORDINAL = f"{FAR:.0f}th"


def _show(value: float, reading: Reading) -> str:
    return show(value, reading.quantity, unit=reading.unit or None)
