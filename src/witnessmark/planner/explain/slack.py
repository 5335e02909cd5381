"""Waits and room in a plan: what each wait waits for, how early and how late each step could start."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.planner.explain.precedence import Arc, Window, arcs, free_from, own_day, windows
from witnessmark.planner.form.model import tenths
from witnessmark.planner.form.plan import Answer, PlanStep
from witnessmark.planner.form.problem import Problem
from witnessmark.planner.form.timeline import spans


@dataclass(frozen=True)
class Wait:
    """Minutes in which nobody works, or ``who`` does not, and the steps or the lapse they wait for."""

    begin: float
    end: float
    before: str | None
    waits_for: tuple[str, ...]
    words: str
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
    minutes = f"{round(end - begin, 1):g} min"
    then = "until all is over" if before is None else f'before "{before}"'
    if running:
        words = f"{minutes} {then}: waiting for {_quoted(running)} to be over"
    else:
        words = f"{minutes} {then}: {_other_cause(problem, steps, end, n)}"
    return Wait(begin, end, before, running, words)


def _quoted(names: Sequence[str]) -> str:
    return " and ".join(f'"{name}"' for name in names)


def _other_cause(problem: Problem, steps: Sequence[PlanStep], end: float, n: int | None) -> str:
    """A wait that no step ends: a lapse, an earliest start, or a shift."""
    for name in problem.conditions:
        for span in spans(problem, steps, name, max(tenths(s.tail_end) for s in steps)):
            if span.reached == tenths(end) and (span.by is None or span.begin != span.reached):
                return f'waiting for "{name}" to be {span.state}'
    if n is not None:
        step = problem.step(steps[n].name)
        if step.release == end and step.release > 0:
            return f"it may start from minute {step.release:g}"
    return "waiting for somebody to be there"


def waits_of_each(problem: Problem, answer: Answer) -> list[Wait]:
    """Where several work: each time one of them has nothing to do before his next step, while others work."""
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
    order: Sequence[Arc],
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
    if not causes and held:
        words = "on the way to another machine"
        if any(arc.since == "over" for arc in held):
            causes = tuple(dict.fromkeys(steps[arc.first].name for arc in held))
    elif free[n] == start:
        words = "it may not start sooner"
    else:
        words = "there is no hurry, or he is not there"
    if causes:
        words = f"waiting for {_quoted(causes)} to be over"
    minutes = f"{round(steps[n].start - begin, 1):g} min"
    return Wait(
        begin, steps[n].start, steps[n].name, causes, f'{who}: {minutes} before "{steps[n].name}": {words}', who
    )  # fmt: skip


def _reached(steps: Sequence[PlanStep], arc: Arc) -> int:
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


def _gap(steps: Sequence[PlanStep], arc: Arc) -> int:
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
