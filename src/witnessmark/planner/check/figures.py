"""Compute the figures of a plan again from the replay, and compare them with the answer."""

from __future__ import annotations

from bisect import bisect, insort
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

from witnessmark.planner.check.layout import NEAR, Placed, PlanFault, Rule, minutes
from witnessmark.planner.check.states import Timelines
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Move, Operation, tenths
from witnessmark.planner.problem.plan import Answer

Occurrence = tuple[str, int]  # the name of a step and which of its copies


def figures(
    problem: Problem, answer: Answer, timelines: Timelines, previous: Sequence[str] | None
) -> list[PlanFault]:
    """Every stated figure that the replay does not confirm."""
    listed = [one for one in timelines.placed if not one.running]
    effort = sum(one.step.hands * tenths(one.step.minutes) for one in listed)
    exposure = sum(b - a for name in problem.conditions for a, b in timelines.exposed(name))
    return [
        *_equal("finish_minutes", answer.finish_minutes, minutes(timelines.finish)),
        *_equal("attended_minutes", answer.attended_minutes, minutes(effort)),
        *_equal("exposure_minutes", answer.exposure_minutes, minutes(exposure)),
        *_equal("walks", answer.walks, walks(timelines.placed)),
        *_deviation(problem, answer, previous),
        *_late(problem, answer, timelines.placed),
        *_bounds(answer),
        *_served(problem, answer),
    ]


def no_plan(answer: Answer) -> list[PlanFault]:
    """An answer without a plan states no step and no figure of one."""
    stated = [
        key
        for key in ("finish_minutes", "attended_minutes", "exposure_minutes", "walks", "deviation")
        if getattr(answer, key) is not None
    ]
    if answer.steps:
        stated.insert(0, "steps")
    return [
        PlanFault(Rule.FIGURE, (), None, f"status {answer.status}, yet {key} is given")
        for key in stated
    ]


def _equal(key: str, stated: float | None, computed: float) -> Iterator[PlanFault]:
    if stated is None or abs(stated - computed) > NEAR:
        told = "nothing" if stated is None else f"{stated:g}"
        words = f"{key} is {computed:g} by the replay; the answer says {told}"
        yield PlanFault(Rule.FIGURE, (), None, words)


def walks(placed: list[Placed]) -> int:
    """Neighbouring steps that name one technician, at differing machine, place or job; what is not
    said does not differ.
    """
    work: dict[str, list[Placed]] = defaultdict(list)
    for one in placed:
        for name in dict.fromkeys(one.technicians):
            work[name].append(one)
    return sum(
        _apart(before.step, later.step)
        for steps in work.values()
        for before, later in pairwise(steps)
    )


def _apart(one: Move | Operation, other: Move | Operation) -> bool:
    pairs = (
        (getattr(one, key, None), getattr(other, key, None)) for key in ("machine", "place", "job")
    )
    return any(a is not None and b is not None and a != b for a, b in pairs)


def _deviation(
    problem: Problem, answer: Answer, previous: Sequence[str] | None
) -> Iterator[PlanFault]:
    if previous is None:
        if answer.deviation is not None:
            words = f"deviation {answer.deviation} is stated, but there is no previous plan"
            yield PlanFault(Rule.FIGURE, (), None, words)
        return
    gone = set(problem.now.done) | {r.name for r in problem.now.running} if problem.now else set()
    names = [step.name for step in answer.steps]
    computed = deviation([n for n in previous if n not in gone], names)
    yield from _equal("deviation", answer.deviation, computed)


def deviation(previous: Iterable[str], present: Iterable[str]) -> int:
    """Pairs of steps that stand in both orders, but the other way round; the k-th copy is matched
    with the k-th.
    """
    before = {one: at for at, one in enumerate(_occurrences(previous))}
    places = [before[one] for one in _occurrences(present) if one in before]
    return _inversions(places)


def _occurrences(names: Iterable[str]) -> Iterator[Occurrence]:
    seen: dict[str, int] = defaultdict(int)
    for name in names:
        seen[name] += 1
        yield name, seen[name]


def _inversions(places: list[int]) -> int:
    earlier: list[int] = []
    count = 0
    for place in places:
        count += len(earlier) - bisect(earlier, place)
        insort(earlier, place)
    return count


def _late(problem: Problem, answer: Answer, placed: list[Placed]) -> Iterator[PlanFault]:
    ready: dict[str, int] = defaultdict(int)
    for one in placed:
        if one.step.machine is not None:
            ready[one.step.machine] = max(ready[one.step.machine], one.over)
    for machine, wished in problem.due_by.items():
        late = max(0, ready[machine] - tenths(wished))
        yield from _equal(f"late {machine}", answer.late.get(machine, 0.0), minutes(late))
    for machine in answer.late.keys() - problem.due_by.keys():
        yield PlanFault(
            Rule.FIGURE, (), None, f"late {machine}: the problem wishes no finish for it"
        )


def _bounds(answer: Answer) -> Iterator[PlanFault]:
    for what in ("finish", "attended"):
        reached, bound = getattr(answer, f"{what}_minutes"), getattr(answer, f"{what}_bound")
        if reached is None:
            continue
        if bound is not None and bound > reached + NEAR:
            words = f"{what}_bound {bound:g} is above the {reached:g} minutes that the plan takes"
        elif answer.status == "optimal" and (bound is None or bound < reached - NEAR):
            words = f"status optimal, but {what}_bound does not reach {reached:g} minutes"
        else:
            continue
        yield PlanFault(Rule.FIGURE, (), None, words)
    if answer.conflict is not None:
        yield PlanFault(Rule.FIGURE, (), None, "there is a plan, and yet a conflict is stated")


def _served(problem: Problem, answer: Answer) -> Iterator[PlanFault]:
    """``for`` names operations of the problem."""
    operations = {operation.name for operation in problem.operations}
    for step in answer.steps:
        unknown = [name for name in step.for_ if name not in operations]
        if unknown:
            words = f"{step.name} is said to be for {', '.join(unknown)}, which is no operation"
            yield PlanFault(Rule.FIGURE, (step.name,), step.start, words)
