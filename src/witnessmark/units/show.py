"""Show a quantity in the unit that the tool in hand reads."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from fractions import Fraction
from typing import get_args

from witnessmark.errors import WitnessError
from witnessmark.units.table import BASE, UNITS, Quantity, System, Unit, find

DIGITS = 3  # a converted value is shown to three significant digits: within half a percent
_EXACT_DIGITS = 6  # a value that needs no more than these is shown as it is
_THIN = "\u202f"  # narrow no-break space between thousands (ISO 80000-1)

_SYSTEMS: tuple[System, ...] = get_args(System)
_USUAL: dict[System, dict[Quantity, str]] = {
    "metric": {"pressure": "bar"},
    "us": {"torque": "lbf·ft", "volume": "US qt", "length": "in", "pressure": "psi",
           "distance": "mi", "temperature": "°F", "mass": "oz",
           "speed": "mph", "power": "hp (mechanical)", "consumption": "US mpg"},
    "imperial": {"torque": "lbf·ft", "volume": "imp pt", "length": "in", "pressure": "psi",
                 "distance": "mi", "mass": "oz", "speed": "mph", "power": "hp (mechanical)", "consumption": "imp mpg"},
}  # fmt: skip
# Below (or from) this value in the base unit another unit reads better.
_SMALL: dict[tuple[System, Quantity], tuple[float, str]] = {
    **{(system, "current"): (1.0, "mA") for system in _SYSTEMS},
    ("us", "torque"): (13.6, "lbf·in"),  # about 10 lbf·ft
    ("imperial", "torque"): (13.6, "lbf·in"),
    ("us", "volume"): (473.0, "US fl oz"),  # a pint
    ("imperial", "volume"): (284.0, "imp fl oz"),  # half a pint
}
_LARGE: dict[tuple[System, Quantity], tuple[float, str]] = {
    **{(system, "resistance"): (1_000.0, "kΩ") for system in _SYSTEMS},
    **{(system, "force"): (1_000.0, "kN") for system in _SYSTEMS},
    ("metric", "volume"): (1_000.0, "L"),
    ("metric", "mass"): (1_000.0, "kg"),
    ("us", "mass"): (453.5, "lb"),
    ("imperial", "mass"): (453.5, "lb"),
}


_system: ContextVar[System] = ContextVar("system", default="metric")


@contextmanager
def shown_in(system: System) -> Iterator[None]:
    """Within it, what names no unit and no system is shown in the usual units of this one."""
    token = _system.set(system)
    try:
        yield
    finally:
        _system.reset(token)


class ShowError(WitnessError):
    """A value or unit that cannot be shown: a fault of the caller, not of what was typed."""


def show(
    value: float,
    quantity: Quantity,
    system: System | None = None,
    unit: str | None = None,
    step: float | None = None,
) -> str:
    """A value (in the base unit) with its unit, for people. Example: ``60 N·m``, ``44.3 lbf·ft``.

    ``unit`` is the unit of the tool in hand (`UNITS`), else the usual one of ``system`` (`shown_in`). ``step``
    is what the tool's scale resolves, in the shown unit: the value is rounded to it, half-up.
    Without it, distances are whole and other values have three significant digits, unless a few
    digits give them exactly. Raises ShowError for words, a unit of another kind, NaN or infinity.
    """
    chosen = _chosen(value, quantity, system, unit)
    exact = chosen.from_base(_fraction(value))
    if step is not None:
        return written(_to_step(exact, step), chosen, _decimals_of(step))
    return written(exact, chosen, _decimals(exact, chosen))


def convert(value: float, quantity: Quantity, unit: str) -> float:
    """A value in the base unit, in another unit of the same kind. Example: 60 N·m is 44.25… lbf·ft."""
    return float(_chosen(value, quantity, "metric", unit).from_base(_fraction(value)))


def exact(value: float, quantity: Quantity, unit: str) -> str:
    """A value (in the base unit) in another unit, to ten significant digits at most, for people."""
    chosen = _chosen(value, quantity, "metric", unit)
    converted = chosen.from_base(_fraction(value))
    size = math.floor(math.log10(abs(converted))) if converted else 0
    return written(converted, chosen, max(0, min(15, 9 - size)))


def on_scale(value: float, quantity: Quantity, unit: str, step: float) -> float:
    """The value (in the base unit) that a scale in ``unit`` shows nearest to it, in the base unit."""
    chosen = _chosen(value, quantity, "metric", unit)
    set_to = _to_step(chosen.from_base(_fraction(value)), step)
    if chosen.inverse and not set_to:
        raise ShowError(
            "step", f"a step of {step:g} {unit} is coarser than the value", "give a finer step"
        )
    return float(chosen.to_base(set_to))


def usual_unit(value: float, quantity: Quantity, system: System | None = None) -> str:
    """The name of the unit in which a value is usually shown; without a system in that of `shown_in`."""
    system = system or _system.get()
    small, large = _SMALL.get((system, quantity)), _LARGE.get((system, quantity))
    if small and abs(value) < small[0]:
        return small[1]
    if large and abs(value) >= large[0]:
        return large[1]
    if quantity == "duration" and value % 0.5 > 0:
        return "days"  # 90 days are no number of months
    return _USUAL[system].get(quantity, BASE[quantity])


def _chosen(value: float, quantity: Quantity, system: System | None, unit: str | None) -> Unit:
    if quantity == "words" or not math.isfinite(value):
        raise ShowError(quantity, f"{value} is no number to show", "give a number")
    if unit is None:
        unit = usual_unit(value, quantity, system)
    found = find(unit, quantity)
    if found is None:
        units = ", ".join(UNITS[quantity])
        raise ShowError(quantity, f"“{unit}” is no unit of {quantity}", f"give one of {units}")
    if found.inverse and not value:
        raise ShowError(quantity, f"nothing used has no {unit}", "give a value above 0")
    return found


def _fraction(value: float) -> Fraction:
    return Fraction(repr(float(value)))  # the shortest decimal that is this float: 0.1 is a tenth


def _to_step(value: Fraction, step: float) -> Fraction:
    width = _fraction(step) if math.isfinite(step) else Fraction(0)
    if width <= 0:
        raise ShowError("step", f"{step} is no step", "give a step above 0")
    return width * _half_up(value / width)


def _half_up(value: Fraction) -> int:
    whole = math.floor(abs(value) + Fraction(1, 2))
    return whole if value >= 0 else -whole


def _decimals_of(step: float) -> int:
    denominator = _fraction(step).denominator
    return next((n for n in range(7) if 10**n % denominator == 0), 6)


def _decimals(value: Fraction, unit: Unit) -> int:
    """Decimals to show: all of a short value, else three significant digits."""
    exact = next((n for n in range(unit.finest + 1) if (value * 10**n).denominator == 1), None)
    if exact is not None and abs(value) * 10**exact < 10**_EXACT_DIGITS:
        return exact
    size = math.floor(math.log10(abs(value))) if value else 0
    return max(0, min(unit.finest, DIGITS - 1 - size))


def written(value: Fraction, unit: Unit, decimals: int) -> str:
    """A number with its unit, at most that many decimals, none of them an idle zero."""
    scaled = _half_up(value * 10**decimals)
    whole, part = divmod(abs(scaled), 10**decimals)
    digits = f"{whole:,}".replace(",", _THIN) if whole >= 10_000 else str(whole)
    if part:
        digits += "." + f"{part:0{decimals}d}".rstrip("0")
    sign = "−" if scaled < 0 else ""
    name = unit.one if unit.one and digits == "1" else unit.name
    gap = "" if name in ("", "°") else " "
    return f"{sign}{digits}{gap}{name}"
