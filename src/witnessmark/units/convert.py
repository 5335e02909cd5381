"""Exact conversion to and from the base unit. The one place where pint is asked.

pint takes a newton metre for a joule; the *kind* of a quantity is therefore checked by the table
of units, and pint only ever gives the factor between two units of one kind. Factors are exact
fractions: what the standard defines exactly (1 in = 25.4 mm, 1 lbf = 4.4482216152605 N, NIST
SP 811 App. B.8) stays exact until the last step.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from typing import Any

from witnessmark.units.table import BASE, Quantity, Unit, named


@cache
def _registry() -> Any:
    import pint  # noqa: PLC0415  half a second to import: only those who convert wait for it

    return pint.UnitRegistry(non_int_type=Fraction)


@cache
def _line(expression: str, base: str) -> tuple[Fraction, Fraction]:
    """Scale and offset: value in base = scale × value + offset."""
    quantity = _registry().Quantity
    at_0, at_1 = (Fraction(quantity(Fraction(n), expression).to(base).magnitude) for n in (0, 1))
    return at_1 - at_0, at_0


def _line_of(unit: Unit, quantity: Quantity) -> tuple[Fraction, Fraction]:
    base = named(BASE[quantity], quantity)
    if unit.name == base.name:
        return Fraction(1), Fraction(0)
    return _line(unit.expression, base.expression)


def to_base(value: Fraction, unit: Unit, quantity: Quantity) -> Fraction:
    """The value in the quantity's base unit. ZeroDivisionError for nothing in a unit that is inverse."""
    scale, offset = _line_of(unit, quantity)
    return (1 / value if unit.inverse else value) * scale + offset


def from_base(value: Fraction, unit: Unit, quantity: Quantity) -> Fraction:
    """A value in the base unit, in that unit. ZeroDivisionError as above."""
    scale, offset = _line_of(unit, quantity)
    line = (value - offset) / scale
    return 1 / line if unit.inverse else line
