"""A tool found wrong: what it tightened since it was last known to be good, and how tight that likely is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from witnessmark.wrenches.tool import Check, TorqueTool, found_wrong, is_good


@dataclass(frozen=True, slots=True)
class TrueTorque:
    """What a torque shown by a tool likely was, by the deviation found there."""

    likely_nm: float
    deviation: float


@dataclass(frozen=True, slots=True)
class Doubted:
    """A check that found a tool wrong, and how far back the doubt reaches; `since` None: to the beginning."""

    check: Check
    since: date | None

    def reaches(self, on: date) -> bool:
        """Whether work of a day is in doubt. The days of both checks are: nobody knows the hour."""
        return (self.since is None or self.since <= on) and on <= self.check.on


def doubted(tool: TorqueTool) -> list[Doubted]:
    """Every check that found the tool beyond what it may deviate, put right afterwards or not; the newest first."""
    found: list[Doubted] = []
    good: date | None = None
    for one in tool.history:
        if not isinstance(one, Check):
            continue
        if found_wrong(one, tool):
            found.append(Doubted(one, good))
        if is_good(one, tool):
            good = one.on
    return found[::-1]


def true_torque(check: Check, shown_nm: float) -> TrueTorque:
    """The true torque behind one shown: shown / (1 + deviation), the deviation taken between the points of the check.

    Past the outermost points their deviation holds; without points it is 0.
    """
    deviation = _between(sorted((p.shown_nm, p.deviation) for p in check.points), shown_nm)
    return TrueTorque(shown_nm / (1 + deviation), deviation)


def _between(points: list[tuple[float, float]], at: float) -> float:
    if not points:
        return 0.0
    if at <= points[0][0]:
        return points[0][1]
    for (x0, y0), (x1, y1) in pairwise(points):
        if at <= x1:
            return y1 if x1 == x0 else y0 + (y1 - y0) * (at - x0) / (x1 - x0)
    return points[-1][1]
