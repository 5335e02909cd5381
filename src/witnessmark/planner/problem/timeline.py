"""Which state each condition is in, and from when to when, in a plan."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Condition, Move, Operation, tenths
from witnessmark.planner.problem.plan import PlanStep


@dataclass(frozen=True)
class StateSpan:
    """A state of a condition, in tenths of a minute.

    It counts from ``begin`` (where the step that sets it starts) to ``end`` (where the step that
    changes it is over, or it lapses, or the plan finishes). ``reached``: from when it can be relied on;
    ``left``: until when. ``by`` and ``to``: indices of the steps that set and change it.
    """

    state: str
    begin: int
    reached: int
    left: int
    end: int
    by: int | None
    to: int | None


def spans(
    problem: Problem, steps: Sequence[PlanStep], condition: str, until: int
) -> list[StateSpan]:
    """The states of one condition from minute 0 to ``until`` (tenths), in order."""
    setters = [n for n, step in enumerate(steps) if condition in problem.step(step.name).sets]
    setters.sort(key=lambda n: tenths(steps[n].start))
    found: list[StateSpan] = []
    by, begin, reached = None, 0, -tenths(problem.start_age(condition))
    state = problem.start_state(condition)
    for running in problem.now.running if problem.now else ():
        over = tenths(running.minutes) + tenths(running.unattended)
        sets = problem.step(running.name).sets
        if condition in sets:
            found.append(StateSpan(state, 0, reached, 0, over, None, None))
            state, reached = sets[condition], over
    for to in [*setters, None]:
        left = until if to is None else tenths(steps[to].start)
        end = until if to is None else tenths(steps[to].tail_end)
        found += _lapsing(
            problem.conditions[condition], StateSpan(state, begin, reached, left, end, by, to)
        )
        if to is not None:
            state = problem.step(steps[to].name).sets[condition]
            by, begin, reached = to, left, end
    return found


def _lapsing(condition: Condition, span: StateSpan) -> Iterator[StateSpan]:
    """The span, cut up where its state lapses before it is changed."""
    state, begin, reached = span.state, span.begin, span.reached
    while state in condition.lapse:
        lapse = condition.lapse[state]
        at = reached + tenths(lapse.after)
        if at > span.left or (at == span.left and span.to is None):
            break
        if at > 0:
            yield StateSpan(state, begin, reached, at, at, span.by, None)
        state, begin, reached = lapse.to, max(at, 0), at
    yield StateSpan(state, begin, reached, span.left, span.end, span.by, span.to)


def finish_tenths(problem: Problem, steps: Sequence[PlanStep]) -> int:
    """When all steps are over and conditions have lapsed, where they must, into their finish."""
    running = problem.now.running if problem.now else ()
    left = [tenths(step.minutes) + tenths(step.unattended) for step in running]
    over = max([*(tenths(step.tail_end) for step in steps), *left], default=0)
    latest = over
    for name, condition in problem.conditions.items():
        if condition.lapse and condition.finish is not None:
            far = over + sum(tenths(lapse.after) for lapse in condition.lapse.values()) + 1
            last = [span for span in spans(problem, steps, name, far) if span.left > over]
            reached = (max(over, s.reached) for s in last if s.state == condition.finish)
            latest = max(latest, next(reached, over))
    return latest


def late_minutes(
    problem: Problem, overs: Iterable[tuple[Move | Operation, int]]
) -> dict[str, float]:
    """Minutes by which the last step on each machine is over (tenths) after its wished finish."""
    ready: dict[str | None, int] = {}
    for step, over in overs:
        ready[step.machine] = max(ready.get(step.machine, 0), over)
    late = {machine: ready.get(machine, 0) - tenths(due) for machine, due in problem.due_by.items()}
    return {machine: minutes / 10 for machine, minutes in late.items() if minutes > 0}


def exposure_tenths(problem: Problem, steps: Sequence[PlanStep], until: int) -> int:
    """Tenths of a minute for which exposed states last, entering and leaving included."""
    total = 0
    for name, condition in problem.conditions.items():
        if condition.exposed:
            exposed = [
                s for s in spans(problem, steps, name, until) if s.state in condition.exposed
            ]
            total += _covered((span.begin, span.end) for span in exposed)
    return total


def _covered(intervals: Iterable[tuple[int, int]]) -> int:
    """Length of the union of intervals given in order of their begin."""
    total, last = 0, 0
    for begin, end in intervals:
        total += max(0, end - max(begin, last))
        last = max(last, end)
    return total
