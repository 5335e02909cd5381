"""A torque tool as a shop owns or borrows it, with everything that has happened to it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Literal

from witnessmark.errors import WitnessError
from witnessmark.units import UNITS
from witnessmark.wrenches.standard import (
    CLASSES,
    CYCLES,
    DEVICE_SHARE,
    LOWER_LIMIT,
    MONTHS,
    permitted_deviation,
)
from witnessmark.wrenches.words import per_cent

CheckKind = Literal["laboratory", "lever", "reference"]
CHECK_WORDS: dict[CheckKind, str] = {
    "laboratory": "calibrated by a laboratory",
    "lever": "checked in house with a weight on a lever",
    "reference": "checked in house against a reference wrench",
}
EXACT = 1e-9  # for the program: floats closer than this are equal
MOST_NM = 100_000.0  # judged by us: no hand tool reaches a hundredth of it
LEAST_STEP = 0.001  # judged by us


class WrenchError(WitnessError):
    """A tool, a check or a setting that cannot be: `place` is the field."""


def refuse_no_torque(place: str, torque_nm: float) -> None:
    """Raise WrenchError for what is no torque of a hand tool."""
    if not 0 < torque_nm <= MOST_NM:
        problem = f"{torque_nm:g} N·m is no torque"
        raise WrenchError(place, problem, f"give more than 0 and at most {MOST_NM:g} N·m")


@dataclass(frozen=True, slots=True)
class Point:
    """One torque of a check: what the tool was set to or showed, and what the torque truly was."""

    shown_nm: float
    true_nm: float

    def __post_init__(self) -> None:
        for place, value in (("shown_nm", self.shown_nm), ("true_nm", self.true_nm)):
            refuse_no_torque(place, value)

    @property
    def deviation(self) -> float:
        """(shown − true) / true."""
        return (self.shown_nm - self.true_nm) / self.true_nm


@dataclass(frozen=True, slots=True)
class Check:
    """A calibration or an in-house check: the points as found, before anything was adjusted.

    No points: only a certificate that says the tool is within its limits. `adjusted`: put right afterwards,
    so it is good from then on, whatever was found. `uncertainty`: of the method, as a share; 0: not told.
    `first` and `last`: the instants between which it was made, with their zone; equal where its time is known,
    a whole day where only the day is.
    """

    on: date
    kind: CheckKind = "laboratory"
    points: tuple[Point, ...] = ()
    adjusted: bool = False
    uncertainty: float = 0.0
    id: str = ""
    first: datetime = field(default=datetime.min.replace(tzinfo=UTC), compare=False)
    last: datetime = field(default=datetime.max.replace(tzinfo=UTC), compare=False)

    @property
    def worst(self) -> float:
        """The largest deviation found, with its sign; 0 where none was written down."""
        return max((point.deviation for point in self.points), key=abs, default=0.0)


@dataclass(frozen=True, slots=True)
class Dropped:
    """Fell, was overloaded or was used as a bar: out of use until checked (ISO 6789-2; FAA AC 43.13-1B, 7-40)."""

    on: date
    id: str = ""


@dataclass(frozen=True, slots=True)
class Loan:
    """Borrowed from somebody, due back on a day; `returned`: given back."""

    back_by: date
    returned: date | None = None


@dataclass(frozen=True)
class TorqueTool:
    """A torque tool. `history` is in the order it happened; `cycles` counts since the last check that counts.

    `low_nm` None: 20 % of `high_nm`. `deviation` None: by class. `step`: what the scale resolves, in `scale_unit`;
    None: not told, so no rounding is calculated. `arm_mm`: square to the mark in the grip where the hand pulls.
    """

    name: str
    high_nm: float
    low_nm: float | None = None
    tool_class: str = "II A"
    scale_unit: str = "N·m"
    step: float | None = None
    arm_mm: float | None = None
    deviation: float | None = None
    months: int = MONTHS
    most_cycles: int = CYCLES
    cycles: int = 0
    history: tuple[Check | Dropped, ...] = ()
    loan: Loan | None = None
    retired_on: date | None = None
    key: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        self._check_range()
        if self.tool_class not in CLASSES:
            problem = f"“{self.tool_class}” is no class of ISO 6789-1"
            raise WrenchError("tool_class", problem, f"give one of {', '.join(CLASSES)}")
        if self.scale_unit not in UNITS["torque"]:
            problem = f"“{self.scale_unit}” is no unit of torque"
            raise WrenchError("scale_unit", problem, f"give one of {', '.join(UNITS['torque'])}")
        if self.step is not None and not LEAST_STEP <= self.step < math.inf:
            problem = f"{self.step} is no division of a scale"
            raise WrenchError("step", problem, f"give {LEAST_STEP} or more")
        if self.arm_mm is not None and not (math.isfinite(self.arm_mm) and self.arm_mm > 0):
            raise WrenchError("arm_mm", f"{self.arm_mm} mm is no length", "give more than 0 mm")
        if self.deviation is not None and not 0 < self.deviation < 1:
            problem = f"a permitted deviation of {per_cent(self.deviation)}"
            raise WrenchError("deviation", problem, "give more than 0 % and less than 100 %")

    def _check_range(self) -> None:
        refuse_no_torque("high_nm", self.high_nm)
        if self.low_nm is not None and not 0 <= self.low_nm < self.high_nm:
            problem = f"{self.low_nm:g} N·m is not below {self.high_nm:g} N·m"
            raise WrenchError("low_nm", problem, "give the lowest torque marked on the scale")

    @property
    def lowest_nm(self) -> float:
        """The least torque it proves: the lowest marked, else 20 % of the largest (ISO 6789:2003)."""
        return LOWER_LIMIT * self.high_nm if self.low_nm is None else self.low_nm

    @property
    def indicating(self) -> bool:
        """Whether it shows the torque reached."""
        return CLASSES[self.tool_class].indicating


def permitted(tool: TorqueTool) -> float:
    """What the tool may deviate, as a share: as its maker or certificate says, else by its class."""
    if tool.deviation is not None:
        return tool.deviation
    return permitted_deviation(tool.tool_class, tool.high_nm)


def is_good(check: Check, tool: TorqueTool) -> bool:
    """Whether a check found, or left, the tool within what it may deviate."""
    return check.adjusted or not found_wrong(check, tool)


def found_wrong(check: Check, tool: TorqueTool) -> bool:
    """Whether it was found beyond what it may deviate, put right afterwards or not. Equality is within."""
    return abs(check.worst) > permitted(tool) + EXACT


def renews(check: Check, tool: TorqueTool) -> bool:
    """Whether a check begins a new interval: a good one that covers the range by a method good enough.

    A laboratory's does. In house it wants points in both halves of the range, and a method that is told to be off
    by no more than a quarter of what the tool may deviate (ISO 6789-1:2017 asks that of a calibration device).
    """
    if not is_good(check, tool):
        return False
    return check.kind == "laboratory" or (covers_range(check, tool) and is_fine(check, tool))


def covers_range(check: Check, tool: TorqueTool) -> bool:
    """Whether a check has points in both halves of the range."""
    shown = [point.shown_nm for point in check.points]
    middle = (tool.lowest_nm + tool.high_nm) / 2
    return len(shown) > 1 and min(shown) <= middle <= max(shown)


def is_fine(check: Check, tool: TorqueTool) -> bool:
    """Whether the method's own error is told, and small against the tool's."""
    return 0 < check.uncertainty <= DEVICE_SHARE * permitted(tool) + EXACT


def last_renewal(tool: TorqueTool, on: date) -> Check | None:
    """The check that the calibration rests on, on a day."""
    return next((one for one in reversed(checks(tool, on)) if renews(one, tool)), None)


def checks(tool: TorqueTool, on: date) -> list[Check]:
    """The checks up to and on a day."""
    return [one for one in tool.history if isinstance(one, Check) and one.on <= on]


def verdict(check: Check, tool: TorqueTool) -> str:
    """What a check says, in words."""
    allowed = f"the {per_cent(permitted(tool))} permitted"
    if not check.points:
        return f"within {allowed}, no points written down"
    worst = per_cent(check.worst, signed=True)
    found = f"at most {worst} off" if len(check.points) > 1 else f"{worst} off"
    if found_wrong(check, tool):
        return f"{found}, more than {allowed}" + (", then put right" if check.adjusted else "")
    if abs(check.worst) + check.uncertainty > permitted(tool) + EXACT:
        good_to = per_cent(check.uncertainty)
        return (
            f"{found}, within {allowed}, but nearer to it than a check good to {good_to} can tell"
        )
    return f"{found}, within {allowed}"
