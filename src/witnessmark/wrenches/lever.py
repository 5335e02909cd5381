"""A torque from a weight on a lever: how a tool is checked without a tester.

The square is held fast, the lever lies level, the weight hangs still from it. Torque = mass × g × arm, and the lever
(often the wrench itself) adds the moment of its own weight.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.wrenches.adapters import MOST_MM
from witnessmark.wrenches.tool import WrenchError, refuse_no_torque

GRAVITY = 9.80665  # m/s², standard acceleration of free fall, 3rd CGPM 1901
GRAVITY_ERROR = 0.003  # share: at sea level it lies between 9.780 (equator) and 9.832 (pole), WGS 84; from memory
LEVEL_DEG = 3.0  # how far from level a lever held by eye may lie (judged by us)
CAUTION = (
    "A hanging weight falls when something slips: keep feet and hands from under it, hold the square in a firm vice, "
    "lower the weight gently, never let it swing."
)


@dataclass(frozen=True, slots=True)
class Lever:
    """A lever and its own weight: `own_g` acts at `own_arm_mm` from the square. `tilt_deg` from level."""

    arm_mm: float
    own_g: float = 0.0
    own_arm_mm: float = 0.0
    tilt_deg: float = 0.0

    def __post_init__(self) -> None:
        for place, value in (("own", self.own_g), ("own_arm", self.own_arm_mm)):
            if not (math.isfinite(value) and value >= 0):
                raise WrenchError(place, f"{value:g} cannot be", "give 0 or more")
        if not 1 <= self.arm_mm <= MOST_MM:
            raise WrenchError("arm", f"{self.arm_mm:g} mm is no arm", "give it as measured")
        if not (math.isfinite(self.tilt_deg) and abs(self.tilt_deg) <= 45):
            raise WrenchError("tilt", f"{self.tilt_deg:g}° from level", "lay the lever level")

    @property
    def own_nm(self) -> float:
        """The moment of its own weight, level."""
        return self.own_g / 1000 * GRAVITY * self.own_arm_mm / 1000


@dataclass(frozen=True, slots=True)
class LeverTorque:
    """A torque and how far it may be off, as a share: mass, arm, gravity, and level, added up."""

    torque_nm: float
    uncertainty: float


def lever_torque(
    mass_g: float, lever: Lever, *, mass_error_g: float = 0.0, arm_error_mm: float = 0.0
) -> LeverTorque:
    """The torque at the square from a mass on a lever. Raises WrenchError for what is no mass or no arm.

    The errors are those of the scales and the rule. They are added, not squared and rooted: the worst that may be.
    """
    if not (math.isfinite(mass_g) and mass_g >= 0):
        raise WrenchError("mass", f"{mass_g:g} g is no mass", "give 0 g or more")
    for place, value in (("scales", mass_error_g), ("rule", arm_error_mm)):
        if not (math.isfinite(value) and value >= 0):
            raise WrenchError(place, f"{value:g} is no error of a measurement", "give 0 or more")
    hung = mass_g / 1000 * GRAVITY * lever.arm_mm / 1000
    level = math.cos(math.radians(lever.tilt_deg))
    torque = (hung + lever.own_nm) * level
    if torque <= 0:
        raise WrenchError("mass", "nothing hangs on the lever", "give the mass of the weight")
    refuse_no_torque("mass", torque)
    off = mass_error_g / mass_g if mass_g else 0.0
    share = hung / (hung + lever.own_nm) * (off + arm_error_mm / lever.arm_mm)
    by_eye = 1 - math.cos(math.radians(LEVEL_DEG))
    return LeverTorque(torque, share + GRAVITY_ERROR + by_eye)


def mass_for(torque_nm: float, lever: Lever) -> float:
    """The mass in grams to hang for a torque. Raises WrenchError where the lever's own weight gives more."""
    refuse_no_torque("torque", torque_nm)
    wanted = torque_nm / math.cos(math.radians(lever.tilt_deg)) - lever.own_nm
    if wanted < 0:
        problem = f"the lever alone gives {lever.own_nm:.3g} N·m"
        raise WrenchError("torque", problem, "take a larger torque or a lighter lever")
    return wanted / GRAVITY / (lever.arm_mm / 1000) * 1000
