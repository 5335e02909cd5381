"""The precedences of a plan: arcs between steps, and the times technicians are at work.

Any times that keep these keep the plan sound: each step after what it relies on, each technician's steps in
order and within shifts, users of a scarce resource apart, what is exposed closed on its day.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise, permutations
from typing import Literal

from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.dependence import bound_by_order
from witnessmark.planner.problem.model import tenths
from witnessmark.planner.problem.plan import PlanStep
from witnessmark.planner.problem.shifts import day_ends
from witnessmark.planner.problem.timeline import StateSpan, spans

Since = Literal["start", "end", "over"]
Window = tuple[int, int]


@dataclass(frozen=True)
class Precedence:
    """Step ``then`` starts at least ``lag`` tenths of a minute after ``first`` starts, ends, or is over.

    A negative lag is a latest time: what ``first`` relies on lapses.
    """

    first: int
    then: int
    since: Since
    lag: int = 0


def arcs(problem: Problem, steps: Sequence[PlanStep]) -> list[Precedence]:
    """The order of a plan, steps by their place in it."""
    every = {name: spans(problem, steps, name, _until(steps)) for name in problem.conditions}
    found = [*_of_technicians(problem, steps), *_of_steps(problem, steps)]
    found += _of_resources(problem, steps, every)
    found += _of_changes(problem, steps, every)
    for name, condition in problem.conditions.items():
        if condition.lapse:
            found += _of_lapses(problem, steps, name, every[name])
    return sorted(set(found), key=lambda arc: (arc.then, arc.first))


def _until(steps: Sequence[PlanStep]) -> int:
    return max((tenths(step.tail_end) for step in steps), default=0)


def _of_technicians(problem: Problem, steps: Sequence[PlanStep]) -> Iterator[Precedence]:
    """Each technician's steps in order, with the minutes of a change of machine."""
    change = tenths(problem.change_minutes or 0)
    for _, turns in _turns(steps):
        at = None  # the last machine worked on
        for first, then in pairwise(turns):
            at = problem.step(steps[first].name).machine or at
            to = problem.step(steps[then].name).machine
            away = at is not None and to is not None and at != to
            yield Precedence(first, then, "end", change if away else 0)


def _turns(steps: Sequence[PlanStep]) -> Iterator[tuple[str, list[int]]]:
    names = dict.fromkeys(name for step in steps for name in step.technicians)
    for name in names:
        yield name, [n for n, step in enumerate(steps) if name in step.technicians]


def _of_steps(problem: Problem, steps: Sequence[PlanStep]) -> Iterator[Precedence]:
    """What one step changes and another relies on; what was done at once may be done in either order."""
    for (i, earlier), (j, later) in combinations(enumerate(steps), 2):
        if earlier.tail_end <= later.start and bound_by_order(problem, earlier.name, later.name):
            yield Precedence(i, j, "over")


# ---------------------------------------------------------------- resources


@dataclass(frozen=True)
class _Holding:
    """Some of a resource, taken by a step or by a state: from the start of ``by`` until ``to`` is over."""

    begin: int
    end: int
    by: int | None
    to: int | None
    lapsed: int = 0  # tenths after ``to`` is over


def _of_resources(
    problem: Problem, steps: Sequence[PlanStep], every: Mapping[str, Sequence[StateSpan]]
) -> Iterator[Precedence]:
    """What was apart stays apart: then no instant has more holders than some instant of the plan had."""
    for resource in problem.resources:
        held = list(_held(problem, steps, every, resource))
        for one, other in permutations(held, 2):
            if one.end <= other.begin and one.to is not None and other.by is not None:
                yield Precedence(one.to, other.by, "over", one.lapsed)


def _held(
    problem: Problem,
    steps: Sequence[PlanStep],
    every: Mapping[str, Sequence[StateSpan]],
    resource: str,
) -> Iterator[_Holding]:
    for n, step in enumerate(steps):
        if problem.step(step.name).uses.get(resource):
            yield _Holding(tenths(step.start), tenths(step.tail_end), n, n)
    for name, condition in problem.conditions.items():
        for span in every[name]:
            if condition.holds.get(span.state, {}).get(resource):
                if span.to is not None or span.by is None:
                    yield _Holding(span.begin, span.end, span.by, span.to)
                else:
                    over = tenths(steps[span.by].tail_end)
                    yield _Holding(span.begin, span.end, span.by, span.by, span.end - over)


