"""Waits and room in a plan: what each wait waits for, how early and how late each step could start."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from witnessmark.planner.plan import Answer, PlanStep
from witnessmark.planner.problem import Operation, Problem, tenths
from witnessmark.planner.timeline import spans


@dataclass(frozen=True)
class Wait:
    """Minutes in which nobody works, and the steps whose unattended part, or the lapse, they wait for."""

    begin: float
    end: float
    before: str | None
    waits_for: tuple[str, ...]
    words: str


@dataclass(frozen=True)
class Room:
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


def room(problem: Problem, answer: Answer) -> list[Room]:
    """How early and how late each step could start, the order and the finish kept."""
    steps, until = answer.steps, tenths(answer.finish_minutes or 0)
    least = [_release(problem, step) for step in steps]
    most = [until - _length(step) for step in steps]
    arcs = list(_arcs(problem, steps))
    for _ in steps:
        for i, j, gap in arcs:
            least[j] = max(least[j], least[i] + gap)
            most[i] = min(most[i], most[j] - gap)
    return [
        Room(step.name, early / 10, late / 10)
        for step, early, late in zip(steps, least, most, strict=True)
    ]


def _length(step: PlanStep) -> int:
    return tenths(step.tail_end) - tenths(step.start)


def _release(problem: Problem, step: PlanStep) -> int:
    return tenths(problem.step(step.name).release)


def _arcs(problem: Problem, steps: Sequence[PlanStep]) -> Iterator[tuple[int, int, int]]:
    """(i, j, gap): step j starts at least ``gap`` tenths after step i, as the order has it."""
    yield from _technicians_arcs(steps)
    for j, later in enumerate(steps):
        for i, earlier in enumerate(steps[:j]):
            if _bound_by_order(problem, earlier.name, later.name):
                yield i, j, _length(earlier)
    for name, condition in problem.conditions.items():
        if condition.lapse:
            yield from _lapse_arcs(problem, steps, name)


def _technicians_arcs(steps: Sequence[PlanStep]) -> Iterator[tuple[int, int, int]]:
    last: dict[str, int] = {}
    for n, step in enumerate(steps):
        for name in step.technicians:
            if name in last:
                yield last[name], n, tenths(steps[last[name]].end) - tenths(steps[last[name]].start)
            last[name] = n


def _bound_by_order(problem: Problem, first: str, second: str) -> bool:
    earlier, later = problem.step(first), problem.step(second)
    if isinstance(later, Operation) and first in later.after:
        return True
    if set(earlier.sets) & (set(later.sets) | set(later.needs)) or set(later.sets) & set(
        earlier.needs
    ):
        return True
    return any(
        set(combination) & set(earlier.sets) and set(combination) & set(later.sets)
        for combination in problem.never
    )


def _lapse_arcs(
    problem: Problem, steps: Sequence[PlanStep], name: str
) -> Iterator[tuple[int, int, int]]:
    """A state that lapses binds the steps that rely on it to the step that set it, both ways."""
    until = max((tenths(step.tail_end) for step in steps), default=0)
    setter = None
    for span in spans(problem, steps, name, until):
        setter = span.by if span.by is not None else setter
        for n, step in enumerate(steps):
            needed = problem.step(step.name).needs.get(name)
            at = tenths(step.start)
            if setter is None or needed is None or n == setter or not span.reached <= at < span.end:
                continue
            since = tenths(steps[setter].start)
            yield setter, n, span.reached - since
            if span.to is None and span.left < until:
                yield (
                    n,
                    setter,
                    since
                    - span.left
                    + (_length(step) if name not in problem.step(step.name).sets else 1),
                )
