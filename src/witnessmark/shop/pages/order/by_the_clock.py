"""When what is left of an order is done by the clock: from now on, in the hours of those who work on it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from witnessmark.planner import PlanStep
from witnessmark.shop.work.crew import Crew

Shifts = Mapping[str, Sequence[tuple[float, float]]]


def ready_at(steps: Sequence[PlanStep], crew: Crew, begin: datetime) -> datetime:
    """The end of the last step. What does not fit before a break or the evening waits, and all after it with it.

    ``steps`` in order, in minutes from ``begin``; ``crew``: its shifts count from ``begin`` too. A technician
    without hours, or who is not of the crew, is there all day.
    """
    hours = {one.name: one.shifts for one in crew.technicians if one.shifts is not None}
    late = 0.0
    for step in steps:
        late += max(
            (_wait(step, late, hours[n]) for n in step.technicians if n in hours), default=0
        )
    return begin + timedelta(minutes=max((step.tail_end for step in steps), default=0) + late)


def _wait(step: PlanStep, late: float, shifts: Sequence[tuple[float, float]]) -> float:
    """Minutes until a shift has room for a step that would start ``late`` minutes later."""
    start, lasts = step.start + late, step.end - step.start
    fits = (max(begin, start) - start for begin, end in shifts if max(begin, start) + lasts <= end)
    return min(fits, default=0.0)
