"""What is left inside after a drain, and what it does to the fresh fill; two-stroke mix; warmth.

All by volume; plain arithmetic where no source is named.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.fluids.volume import FluidError, exact_ml
from witnessmark.units import show

RATIOS = (10, 200)  # petrol to one of oil that anybody runs; judged by us
MOST_FILLS = 20  # judged by us: nobody flushes more often
# Volume coefficient of expansion of mineral oil per kelvin: 0.0006 (920 kg/m³) to 0.0008 (700 kg/m³),
# a hydraulics textbook; 0.0007 itself from memory, the middle of the two.
OIL_PER_KELVIN = 0.0007
OIL_PER_KELVIN_RANGE = (0.0006, 0.0008)  # the same
# Pressure rise of mineral oil shut in a full, stiff volume, bar per kelvin: a rule of thumb of fluid power
# (common practice, no source).
TRAPPED_BAR_PER_KELVIN = 11.0


def stays_inside(whole_ml: float, came_out_ml: float) -> float:
    """What a drain left inside. Raises FluidError where more came out than there ever was."""
    whole, out = exact_ml(whole_ml, "whole"), exact_ml(came_out_ml, "came_out")
    if out > whole:
        problem = f"{show(came_out_ml, 'volume')} came out of {show(whole_ml, 'volume')}"
        raise FluidError(
            "came_out", problem, "it was overfilled, or something else is in it: find out what"
        )
    return float(whole - out)


def old_share(stays_ml: float, whole_ml: float, fills: int = 1) -> float:
    """The share (0 to 1) that is still old after so many drains and fills: (stays ÷ whole) ** fills."""
    _fills(fills)
    if stays_ml and exact_ml(stays_ml, "stays") >= exact_ml(whole_ml, "whole"):
        problem = f"{show(stays_ml, 'volume')} stays of {show(whole_ml, 'volume')}: nothing would come out"
        raise FluidError("stays", problem, "give less than the whole")
    return (stays_ml / whole_ml) ** fills


def fills_until(stays_ml: float, whole_ml: float, at_most: float) -> int:
    """How many drains and fills until at most that share (0 to 1) is old.

    Raises FluidError where `MOST_FILLS` do not do it: take the circuit apart and flush it.
    """
    for fills in range(1, MOST_FILLS + 1):
        if old_share(stays_ml, whole_ml, fills) <= at_most:
            return fills
    problem = f"{MOST_FILLS} fills do not bring the old share under {at_most:.1%}"
    raise FluidError("stays", problem, "flush it open, so that less stays inside")


@dataclass(frozen=True, slots=True)
class Fuel:
    """Oil for a tank of petrol: the volume of oil, and how the ratio is written."""

    oil_ml: float
    ratio: float

    @property
    def words(self) -> str:
        """Example: ``100 mL (1 : 50, 2 % of the petrol)``."""
        return f"{show(self.oil_ml, 'volume')} (1 : {self.ratio:g}, {100 / self.ratio:.3g} % of the petrol)"


def two_stroke(petrol_ml: float, ratio: float) -> Fuel:
    """Oil to a volume of petrol, at one part of oil to `ratio` parts of petrol.

    Raises FluidError for a ratio nobody runs: the maker's manual says it.
    """
    low, high = RATIOS
    if not low <= ratio <= high:
        problem = f"one part of oil to {ratio:g} of petrol"
        raise FluidError(
            "ratio", problem, "give the parts of petrol to one of oil: 25 to 100 are usual"
        )
    return Fuel(float(exact_ml(petrol_ml, "petrol")) / ratio, ratio)


def two_stroke_correction(
    tank_ml: float, ratio_in: float, ratio_wanted: float
) -> tuple[float, float]:
    """(oil, petrol) in mL to add to a mix in the tank, so that it is of the ratio wanted.

    Petrol where it is too fat, oil where it is too lean; one of the two is 0.
    """
    for ratio in (ratio_in, ratio_wanted):
        two_stroke(1.0, ratio)
    tank = float(exact_ml(tank_ml, "tank"))
    oil = tank / (ratio_in + 1)
    petrol = tank - oil
    return max(0.0, petrol / ratio_wanted - oil), max(0.0, oil * ratio_wanted - petrol)


def expansion_ml(volume_ml: float, warmer_by_k: float, per_kelvin: float = OIL_PER_KELVIN) -> float:
    """By how much a fluid grows when it warms (negative: shrinks when it cools)."""
    exact_ml(volume_ml, "volume")
    if not (math.isfinite(warmer_by_k) and abs(warmer_by_k) <= 300):
        raise FluidError(
            "warmer", f"{warmer_by_k:g} K", "give how many degrees warmer, at most 300"
        )
    return volume_ml * per_kelvin * warmer_by_k


def trapped_rise_bar(warmer_by_k: float) -> float:
    """Pressure rise of oil shut in without room. A reservoir filled to the brim can bind a brake."""
    expansion_ml(1.0, warmer_by_k)
    return TRAPPED_BAR_PER_KELVIN * warmer_by_k


def _fills(fills: int) -> None:
    if not 1 <= fills <= MOST_FILLS:
        raise FluidError("fills", f"{fills} fills", f"give 1 to {MOST_FILLS}")