# ---------------------------------------------------------------- lapses, changes of machine


def _of_lapses(
    problem: Problem, steps: Sequence[PlanStep], name: str, found: Sequence[StateSpan]
) -> Iterator[Precedence]:
    """A state that lapses binds the steps that rely on it to the step that set it, both ways."""
    setter, until = None, _until(steps)
    for span in found:
        setter = span.by if span.by is not None else setter
        for n, step in enumerate(steps):
            described = problem.step(step.name)
            at = tenths(step.start)
            if setter is None or n == setter or name not in described.needs:
                continue
            if not span.reached <= at < span.end:
                continue
            since = tenths(steps[setter].start)
            yield Precedence(setter, n, "over", span.reached - tenths(steps[setter].tail_end))
            if span.to is None and span.left < until:
                sets = name in described.sets
                lag = since - span.left
                yield Precedence(n, setter, "start" if sets else "over", lag + 1 if sets else lag)


def _of_changes(
    problem: Problem, steps: Sequence[PlanStep], every: Mapping[str, Sequence[StateSpan]]
) -> Iterator[Precedence]:
    """A technician begins on another machine only after closing what was left exposed on the first one."""
    if problem.change_minutes is None:
        return
    change = tenths(problem.change_minutes)
    for name, condition in problem.conditions.items():
        for span in every[name]:
            if span.state not in condition.exposed or span.by is None or span.to is None:
                continue
            machine = problem.step(steps[span.by].name).machine
            for n, step in enumerate(steps):
                other = problem.step(step.name).machine
                theirs = set(step.technicians) & set(steps[span.by].technicians)
                if theirs and other not in {None, machine} and tenths(step.start) >= span.end:
                    yield Precedence(span.to, n, "over", change)


# ---------------------------------------------------------------- when somebody is there


def windows(problem: Problem, step: PlanStep) -> list[Window] | None:
    """Times, in tenths, in which all who do the step are at work; None where they always are."""
    found: list[Window] | None = None
    for technician in problem.technicians:
        if technician.name in step.technicians and technician.shifts is not None:
            shifts = [(tenths(begin), tenths(end)) for begin, end in technician.shifts]
            found = shifts if found is None else list(_both(found, shifts))
    return None if found is None else sorted(found)


def _both(some: Sequence[Window], others: Sequence[Window]) -> Iterator[Window]:
    for begin, end in some:
        for start, stop in others:
            if max(begin, start) < min(end, stop):
                yield max(begin, start), min(end, stop)


def free_from(problem: Problem, steps: Sequence[PlanStep]) -> list[int]:
    """Per step the earliest start, in tenths, that no other step of the plan decides.

    That is its release, the end of what is under way at minute 0, and what lapses by itself from the beginning.
    """
    free = [
        max(tenths(problem.step(step.name).release), _under_way(problem, step)) for step in steps
    ]
    for name, condition in problem.conditions.items():
        if condition.lapse:
            untouched = [s for s in spans(problem, steps, name, _until(steps)) if s.by is None]
            for n, step in enumerate(steps):
                if name in problem.step(step.name).needs:
                    at = tenths(step.start)
                    reached = [span.reached for span in untouched if span.reached <= at < span.end]
                    free[n] = max([free[n], *reached])
    return free


def _under_way(problem: Problem, step: PlanStep) -> int:
    """When steps already under way leave free what this one wants: people, conditions, resources."""
    wanted, latest = problem.step(step.name), 0
    for running in problem.now.running if problem.now else ():
        there = problem.step(running.name)
        if set(running.technicians) & set(step.technicians):
            latest = max(latest, tenths(running.minutes))
        shares = there.uses.keys() & wanted.uses.keys()
        if shares or bound_by_order(problem, running.name, step.name):
            latest = max(latest, tenths(running.minutes) + tenths(running.unattended))
    return latest


def own_day(problem: Problem, step: PlanStep) -> Window | None:
    """The day, in tenths, a step stays on that opens or closes what may not stand exposed over night."""
    sets = problem.step(step.name).sets
    if not any(problem.conditions[name].exposed for name in sets):
        return None
    ends = [tenths(end) for end in day_ends(problem)]
    before = max((end for end in ends if end <= tenths(step.start)), default=0)
    after = min((end for end in ends if end >= tenths(step.tail_end)), default=None)
    return None if after is None else (before, after)
