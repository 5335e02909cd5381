"""Coolant of glycol and water: where it begins to freeze, and what to drain and refill to get there.

Plain glycol in water. A ready coolant's own label comes first: its additives shift the curve a
little, and its share of glycol is not printed on every bottle. A refractometer measures it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from witnessmark.facts import Curve, on_bent_curve
from witnessmark.fluids.volume import FluidError, exact_ml
from witnessmark.units import show

Glycol = Literal["ethylene glycol", "propylene glycol"]
MOST_PERCENT = 60.0  # by volume: where the ASHRAE tables kept here end

# Percent by volume, and where the first ice forms in °C.
# ASHRAE Handbook, Fundamentals: properties of aqueous glycols. From memory; the last point of
# ethylene glycol from CoolProp 8.0.0 (fluid AEG, which fits the same tables).
_ASHRAE: dict[Glycol, Curve] = {
    "ethylene glycol": (
        (0, 0.0), (4.4, -1.4), (8.9, -3.2), (13.6, -5.4), (18.1, -7.8), (22.9, -10.7), (27.7, -14.1),
        (32.6, -17.9), (37.5, -22.3), (42.5, -27.5), (47.6, -33.8), (52.7, -41.1), (57.8, -48.3), (60, -52.0),
    ),
    "propylene glycol": (
        (0, 0.0), (4.8, -1.6), (9.6, -3.3), (14.5, -5.1), (19.4, -7.1), (24.4, -9.6), (29.4, -12.7),
        (34.4, -16.4), (39.6, -21.1), (44.7, -26.7), (49.9, -33.5), (55.0, -41.6), (60.0, -51.1),
    ),
}  # fmt: skip
# Lange's Handbook of Chemistry, table 5.13. It was printed in whole degrees Fahrenheit.
_LANGE: dict[Glycol, Curve] = {
    "propylene glycol": (
        (0, 0.0), (5, -1.1), (10, -2.2), (15, -3.9), (20, -6.7), (25, -8.9), (30, -12.8), (35, -16.1),
        (40, -20.6), (50, -33.3),
    ),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class FreezePoint:
    """Where the first ice forms, by each handbook that says it; count on the warmest."""

    by: tuple[tuple[str, float], ...]  # handbook, °C

    @property
    def celsius(self) -> float:
        """The warmest: what to count on."""
        return max(value for _, value in self.by)

    @property
    def words(self) -> str:
        """Example: ``−20.6 °C by Lange's Handbook, −21.5 °C by the ASHRAE Handbook``."""
        return ", ".join(
            f"{show(round(value, 1), 'temperature')} by {book}" for book, value in self.by
        )


def freeze_point(glycol: Glycol, percent: float) -> FreezePoint:
    """The freeze point of so many percent of glycol by volume, the rest water.

    Raises FluidError below 0 and above `MOST_PERCENT`, where no table is kept.
    """
    _percent(percent, "percent")
    found = [("the ASHRAE Handbook", on_bent_curve(_ASHRAE[glycol], percent))]
    lange = _LANGE.get(glycol, ())
    if lange and percent <= lange[-1][0]:
        found.insert(0, ("Lange's Handbook", on_bent_curve(lange, percent)))
    return FreezePoint(tuple(found))


def percent_for(glycol: Glycol, celsius: float) -> float:
    """The least percent by volume that freezes no warmer than that.

    Raises FluidError where no mix does.
    """
    coldest = freeze_point(glycol, MOST_PERCENT).celsius
    if not coldest <= celsius <= 0:
        problem = f"no mix of {glycol} is good for {celsius:g} °C"
        raise FluidError("freeze_point", problem, f"ask for 0 to {coldest:g} °C")
    low, high = 0.0, MOST_PERCENT
    for _ in range(60):  # the warmest of the curves falls all the way: halve
        middle = (low + high) / 2
        low, high = (
            (middle, high) if freeze_point(glycol, middle).celsius > celsius else (low, middle)
        )
    return high


@dataclass(frozen=True, slots=True)
class Refill:
    """Drain so much of the mix and fill as much concentrate: the whole is then at the percent wanted."""

    drain_ml: float
    concentrate_ml: float
    percent: float


def refill(
    whole_ml: float, now_percent: float, wanted_percent: float, concentrate_percent: float = 100.0
) -> Refill:
    """How much mix to drain, and concentrate to fill in its place: V (wanted − now) ÷ (concentrate − now).

    Raises FluidError where that concentrate cannot get there, or the mix is strong enough (drain
    some and fill distilled water then: `concentrate_percent` 0).
    """
    whole = float(exact_ml(whole_ml, "whole"))
    _percent(wanted_percent, "wanted")
    for name, value in (("now", now_percent), ("concentrate", concentrate_percent)):
        if not 0 <= value <= 100:
            raise FluidError(name, f"{value:g} %", "give 0 to 100 % by volume")
    if now_percent == wanted_percent:
        return Refill(0.0, 0.0, wanted_percent)
    low, high = sorted((now_percent, concentrate_percent))
    if not low <= wanted_percent <= high or concentrate_percent == now_percent:
        problem = f"{concentrate_percent:g} % poured into {now_percent:g} % never gives {wanted_percent:.4g} %"
        expected = "fill water to make it weaker, concentrate to make it stronger"
        raise FluidError("concentrate", problem, expected)
    drained = whole * (wanted_percent - now_percent) / (concentrate_percent - now_percent)
    return Refill(drained, drained, wanted_percent)


def _percent(percent: float, place: str) -> None:
    if percent > MOST_PERCENT:
        problem = f"the tables kept here end at {MOST_PERCENT:g} %, and {percent:g} % is more"
        raise FluidError(place, problem, "its maker says what it is good for, or measure it")
    if not percent >= 0:
        raise FluidError(place, f"{percent:g} %", f"give 0 to {MOST_PERCENT:g} % by volume")
