"""A tool found wrong: what it tightened since it was last known to be good, and how tight that likely is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from witnessmark.facts import on_curve
from witnessmark.wrenches.tool import Check, TorqueTool, found_wrong, is_good

Reach = Literal["in doubt", "clear", "unclear"]


@dataclass(frozen=True, slots=True)
class TrueTorque:
    """What a torque shown by a tool likely was, by the deviation found there."""

    likely_nm: float
    deviation: float


@dataclass(frozen=True, slots=True)
class Doubted:
    """A check that found a tool wrong, and the last good one before it; `good` None: there was none."""

    check: Check
    good: Check | None

    def reaches(self, at: datetime) -> Reach:
        """Whether work done at an instant is in doubt: after the last good check and before this one.

        "unclear": within the time in which one of the two checks was made; only that it was so is known.
        """
        begins = self.good.first if self.good else None
        surely = self.good.last if self.good else None
        if at > self.check.last or (begins is not None and at < begins):
            return "clear"
        if at > self.check.first or (surely is not None and at < surely):
            return "unclear"
        return "in doubt"


def doubted(tool: TorqueTool) -> list[Doubted]:
    """Every check that found the tool beyond what it may deviate, put right afterwards or not; the newest first."""
    found: list[Doubted] = []
    good: Check | None = None
    for one in tool.history:
        if not isinstance(one, Check):
            continue
        if found_wrong(one, tool):
            found.append(Doubted(one, good))
        if is_good(one, tool):
            good = one
    return found[::-1]


def true_torque(check: Check, shown_nm: float) -> TrueTorque:
    """The true torque behind one shown: shown / (1 + deviation), the deviation taken between the points of the check.

    Past the outermost points their deviation holds; without points it is 0.
    """
    points = sorted((point.shown_nm, point.deviation) for point in check.points)
    deviation = on_curve(points, shown_nm) if points else 0.0
    return TrueTorque(shown_nm / (1 + deviation), deviation)
