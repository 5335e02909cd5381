"""Replay who does what: hands, skills, shifts, and nobody at two things at once (rule 4)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from witnessmark.planner.check_replay import Fault, Placed, Rule, minutes
from witnessmark.planner.problem import Problem, Technician, tenths


def people(problem: Problem, placed: list[Placed]) -> list[Fault]:
    """Everything wrong with who does what. A step under way is taken as it is; its technicians are
    busy.
    """
    by_name = {technician.name: technician for technician in problem.technicians}
    faults: list[Fault] = []
    for one in placed:
        if not one.running:
            faults.extend(_hands(one))
            for name in dict.fromkeys(one.technicians):
                faults.extend(_fit(one, name, by_name.get(name)))
    faults.extend(_one_thing_at_a_time(placed))
    return faults


def _hands(one: Placed) -> Iterator[Fault]:
    wanted, given = one.step.hands, len(set(one.technicians))
    nothing_attended = one.start == one.end and not one.technicians
    if len(one.technicians) != given:
        words = f"{one.name} names a technician twice; it takes {wanted} different ones"
    elif given != wanted and not nothing_attended:
        words = f"{one.name} takes {wanted} technicians, {given} are named"
    else:
        return
    yield Fault(Rule.PEOPLE, (one.name,), minutes(one.start), words)


def _fit(one: Placed, name: str, technician: Technician | None) -> Iterator[Fault]:
    """Known, skilled, and at work for the whole attended part."""
    at = minutes(one.start)
    if technician is None:
        yield Fault(Rule.PEOPLE, (one.name,), at, f"{one.name}: there is no technician {name}")
        return
    lacking = [
        s for s in one.step.skills if technician.skills is not None and s not in technician.skills
    ]
    if lacking:
        words = f"{one.name} takes {', '.join(lacking)}, which {name} cannot do"
        yield Fault(Rule.PEOPLE, (one.name,), at, words)
    if technician.shifts is None or one.start == one.end:
        return
    if not any(tenths(a) <= one.start and one.end <= tenths(b) for a, b in technician.shifts):
        words = (
            f"{one.name} keeps {name} from {at:g} to {minutes(one.end):g}, which "
            f"lies in no one shift of {name}"
        )
        yield Fault(Rule.PEOPLE, (one.name,), at, words)


def _one_thing_at_a_time(placed: list[Placed]) -> Iterator[Fault]:
    for name, work in _attended_by(placed).items():
        latest = work[0] if work else None
        for one in work[1:]:
            assert latest is not None
            if one.start < latest.end:
                words = (
                    f"{name} is at {latest.name} and at {one.name} at minute {minutes(one.start):g}"
                )
                yield Fault(Rule.PEOPLE, (latest.name, one.name), minutes(one.start), words)
            latest = max(latest, one, key=lambda at_work: at_work.end)


def _attended_by(placed: list[Placed]) -> dict[str, list[Placed]]:
    """Per technician the steps he attends, in order; parts of no length keep nobody."""
    work: dict[str, list[Placed]] = defaultdict(list)
    for one in sorted(placed, key=lambda one: one.start):
        if one.start < one.end:
            for name in dict.fromkeys(one.technicians):
                work[name].append(one)
    return work
