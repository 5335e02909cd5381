"""Waits and slack in a plan: what each wait is for, how early and how late each step could start."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from witnessmark.planner.explain.precedence import (
    Precedence,
    Window,
    arcs,
    free_from,
    own_day,
    windows,
)
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import tenths
from witnessmark.planner.problem.plan import Answer, PlanStep
from witnessmark.planner.problem.timeline import spans

Cause = Literal["steps", "lapse", "release", "change", "people", "none"]


@dataclass(frozen=True)
class Wait:
    """Minutes in which no technician works, or ``who`` does not, and what ends them.

    ``cause``: "steps" that must be over (``waits_for``); a "lapse" by which ``condition`` becomes ``state``; the
    "release" of the next step; a "change" of machine; "people" who are not at work; "none": nothing forces it.
    """

    begin: float
    end: float
    before: str | None
    cause: Cause
    waits_for: tuple[str, ...] = ()
    condition: str = ""
    state: str = ""
    who: str = ""


@dataclass(frozen=True)
class Slack:
    """Earliest and latest start of a step, in minutes, in the order of the plan and by its finish."""

    step: str
    earliest: float
    latest: float


def waits(problem: Problem, answer: Answer) -> list[Wait]:
    """Each time in which no technician works, before the next step or the finish."""
    worked = [
        n for n, step in enumerate(answer.steps) if step.technicians and step.end > step.start
    ]
    found, clock = [], 0.0
    for n in worked:
        step = answer.steps[n]
        if step.start > clock:
            found.append(_wait(problem, answer.steps, clock, step.start, n))
        clock = max(clock, step.end)
    if answer.finish_minutes is not None and answer.finish_minutes > clock:
        found.append(_wait(problem, answer.steps, clock, answer.finish_minutes, None))
    return found


def _wait(
    problem: Problem, steps: Sequence[PlanStep], begin: float, end: float, n: int | None
) -> Wait:
    running = tuple(step.name for step in steps if step.start < end and step.tail_end == end)
    before = None if n is None else steps[n].name
    if running:
        return Wait(begin, end, before, "steps", running)
    lapsed = _lapsed(problem, steps, end)
    if lapsed is not None:
        return Wait(begin, end, before, "lapse", condition=lapsed[0], state=lapsed[1])
    released = before is not None and problem.step(before).release == end > 0
    return Wait(begin, end, before, "release" if released else "people")


def _lapsed(problem: Problem, steps: Sequence[PlanStep], end: float) -> tuple[str, str] | None:
    """The condition that lapses just then, and the state it comes to."""
    for name in problem.conditions:
        for span in spans(problem, steps, name, max(tenths(s.tail_end) for s in steps)):
            if span.reached == tenths(end) and (span.by is None or span.begin != span.reached):
                return name, span.state
    return None


def waits_of_each(problem: Problem, answer: Answer) -> list[Wait]:
    """Where several work: each time one of them has nothing to do before the next step, while others work."""
    order = arcs(problem, answer.steps)
    free = free_from(problem, answer.steps)
    names = sorted({name for step in answer.steps for name in step.technicians})
    found = []
    for name in names if len(names) > 1 else ():
        clock = 0.0
        for n, step in enumerate(answer.steps):
            if name in step.technicians:
                if step.start > clock:
                    found.append(_wait_of(answer.steps, order, free, (name, clock, n)))
                clock = max(clock, step.end)
    return found


def _wait_of(
    steps: Sequence[PlanStep],
    order: Sequence[Precedence],
    free: Sequence[int],
    idle: tuple[str, float, int],
) -> Wait:
    """What lets the step begin when it does: the steps over just then, the way there, a time of its own."""
    who, begin, n = idle
    start = tenths(steps[n].start)
    held = [arc for arc in order if arc.then == n and _reached(steps, arc) == start]
    causes = tuple(
        dict.fromkeys(steps[a.first].name for a in held if who not in steps[a.first].technicians)
    )
    if not causes and any(arc.since == "over" for arc in held):
        causes = tuple(dict.fromkeys(steps[arc.first].name for arc in held))
    cause: Cause = "release" if free[n] == start else "none"
    if held:
        cause = "steps" if causes else "change"
    return Wait(begin, steps[n].start, steps[n].name, cause, causes, who=who)


def _reached(steps: Sequence[PlanStep], arc: Precedence) -> int:
    return tenths(steps[arc.first].start) + _gap(steps, arc)


def slack(problem: Problem, answer: Answer) -> list[Slack]:
    """How early and how late each step could start, the order, the people and the finish kept."""
    steps, until = answer.steps, tenths(answer.finish_minutes or 0)
    free = free_from(problem, steps)
    bounds = [_bounds(problem, step, at, until) for step, at in zip(steps, free, strict=True)]
    least, most = [low for low, _ in bounds], [high for _, high in bounds]
    _leave_time_to_lapse(problem, steps, until, most)
    there = [windows(problem, step) for step in steps]
    order = [(arc, _gap(steps, arc)) for arc in arcs(problem, steps)]
    for _ in steps:
        before = (tuple(least), tuple(most))
        for arc, gap in order:
            least[arc.then] = max(least[arc.then], least[arc.first] + gap)
            least[arc.then] = _not_before(there[arc.then], steps[arc.then], least[arc.then])
        for arc, gap in reversed(order):
            most[arc.first] = min(most[arc.first], most[arc.then] - gap)
            most[arc.first] = _not_after(there[arc.first], steps[arc.first], most[arc.first])
        if before == (tuple(least), tuple(most)):
            break
    return [
        Slack(step.name, early / 10, late / 10)
        for step, early, late in zip(steps, least, most, strict=True)
    ]


def _bounds(problem: Problem, step: PlanStep, low: int, until: int) -> tuple[int, int]:
    """From when it is free to the finish, within shifts and the day it belongs to."""
    length = tenths(step.tail_end) - tenths(step.start)
    high = until - length
    day = own_day(problem, step)
    if day is not None:
        low, high = max(low, day[0]), min(high, day[1] - length)
    there = windows(problem, step)
    return _not_before(there, step, low), _not_after(there, step, high)


def _leave_time_to_lapse(
    problem: Problem, steps: Sequence[PlanStep], until: int, most: list[int]
) -> None:
    """Where the finish waits for a lapse, the step it counts from may slip only by what is left then."""
    for name, condition in problem.conditions.items():
        if not condition.lapse or condition.finish is None:
            continue
        by = None
        for span in spans(problem, steps, name, until + 1):
            by = span.by if span.by is not None else by
            if by is not None and span.to is None and span.reached > tenths(steps[by].tail_end):
                most[by] = min(most[by], tenths(steps[by].start) + until - span.reached)


def _gap(steps: Sequence[PlanStep], arc: Precedence) -> int:
    """From the start of the first step of an arc to that of the second, at least."""
    first = steps[arc.first]
    reference = {"start": first.start, "end": first.end, "over": first.tail_end}[arc.since]
    return tenths(reference) - tenths(first.start) + arc.lag


def _not_before(there: Sequence[Window] | None, step: PlanStep, at: int) -> int:
    """The earliest start from ``at`` on with the attended part within one shift; as planned at the latest."""
    attended = tenths(step.end) - tenths(step.start)
    if there is None or attended == 0:
        return at
    fits = (max(at, begin) for begin, end in there if max(at, begin) + attended <= end)
    return min(next(fits, at), max(at, tenths(step.start)))


def _not_after(there: Sequence[Window] | None, step: PlanStep, at: int) -> int:
    """The latest start up to ``at`` with the attended part within one shift; as planned at the earliest."""
    attended = tenths(step.end) - tenths(step.start)
    if there is None or attended == 0:
        return at
    fits = [min(at, end - attended) for begin, end in there if min(at, end - attended) >= begin]
    return max(max(fits, default=at), min(at, tenths(step.start)))
