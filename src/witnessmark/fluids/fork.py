"""Fork oil by air gap: how the level moves with the oil, and which wins when both are given."""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.fluids.volume import FluidError
from witnessmark.units import show

GAPS_MM = (10, 600)  # judged by us
BORES_MM = (15.0, 80.0)  # inside diameters a fork tube can have; judged by us


def ml_per_mm(bore_mm: float, rod_mm: float = 0.0) -> float:
    """Oil per millimetre of gap in one leg: π ÷ 4 × (bore² − rod²), in mL. Plain geometry.

    ``bore_mm``: inside of the tube at the level; ``rod_mm``: what stands in it there.
    Raises FluidError for sizes no fork has.
    """
    least, most = BORES_MM
    if not least <= bore_mm <= most:
        problem = (
            f"{show(bore_mm, 'length') if math.isfinite(bore_mm) else bore_mm} is no bore of a fork"
        )
        raise FluidError("bore", problem, f"give the inside of the tube, {least:g} to {most:g} mm")
    if not 0 <= rod_mm < bore_mm:
        raise FluidError(
            "rod", f"{rod_mm:g} mm does not go into {bore_mm:g} mm", "give the rod's outside"
        )
    return math.pi / 4 * (bore_mm**2 - rod_mm**2) / 1000


@dataclass(frozen=True, slots=True)
class GapChange:
    """What to do in one leg: mL to add (negative: to draw off), and the gap measured and wanted."""

    add_ml: float
    ml_per_mm: float

    @property
    def words(self) -> str:
        """Example: ``draw off 10.7 mL``."""
        if abs(self.add_ml) < 0.05:
            return "leave it"
        verb = "add" if self.add_ml > 0 else "draw off"
        return f"{verb} {show(abs(round(self.add_ml, 1)), 'volume')}"


def set_gap(measured_mm: float, wanted_mm: float, bore_mm: float, rod_mm: float = 0.0) -> GapChange:
    """What to add or draw off in one leg so that the gap is as wanted: more oil makes it smaller."""
    for name, gap in (("measured", measured_mm), ("wanted", wanted_mm)):
        if not GAPS_MM[0] <= gap <= GAPS_MM[1]:
            raise FluidError(name, f"{gap:g} mm is no air gap of a fork", "give 10 to 600 mm")
    each = ml_per_mm(bore_mm, rod_mm)
    return GapChange((measured_mm - wanted_mm) * each, each)
