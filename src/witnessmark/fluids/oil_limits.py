"""What a motorcycle oil must keep after JASO T903:2016, Annex A: shear stability, evaporation, phosphorus."""

from __future__ import annotations

from witnessmark.fluids.grades import Grade
from witnessmark.fluids.volume import FluidError

LEAST_HTHS = 2.9  # mPa·s at 150 °C; JASO T903:2016
SHEARED_LEAST = {
    "30": 9.0,
    "40": 12.0,
    "50": 15.0,
}  # mm²/s at 100 °C after the shear test; JASO T903:2016
MOST_EVAPORATION = 20.0  # percent by NOACK; JASO T903:2016; 15 in the 2023 edition
PHOSPHORUS = (0.08, 0.12)  # percent by mass; JASO T903:2016; upper limit 0.10 in the 2023 edition


def worn_out(grade: Grade, viscosity_100: float) -> bool:
    """Whether a used oil, by its mm²/s at 100 °C, is thinner than its grade may get by shearing.

    Raises FluidError for a grade the standard sets no limit for.
    """
    least = SHEARED_LEAST.get(grade.warm)
    if least is None:
        problem = f"JASO T903 sets no limit for {grade.words}"
        raise FluidError("grade", problem, "give a grade ending in 30, 40 or 50")
    return viscosity_100 < least
