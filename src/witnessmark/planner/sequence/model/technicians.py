"""Who works: each technician does one thing at a time, within skills and shifts."""

from __future__ import annotations

from collections.abc import Sequence

from ortools.sat.python import cp_model

from witnessmark.planner.problem.model import Technician, tenths
from witnessmark.planner.sequence.model.outline import Task
from witnessmark.planner.sequence.model.variables import Literal, Placed, Variables


def a_technician_does_one_thing_at_a_time(v: Variables) -> None:
    """Attended parts take different technicians for as long as they last."""
    technicians = v.outline.problem.technicians
    worked = [placed for placed in v.placed if placed.task.step.hands]
    if len(technicians) == 1:
        v.cp.add_no_overlap([_attended(v, p, p.present) for p in worked if p.task.attended])
        _keep_to_shifts(v, worked, technicians[0])
    elif alike(technicians) and not any(p.task.running for p in worked):
        busy = [p for p in worked if p.task.attended]
        intervals = [_attended(v, p, p.present) for p in busy]
        v.cp.add_cumulative(intervals, [p.task.step.hands for p in busy], len(technicians))
        _keep_to_shifts(v, worked, technicians[0])
    else:
        _choose_technicians(v, worked)


def alike(technicians: Sequence[Technician]) -> bool:
    """Whether it does not matter who does what: same skills, same shifts."""
    first = technicians[0]
    return all(
        (None if other.skills is None else set(other.skills))
        == (None if first.skills is None else set(first.skills))
        and other.shifts == first.shifts
        for other in technicians
    )


def able(technician: Technician, task: Task) -> bool:
    """Whether a technician has all the skills a step asks for; one under way is taken as it is."""
    if task.running is not None or technician.skills is None:
        return True
    return set(task.step.skills) <= set(technician.skills)


def work_takes_its_time(v: Variables) -> None:
    """The finish leaves time for all attended minutes, extra copies included; per skill too."""
    v.cp.add(v.finish * v.outline.hands >= v.attended)
    for skill in sorted({s for step in v.outline.problem.steps for s in step.skills}):
        skilled = sum(t.skills is None or skill in t.skills for t in v.outline.problem.technicians)
        begun = [t for t in v.outline.tasks if t.running is None and skill in t.step.skills]
        effort = sum(task.effort for task in begun)
        moves = (m for m in v.outline.moves if skill in m.step.skills)
        v.cp.add(v.finish * skilled >= effort + sum(v.count(m.name) * m.effort for m in moves))


def _attended(v: Variables, placed: Placed, present: Literal | None) -> cp_model.IntervalVar:
    length = placed.task.attended
    if present is None:
        return v.cp.new_fixed_size_interval_var(placed.start, length, "")
    return v.cp.new_optional_fixed_size_interval_var(placed.start, length, present, "")


def _keep_to_shifts(v: Variables, worked: Sequence[Placed], technician: Technician) -> None:
    """The one technician, or technicians all alike: skills settle who can be placed at all."""
    for placed in worked:
        if not able(technician, placed.task):
            v.cp.add_bool_or([] if placed.present is None else [~placed.present])
        elif technician.shifts is not None:
            constraint = v.cp.add_linear_expression_in_domain(
                placed.start, _starts(technician, placed.task)
            )
            if placed.present is not None:
                constraint.only_enforce_if(placed.present)


def _starts(technician: Technician, task: Task) -> cp_model.Domain:
    """Starts from which the attended part lies within one shift; a running step has started."""
    shifts = [(tenths(begin), tenths(end)) for begin, end in technician.shifts or ()]
    inside = [[begin, end - task.attended] for begin, end in shifts if end - begin >= task.attended]
    if task.running is not None:
        inside.append([0, 0])
    return cp_model.Domain.from_intervals(inside)


def _choose_technicians(v: Variables, worked: Sequence[Placed]) -> None:
    """A literal per step and technician who can do it."""
    technicians = v.outline.problem.technicians
    theirs: list[list[cp_model.IntervalVar]] = [[] for _ in technicians]
    for placed in worked:
        chosen = {}
        for n, technician in enumerate(technicians):
            if _may_do(technician, placed.task):
                chosen[n] = v.literal()
                theirs[n].append(_attended(v, placed, chosen[n]))
                if technician.shifts is not None:
                    v.cp.add_linear_expression_in_domain(
                        placed.start, _starts(technician, placed.task)
                    ).only_enforce_if(chosen[n])
        hands = placed.task.step.hands
        v.cp.add(
            sum(chosen.values()) == (hands if placed.present is None else hands * placed.present)
        )
        v.workers[placed.task, placed.copy] = chosen
    for intervals in theirs:
        v.cp.add_no_overlap(intervals)
    busy = [p for p in worked if p.task.attended]
    demands = [p.task.step.hands for p in busy]
    v.cp.add_cumulative([_attended(v, p, p.present) for p in busy], demands, len(technicians))


def _may_do(technician: Technician, task: Task) -> bool:
    if task.running is not None and task.attended:
        return technician.name in task.running.technicians
    return able(technician, task)
