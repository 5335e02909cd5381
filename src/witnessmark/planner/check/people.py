"""Replay who does what (rule 4): hands, skills, shifts, one step at a time, and no change of machine
while what was opened there is exposed.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from witnessmark.planner.check.layout import Placed, PlanFault, Rule, minutes
from witnessmark.planner.check.states import Timelines
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Technician, tenths


def people(problem: Problem, placed: list[Placed]) -> list[PlanFault]:
    """Everything wrong with who does what. A step under way is taken as it is; its technicians are
    busy.
    """
    by_name = {technician.name: technician for technician in problem.technicians}
    faults: list[PlanFault] = []
    for one in placed:
        if not one.running:
            faults.extend(_hands(one))
            for name in dict.fromkeys(one.technicians):
                faults.extend(_fit(one, name, by_name.get(name)))
    faults.extend(_one_thing_at_a_time(placed))
    return faults


def _hands(one: Placed) -> Iterator[PlanFault]:
    wanted, given = one.step.hands, len(set(one.technicians))
    nothing_attended = one.start == one.end and not one.technicians
    if len(one.technicians) != given:
        words = f"{one.name} names a technician twice; it takes {wanted} different ones"
    elif given != wanted and not nothing_attended:
        words = f"{one.name} takes {wanted} technicians, {given} are named"
    else:
        return
    yield PlanFault(Rule.PEOPLE, (one.name,), minutes(one.start), words)


def _fit(one: Placed, name: str, technician: Technician | None) -> Iterator[PlanFault]:
    """Known, skilled, and at work for the whole attended part."""
    at = minutes(one.start)
    if technician is None:
        yield PlanFault(Rule.PEOPLE, (one.name,), at, f"{one.name}: there is no technician {name}")
        return
    lacking = [
        s for s in one.step.skills if technician.skills is not None and s not in technician.skills
    ]
    if lacking:
        words = f"{one.name} takes {', '.join(lacking)}, which {name} cannot do"
        yield PlanFault(Rule.PEOPLE, (one.name,), at, words)
    if technician.shifts is None or one.start == one.end:
        return
    if not any(tenths(a) <= one.start and one.end <= tenths(b) for a, b in technician.shifts):
        words = (
            f"{one.name} keeps {name} from {at:g} to {minutes(one.end):g}, which "
            f"lies in no one shift of {name}"
        )
        yield PlanFault(Rule.PEOPLE, (one.name,), at, words)


def _one_thing_at_a_time(placed: list[Placed]) -> Iterator[PlanFault]:
    for name, work in _attended_by(placed).items():
        latest = work[0] if work else None
        for one in work[1:]:
            assert latest is not None
            if one.start < latest.end:
                words = (
                    f"{name} is at {latest.name} and at {one.name} at minute {minutes(one.start):g}"
                )
                yield PlanFault(Rule.PEOPLE, (latest.name, one.name), minutes(one.start), words)
            latest = max(latest, one, key=lambda at_work: at_work.end)


def _attended_by(placed: list[Placed]) -> dict[str, list[Placed]]:
    """Per technician the steps attended, in order; parts of no length occupy no one."""
    work: dict[str, list[Placed]] = defaultdict(list)
    for one in sorted(placed, key=lambda one: one.start):
        if one.start < one.end:
            for name in dict.fromkeys(one.technicians):
                work[name].append(one)
    return work


@dataclass(frozen=True)
class _Opening:
    """A condition stands exposed from the start of the step that opened it until it is closed, or
    has lapsed; ``shut`` is None where it stands open to the end.
    """

    condition: str
    by: Placed
    shut: int | None


def changes(problem: Problem, timelines: Timelines) -> Iterator[PlanFault]:
    """A technician begins on another machine ``change_minutes`` after leaving the one before: when the
    last attended part there has ended, and all that this technician opened elsewhere is closed. Steps that
    name no machine are no change.
    """
    if problem.change_minutes is None:
        return
    takes = tenths(problem.change_minutes)
    openings = [one for name in problem.conditions for one in _openings(timelines, name)]
    for name, work in _attended_by(timelines.placed).items():
        theirs = [one for one in openings if name in one.by.technicians]
        for before, later in pairwise([one for one in work if one.step.machine is not None]):
            if before.step.machine != later.step.machine:
                yield from _too_soon(name, before, later, takes)
                yield from _left_open(name, later, theirs, takes)


def _openings(timelines: Timelines, name: str) -> Iterator[_Opening]:
    exposed = set(timelines.problem.conditions[name].exposed)
    by: Placed | None = None
    for span in timelines.spans[name] if exposed else ():
        if by is not None and span.states[0] not in exposed:
            yield _Opening(name, by, span.start)
            by = None
        if by is None and span.changing is not None and span.states[0] not in exposed:
            by = span.changing if span.states[-1] in exposed else None
    if by is not None:
        yield _Opening(name, by, None)


def _too_soon(name: str, before: Placed, later: Placed, takes: int) -> Iterator[PlanFault]:
    if later.start < before.end + takes:
        words = (
            f"{name} goes from {before.name} to {later.name} in "
            f"{minutes(later.start - before.end):g} minutes; another machine takes {minutes(takes):g}"
        )
        yield PlanFault(Rule.PEOPLE, (before.name, later.name), minutes(later.start), words)


def _left_open(
    name: str, later: Placed, openings: list[_Opening], takes: int
) -> Iterator[PlanFault]:
    for opening in openings:
        elsewhere = opening.by.step.machine not in (None, later.step.machine)
        if not elsewhere or opening.by.start >= later.start:
            continue
        if opening.shut is None or later.start < opening.shut + takes:
            words = (
                f"{name} begins {later.name} on another machine, and {opening.condition}, opened by "
                f"{opening.by.name}, is not closed {minutes(takes):g} minutes before"
            )
            names = (opening.by.name, later.name)
            yield PlanFault(Rule.PEOPLE, names, minutes(later.start), words)
