"""Strokes of a syringe and stages of a fill."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from witnessmark.errors import WitnessError
from witnessmark.units import BOUNDS, show


class FluidError(WitnessError):
    """Volumes that cannot be worked with."""


@dataclass(frozen=True, slots=True)
class Strokes:
    """How often a syringe is filled: ``count`` strokes in all, each full but perhaps the last."""

    count: int
    each_ml: float
    last_ml: float

    @property
    def words(self) -> str:
        """For the card. Example: ``3 × 60 mL``; ``3 × 60 mL, then 20 mL``."""
        if self.count == 1:
            return show(self.last_ml, "volume")
        if self.last_ml == self.each_ml:
            return f"{self.count} × {show(self.each_ml, 'volume')}"
        return f"{self.count - 1} × {show(self.each_ml, 'volume')}, then {show(self.last_ml, 'volume')}"


@dataclass(frozen=True, slots=True)
class Stages:
    """A fill in two stages: most first; the engine runs; then to the mark with what was held back."""

    first_ml: float
    top_up_ml: float


def exact_ml(volume_ml: float, what: str) -> Fraction:
    """The volume as the decimal that was written. Raises FluidError where it is none."""
    if not (math.isfinite(volume_ml) and 0 < volume_ml <= BOUNDS["volume"].high):
        most = show(BOUNDS["volume"].high, "volume")
        raise FluidError(
            what, f"{volume_ml} mL is no volume", f"give more than 0 mL and at most {most}"
        )
    return Fraction(repr(float(volume_ml)))


def strokes(volume_ml: float, syringe_ml: float) -> Strokes:
    """Strokes of a syringe of ``syringe_ml`` that put in ``volume_ml``. Example: 180 by 60 is 3.

    Raises FluidError for volumes that are none.
    """
    volume, syringe = exact_ml(volume_ml, "volume"), exact_ml(syringe_ml, "syringe")
    count = math.ceil(volume / syringe)
    last = volume - (count - 1) * syringe
    return Strokes(count, float(min(volume, syringe)), float(last))


def stages(total_ml: float, hold_back_ml: float) -> Stages:
    """The two stages of a fill. Example: 4500 mL with 1000 mL held back is 3500, then 1000.

    Raises FluidError where nothing would be left for the first stage.
    """
    total, held = exact_ml(total_ml, "filling"), exact_ml(hold_back_ml, "hold_back")
    if held >= total:
        problem = f"{show(hold_back_ml, 'volume')} held back of {show(total_ml, 'volume')} leaves nothing to fill first"
        raise FluidError("hold_back", problem, "hold back less than the whole filling")
    return Stages(float(total - held), float(held))
