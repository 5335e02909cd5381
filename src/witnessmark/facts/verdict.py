"""A reading held against its limits, with what the instrument can tell apart, in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from witnessmark import units
from witnessmark.units import Quantity

Stand = Literal["within limits", "at the limit", "below the limit", "above the limit", "no limit"]
Side = Literal["low", "high"]

FAR = 9.0  # so many times a least, the decimal point is looked at again; judged by us
_SAME = 1e-9  # two floats that were written alike; for the program


@dataclass(frozen=True, slots=True)
class Limit:
    """A least or a most, in the base unit, and what says so: a manual, or a standard by its name."""

    value: float
    source: str = ""


@dataclass(frozen=True, slots=True)
class Verdict:
    """How a reading stands to its limits.

    ``side`` and ``limit`` name the limit that decides; None where it is within both, or none is
    known. ``beyond`` tells that the value as read lies past that limit, be it by less than the
    instrument tells apart. ``words`` say it whole, ``short`` without the reading.
    """

    stand: Stand
    side: Side | None
    limit: Limit | None
    beyond: bool
    short: str
    words: str


def judge(
    value: float,
    quantity: Quantity,
    *,
    low: Limit | None = None,
    high: Limit | None = None,
    resolution: float = 0.0,
    unit: str = "",
) -> Verdict:
    """Hold a value (base unit) against its limits; ``resolution`` is what the instrument tells apart, with its error.

    A value no further from a limit than the resolution is *at the limit*: neither side is proven
    (common practice, no source: one division of the scale either way). ``unit`` is the one to say
    it in. Example: "1.6 mm measured with ±0.1 mm: at the limit of 1.6 mm (manual, p. 12)".
    """
    stand, side = _stand(value, low, high, abs(resolution))
    limit = {"low": low, "high": high, None: None}[side]
    beyond = limit is not None and _past(value, side, limit) > _same(value)
    short = _short(stand, limit, quantity, unit)
    if beyond and stand == "at the limit":
        short += ", on its wrong side by no more than the instrument tells apart"
    if stand == "at the limit" and low and high and high.value - low.value < 2 * abs(resolution):
        short += "; from limit to limit it is hardly more: a finer instrument tells"
    read = _said(value, quantity, unit)
    how = f" measured with ±{_difference(resolution, quantity, unit)}" if resolution else ""
    slip = _slip(value, stand, low, high)
    return Verdict(stand, side, limit, beyond, short, f"{read}{how}: {short}{slip}")


def _slip(value: float, stand: Stand, low: Limit | None, high: Limit | None) -> str:
    """A word on a value that no most stops: 124 V is within a least of 12.5 V, and hardly meant."""
    if stand != "within limits" or low is None or high is not None or low.value <= 0:
        return ""
    times = value / low.value
    return f", but {times:.0f} times the least: look at the decimal point" if times >= FAR else ""


def _stand(
    value: float, low: Limit | None, high: Limit | None, resolution: float
) -> tuple[Stand, Side | None]:
    if low is None and high is None:
        return "no limit", None
    near = max(resolution, 0.0) + _same(value)
    if low is not None and value < low.value - near:
        return "below the limit", "low"
    if high is not None and value > high.value + near:
        return "above the limit", "high"
    ends: list[tuple[float, Side]] = []
    ends += [(abs(value - low.value), "low")] if low is not None else []
    ends += [(abs(value - high.value), "high")] if high is not None else []
    distance, side = min(ends)
    return ("at the limit", side) if distance <= near else ("within limits", None)


def _past(value: float, side: Side | None, limit: Limit) -> float:
    return limit.value - value if side == "low" else value - limit.value


def _same(value: float) -> float:
    return _SAME * max(1.0, abs(value))


def _short(stand: Stand, limit: Limit | None, quantity: Quantity, unit: str) -> str:
    if stand == "no limit":
        return "no limit is known"
    if limit is None:
        return stand
    source = f" ({limit.source})" if limit.source else ""
    return f"{stand} of {_said(limit.value, quantity, unit)}{source}"


def _said(value: float, quantity: Quantity, unit: str) -> str:
    return units.show(value, quantity, unit=unit or None)


def _difference(size: float, quantity: Quantity, unit: str) -> str:
    """What an instrument tells apart; of a temperature a difference, which has no offset."""
    zero = units.convert(0, quantity, unit) if unit and quantity == "temperature" else 0.0
    if not zero:
        return _said(size, quantity, unit)
    return f"{units.convert(size, quantity, unit) - zero:g} {unit}"
