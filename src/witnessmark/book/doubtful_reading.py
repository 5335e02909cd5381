"""Whether what was read can be believed: more than a new one has, or far past its limits, is asked for again.

The bounds are our own judgement of motorcycles, without a source. They ask, and never refuse.
"""

from __future__ import annotations

import re

from witnessmark.book.model import Reading
from witnessmark.facts import belief
from witnessmark.facts.verdict import FAR
from witnessmark.units import Quantity, show

# By a pattern in the id or the text of the reading.
_NEW: dict[Quantity, tuple[tuple[str, belief.New], ...]] = {
    "length": (
        (r"\b(pads?|linings?|shoes?)\b", belief.LINING),
        (r"\btread\b", belief.TREAD),
        (r"\b(disc|disk|rotor)s?\b", belief.DISC),
        (r"\bclearance\b", belief.CLEARANCE),
        (r"\b(chain|belt)\b.*\bslack\b", belief.SLACK),
        (r"\bplay\b", belief.PLAY),
    ),
    "voltage": ((r"\bbattery\b", belief.BATTERY),),
}
_MAY_BE_BELOW_ZERO: tuple[Quantity, ...] = ("temperature", "angle")


def doubt(name: str, reading: Reading, value: float, low: float | None, high: float | None) -> str:
    """What is hard to believe of a value (base unit) read; empty where nothing is.

    ``low`` and ``high``: the limits of the reading, as far as they are known.
    Example: "the lining of a new brake pad or shoe is 7 mm at most".
    """
    said = re.sub(r"[_\W]+", " ", f"{name} {reading.text}".casefold())
    rows = _NEW.get(reading.quantity, ())
    new = next((new for called, new in rows if re.search(called, said)), None)
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
