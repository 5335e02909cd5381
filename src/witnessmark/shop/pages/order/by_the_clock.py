"""When what is left of an order is done by the clock: from now on, in the hours of those who work on it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from witnessmark.planner import PlanStep
from witnessmark.shop.work.crew import Crew

Shifts = Mapping[str, Sequence[tuple[float, float]]]


def closed_up(
    left: Sequence[PlanStep], over: Sequence[PlanStep], waits: Mapping[str, float] | None = None
) -> tuple[PlanStep, ...]:
    """What is left, without the minutes of steps done out of turn: nothing starts before what was over before it.

    Both in order, in minutes from the same beginning. ``waits``: steps that were begun and wait by themselves, with
    the minutes they still take. Several technicians wait for one another: theirs stay.
    """
    waits = waits or {}
    if len({name for step in (*left, *over) for name in step.technicians}) != 1:
        return tuple(left)
    made: list[PlanStep] = []
    begun = [step for step in left if step.name in waits]
    over, now = (*over, *begun), min(step.start for step in left)
    for step in left:
        if step.name in waits:
            then = {"start": now, "end": now, "tail_end": now + waits[step.name]}
            made.append(step.model_copy(update=then))
            continue
        gained = sum(one.end - one.start for one in over if one.start < step.start)
        before = (
            new.tail_end for old, new in zip(left, made, strict=False) if old.tail_end <= step.start
        )
        worked = (new.end for new in made)
        start = max(step.start - gained, max(before, default=0), max(worked, default=0))
        earlier = step.start - start
        moved = {"start": start, "end": step.end - earlier, "tail_end": step.tail_end - earlier}
        made.append(step.model_copy(update=moved))
    return tuple(made)


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
