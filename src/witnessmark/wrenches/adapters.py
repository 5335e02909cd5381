"""What to set on a wrench's scale for a torque, with a crow-foot or extension too; rounded by `units.nearest_step`."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from witnessmark import units
from witnessmark.wrenches.tool import TorqueTool, WrenchError, refuse_no_torque

MOST_MM = 10_000.0  # judged by us
LEAST_ARM = 0.05  # of the wrench's arm must remain: nearer to nothing a slip of the hand is all (judged by us)


@dataclass(frozen=True, slots=True)
class Adapter:
    """A crow-foot or extension on the square of a wrench.

    `reach_mm`: centre of the square to centre of the fastener. `angle_deg`: from the line of the handle, 0 straight
    ahead, 90 square to it, 180 back along it. `arm_mm`: centre of the square to the mark where the hand pulls.
    """

    reach_mm: float
    angle_deg: float
    arm_mm: float

    def __post_init__(self) -> None:
        if not 0 <= self.reach_mm <= MOST_MM:
            problem = f"{self.reach_mm:g} mm is no reach"
            raise WrenchError("reach", problem, "give it from centre to centre, as measured")
        if not 1 <= self.arm_mm <= MOST_MM:
            problem = f"{self.arm_mm:g} mm is no arm of a wrench"
            raise WrenchError("arm", problem, "give it from the square to the hand, as measured")
        if not (math.isfinite(self.angle_deg) and -360 <= self.angle_deg <= 360):
            problem = f"{self.angle_deg:g}° is no angle to the handle"
            raise WrenchError("angle", problem, "give 0 straight ahead, 90 square to it, 180 back")
        if self.effective_mm < LEAST_ARM * self.arm_mm:
            problem = "the fastener would lie at the hand that pulls: nothing can be set"
            raise WrenchError("reach", problem, "turn the adapter forward or take a longer wrench")

    @property
    def effective_mm(self) -> float:
        """The arm from the fastener to the hand, square to the pull: arm + reach × cos angle."""
        return self.arm_mm + self.reach_mm * cos_degrees(self.angle_deg)

    @property
    def ratio(self) -> float:
        """Torque at the fastener for each at the square."""
        return self.effective_mm / self.arm_mm


@dataclass(frozen=True, slots=True)
class CrowFoot:
    """A crow-foot or extension by itself, before it is known on which wrench: reach and angle as in `Adapter`."""

    reach_mm: float
    angle_deg: float = 0.0

    def on(self, tool: TorqueTool) -> Adapter | None:
        """On a wrench; None where its arm was not measured. Raises WrenchError where nothing can be set."""
        if tool.arm_mm is None:
            return None
        return Adapter(self.reach_mm, self.angle_deg, tool.arm_mm)


@dataclass(frozen=True, slots=True)
class Setting:
    """What to set. `exact_nm` at the square; `set_nm` after rounding to the step; `got_nm` at the fastener then."""

    torque_nm: float
    exact_nm: float
    set_nm: float
    got_nm: float
    text: str  # in the unit of the scale
    step_text: str  # empty: the step of the scale was not told
    adapter: Adapter | None = None

    @property
    def rounding(self) -> float:
        """(set − exact) / exact."""
        return (self.set_nm - self.exact_nm) / self.exact_nm


def set_on(torque_nm: float, adapter: Adapter) -> float:
    """Torque at the square that gives `torque_nm` at the fastener: torque × arm / (arm + reach × cos angle).

    The formula is the moment of one pull, square to the handle, about the square and about the fastener; for
    0° the published T × L / (L + E). At 90° there is no correction.
    """
    return torque_nm / adapter.ratio


def delivered(set_nm: float, adapter: Adapter | None) -> float:
    """Torque at the fastener for a torque at the square."""
    return set_nm * adapter.ratio if adapter else set_nm


def setting(tool: TorqueTool, torque_nm: float, adapter: Adapter | None = None) -> Setting:
    """The figure as it is set on a tool. Raises WrenchError for what is no torque."""
    refuse_no_torque("torque", torque_nm)
    exact = set_on(torque_nm, adapter) if adapter else torque_nm
    rounded = exact if tool.step is None else _on_a_division(exact, tool.scale_unit, tool.step)
    return Setting(
        torque_nm=torque_nm,
        exact_nm=exact,
        set_nm=rounded,
        got_nm=delivered(rounded, adapter),
        text=units.show(rounded, "torque", unit=tool.scale_unit, step=tool.step),
        step_text="" if tool.step is None else f"{tool.step:g} {tool.scale_unit}",
        adapter=adapter,
    )


def cos_degrees(angle_deg: float) -> float:
    """Cosine, exact where people are: at 60, 90, 180, 270 degrees and their like."""
    turned = abs(angle_deg) % 360
    exact = {
        0.0: 1.0,
        60.0: 0.5,
        90.0: 0.0,
        120.0: -0.5,
        180.0: -1.0,
        240.0: -0.5,
        270.0: 0.0,
        300.0: 0.5,
    }
    return exact.get(turned, math.cos(math.radians(turned)))


def _on_a_division(torque_nm: float, unit: str, step: float) -> float:
    """The nearest division, and never none at all."""
    return max(units.setting(torque_nm, "torque", unit, step).value, step * _of_unit(unit))


@cache
def _of_unit(unit: str) -> float:
    return units.read(f"1 {unit}", "torque").value
