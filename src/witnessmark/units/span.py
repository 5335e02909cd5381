"""A figure from one value to another: 45–55 N·m, 45 to 55 N·m, 50 ± 5 N·m."""

from __future__ import annotations

import re
from dataclasses import dataclass

from witnessmark.units import numerals
from witnessmark.units.read import Amount, QuantityError, read, read_number, with_unit
from witnessmark.units.show import show
from witnessmark.units.slips import unit_written
from witnessmark.units.table import Quantity

_FROM_TO = re.compile(
    r"(?:(?:from|between) )?(?P<low>[\d.,].*?) ?(?:[-—~]|\.\.\.?|\bto\b|\bbis\b|\band\b) ?(?P<high>[\d.,].*)",
    re.IGNORECASE,
)
_EITHER_SIDE = re.compile(r"(?P<middle>[\d.,].*?) ?(?:±|\+ ?/ ?-|\+-) ?(?P<off>[\d.,].*)")


@dataclass(frozen=True)
class Span(Amount):
    """From ``low`` to ``high``; as an amount it is its middle, which is what to set."""

    low: Amount
    high: Amount

    @property
    def middle(self) -> str:
        """What to set, in the unit that was written."""
        return show(self.value, self.quantity, unit=unit_written(self.high))


def ends(amount: Amount) -> tuple[Amount, ...]:
    """Both ends of a span, the lower first; else the one value."""
    return (amount.low, amount.high) if isinstance(amount, Span) else (amount,)


def read_span(text: str, quantity: Quantity, *, unit: str = "", place: str = "") -> Amount:
    """Read one value or a `Span`, in ``unit`` where none is written. Raises QuantityError."""
    place = place or quantity
    plain = numerals.plain_text(text)
    try:
        return read(with_unit(text, unit), quantity, place=place)
    except QuantityError:
        if found := _EITHER_SIDE.fullmatch(plain):
            low, high = _around(found["middle"], found["off"], quantity, unit, place)
        elif found := _FROM_TO.fullmatch(plain):
            low, high = _ends(found["low"], found["high"], quantity, unit, place)
        else:
            raise
    if low.value >= high.value:
        problem = f"{low.understood} to {high.understood} is no range"
        raise QuantityError(place, problem, "write the smaller value first, then the larger")
    written = unit_written(high)
    understood = f"{low.understood.removesuffix(written).strip()} to {high.understood}"
    return Span((low.value + high.value) / 2, high.unit, text, quantity, understood, low, high)


def _ends(low: str, high: str, quantity: Quantity, unit: str, place: str) -> tuple[Amount, Amount]:
    """Both ends; the unit stands behind the second, the first, or both."""
    if with_unit(high, "?") != high:
        first = read(with_unit(low, unit), quantity, place=place)
        return first, read(with_unit(high, unit_written(first)), quantity, place=place)
    second = read(high, quantity, place=place)
    return read(with_unit(low, unit_written(second)), quantity, place=place), second


def _around(
    middle: str, off: str, quantity: Quantity, unit: str, place: str
) -> tuple[Amount, Amount]:
    """A value with what it may be off either side: in its unit, or in per cent."""
    if off.endswith("%"):
        value = read(with_unit(middle, unit), quantity, place=place)
        size = value.value * read_number(off, unit="%", place=place) / 100
    else:
        value, other = _ends(middle, off, quantity, unit, place)
        size = other.value
    written = unit_written(value)

    def end(at: float) -> Amount:
        return read(show(at, quantity, unit=written), quantity, place=place)

    return end(value.value - size), end(value.value + size)
