"""Which slip of the pen would explain a value that cannot be: the decimal point, or the unit. Never a number."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from witnessmark.units.read import Amount
from witnessmark.units.show import convert
from witnessmark.units.table import BASE, UNITS, named

MOST = 3
_PLACES = {1: "one place", 2: "two places", 3: "three places"}
# What nobody mixes up in a manual, or what says the same size twice.
_RARE = frozenset(
    {"N·cm", "daN·m", "kgf·cm", "cL", "thou", "µm", "cm", "ft", "mbar", "mmHg", "cmHg", "inHg"}
)


def slips(amount: Amount, fits: Callable[[float], bool]) -> tuple[str, ...]:
    """The slips after which the value (base unit) would fit, the likeliest first; at most three.

    Example: ``("with the decimal point one place further left", "in lbf·in")``.
    """
    if amount.quantity == "words" or not amount.value:
        return ()
    found = [_place(power) for power in (-1, 1) if fits(amount.value * 10.0**power)]
    found += [f"in {unit}" for unit in _units(amount) if fits(_as(amount, unit))]
    found += [_place(power) for power in (-2, 2, -3, 3) if fits(amount.value * 10.0**power)]
    return tuple(found[:MOST])


def unit_written(amount: Amount) -> str:
    """The unit, by its name in the table, in which the amount was understood."""
    names = sorted(UNITS[amount.quantity], key=len, reverse=True)
    written = amount.understood.rstrip()
    return next((n for n in names if n and written.endswith(n)), BASE[amount.quantity])


def _units(amount: Amount) -> list[str]:
    own = unit_written(amount)
    return [unit for unit in UNITS[amount.quantity] if unit != own and unit not in _RARE]


def _as(amount: Amount, unit: str) -> float:
    """The number that was written, had it stood in another unit; in the base unit."""
    number = convert(amount.value, amount.quantity, unit_written(amount))
    return float(named(unit, amount.quantity).to_base(Fraction(number)))


def _place(power: int) -> str:
    side = "left" if power < 0 else "right"
    return f"with the decimal point {_PLACES[abs(power)]} further {side}"
