"""Scheduling as a constraint model (CP-SAT): starts, crews, visits of technicians to machines.

Each technician's day is a row of visits: while he is on a visit, he works on one machine only. A visit
lasts until his last attended part in it has ended and all he has opened in it is closed; between two
visits lie the minutes of a change.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from ortools.sat.python import cp_model

from witnessmark.planner.model.outline import Task
from witnessmark.planner.model.technicians import alike
from witnessmark.planner.problem import Problem, Technician, tenths
from witnessmark.planner.schedule.path import FINISH, ORIGIN, Path, Point
from witnessmark.planner.shifts import day_ends

VISITS = 2  # how often a technician may come to one machine


@dataclass(eq=False)
class Visit:
    """A technician at a machine without a break; ``there`` is whether the visit takes place at all."""

    machine: str
    there: cp_model.IntVar
    begin: cp_model.IntVar
    end: cp_model.IntVar


@dataclass(eq=False)
class Model:
    """The variables. ``crew[n][t]``: technician t attends item n."""

    cp: cp_model.CpModel
    problem: Problem
    path: Path
    horizon: int
    starts: list[cp_model.IntVar]
    finish: cp_model.IntVar
    crew: list[dict[int, cp_model.IntVar]] = field(default_factory=list)
    visits: list[dict[str, list[Visit]]] = field(default_factory=list)
    visited: dict[tuple[int, int], list[cp_model.IntVar]] = field(default_factory=dict)

    def at(self, point: Point) -> cp_model.LinearExpr | int:
        """A point as an expression."""
        if point.item == ORIGIN:
            return point.after
        return (self.finish if point.item == FINISH else self.starts[point.item]) + point.after


def model_of(problem: Problem, path: Path, horizon: int, floor: int = 0) -> Model:
    """The whole model, within ``horizon``; ``floor``: a finish that is proven not to be undercut."""
    cp = cp_model.CpModel()
    starts = [_start(cp, item, horizon) for item in path.items]
    m = Model(cp, problem, path, horizon, starts, cp.new_int_var(floor, max(floor, horizon), ""))
    for start, item in zip(starts, path.items, strict=True):
        cp.add(m.finish >= start + item.length)
    for arc in path.arcs:
        cp.add(m.at(arc.first) <= m.at(arc.then))
    _resources(m)
    _nights(m)
    _technicians(m)
    return m


def _start(cp: cp_model.CpModel, item: Task, horizon: int) -> cp_model.IntVar:
    if item.running is not None:
        return cp.new_int_var(0, 0, "")
    return cp.new_int_var(item.release, max(item.release, horizon - item.length), "")


def _resources(m: Model) -> None:
    """``uses`` and ``holds`` within capacity."""
    taken: dict[str, list[tuple[cp_model.IntervalVar, int]]] = {}
    for start, item in zip(m.starts, m.path.items, strict=True):
        for resource, units in item.step.uses.items():
            interval = m.cp.new_fixed_size_interval_var(start, item.length, "")
            taken.setdefault(resource, []).append((interval, units))
    for hold in m.path.holds:
        size = m.cp.new_int_var(0, m.horizon, "")
        begin, end = m.at(hold.begin), m.at(hold.end)
        interval = m.cp.new_interval_var(begin, size, end, "")
        taken.setdefault(hold.resource, []).append((interval, hold.units))
    for resource, intervals in taken.items():
        capacity = m.problem.resources.get(resource, 0)
        if sum(units for _, units in intervals) <= capacity:
            continue
        if all(2 * units > capacity for _, units in intervals):
            m.cp.add_no_overlap([interval for interval, _ in intervals])
            if all(units <= capacity for _, units in intervals):
                continue
        m.cp.add_cumulative([i for i, _ in intervals], [u for _, u in intervals], capacity)


def _nights(m: Model) -> None:
    """Nothing exposed stands over the end of a day; what is never closed stands over all that come."""
    for end in (tenths(minutes) for minutes in day_ends(m.problem)):
        if end >= m.horizon and not any(o.end.item == FINISH for o in m.path.opens):
            continue
        for spell in m.path.opens:
            after = m.cp.new_bool_var("")
            m.cp.add(m.at(spell.begin) >= end).only_enforce_if(after)
            if spell.end.item == FINISH:
                m.cp.add(after == 1)
            else:
                m.cp.add(m.at(spell.end) <= end).only_enforce_if(~after)


def _technicians(m: Model) -> None:
    worked = [n for n, item in enumerate(m.path.items) if item.step.hands and item.attended]
    technicians = m.problem.technicians
    m.crew = [{} for _ in m.path.items]
    if not worked:
        return
    if _need_no_names(m, worked):
        if technicians[0].shifts is not None:
            for n in worked:
                _in_shifts(m, n, technicians[0], None)
    else:
        _choose(m, worked)
    if len(technicians) > 1 or m.crew[worked[0]] == {}:
        intervals = [_attended(m, n) for n in worked]
        demands = [m.path.items[n].step.hands for n in worked]
        m.cp.add_cumulative(intervals, demands, len(technicians))


def _need_no_names(m: Model, worked: Sequence[int]) -> bool:
    """Whether it does not matter who does what."""
    items = [m.path.items[n] for n in worked]
    if m.problem.change_minutes is not None and len({i.step.machine for i in items} - {None}) > 1:
        return False
    able = all(_able(m.problem.technicians[0], item) for item in items)
    return alike(m.problem.technicians) and able and not any(i.running for i in items)


def _able(technician: Technician, item: Task) -> bool:
    if item.running is not None:
        return technician.name in item.running.technicians
    return technician.skills is None or set(item.step.skills) <= set(technician.skills)


def _attended(m: Model, n: int, there: cp_model.IntVar | None = None) -> cp_model.IntervalVar:
    length = m.path.items[n].attended
    if there is None:
        return m.cp.new_fixed_size_interval_var(m.starts[n], length, "")
    return m.cp.new_optional_fixed_size_interval_var(m.starts[n], length, there, "")


def _in_shifts(m: Model, n: int, technician: Technician, there: cp_model.IntVar | None) -> None:
    """The attended part lies within one shift; a running one has begun."""
    item = m.path.items[n]
    if technician.shifts is None or item.running is not None:
        return
    shifts = [(tenths(begin), tenths(end) - item.attended) for begin, end in technician.shifts]
    domain = cp_model.Domain.from_intervals([[a, b] for a, b in shifts if a <= b])
    constraint = m.cp.add_linear_expression_in_domain(m.starts[n], domain)
    if there is not None:
        constraint.only_enforce_if(there)


def _choose(m: Model, worked: Sequence[int]) -> None:
    """A literal per item and technician who can do it; each does one thing at a time."""
    same_shifts = len({t.shifts for t in m.problem.technicians}) == 1
    for n in worked:
        for t, technician in enumerate(m.problem.technicians):
            if _able(technician, m.path.items[n]):
                m.crew[n][t] = m.cp.new_bool_var("")
                if not same_shifts:
                    _in_shifts(m, n, technician, m.crew[n][t])
        if same_shifts:
            _in_shifts(m, n, m.problem.technicians[0], None)
        m.cp.add(sum(m.crew[n].values()) == m.path.items[n].step.hands)
    for t in range(len(m.problem.technicians)):
        theirs = [n for n in worked if t in m.crew[n]]
        m.cp.add_no_overlap([_attended(m, n, m.crew[n][t]) for n in theirs])
    if m.problem.change_minutes is not None:
        m.visits = [_visits(m, t, worked) for t in range(len(m.problem.technicians))]


def _visits(m: Model, t: int, worked: Sequence[int]) -> dict[str, list[Visit]]:
    """The visits of one technician, with the time of a change between any two."""
    theirs: dict[str, list[int]] = {}
    for n in worked:
        machine = m.path.items[n].step.machine
        if machine is not None and t in m.crew[n]:
            theirs.setdefault(machine, []).append(n)
    visits = {name: _to_machine(m, t, name, items) for name, items in theirs.items()}
    if len(visits) > 1:
        change = tenths(m.problem.change_minutes or 0.0)
        m.cp.add_no_overlap([_busy(m, visit, change) for v in visits.values() for visit in v])
    return visits


def _busy(m: Model, visit: Visit, change: int) -> cp_model.IntervalVar:
    size = m.cp.new_int_var(0, m.horizon + change, "")
    return m.cp.new_optional_interval_var(visit.begin, size, visit.end + change, visit.there, "")


def _to_machine(m: Model, t: int, machine: str, items: Sequence[int]) -> list[Visit]:
    """Each of his items on the machine lies in one of his visits to it, and what he opens, till closed."""
    cp = m.cp
    visits = [
        Visit(
            machine,
            cp.new_bool_var(""),
            cp.new_int_var(0, m.horizon, ""),
            cp.new_int_var(0, m.horizon, ""),
        )
        for _ in range(min(VISITS, len(items)))
    ]
    for earlier, later in pairwise(visits):
        cp.add_implication(later.there, earlier.there)
        cp.add(earlier.end <= later.begin).only_enforce_if(later.there)
    for visit in visits:
        cp.add(visit.begin <= visit.end)
    for n in items:
        within = [cp.new_bool_var("") for _ in visits]
        m.visited[n, t] = within
        cp.add(sum(within) == m.crew[n][t])
        for literal, visit in zip(within, visits, strict=True):
            cp.add_implication(literal, visit.there)
            cp.add(visit.begin <= m.starts[n]).only_enforce_if(literal)
            cp.add(visit.end >= m.starts[n] + m.path.items[n].attended).only_enforce_if(literal)
    for spell in m.path.opens:
        if spell.by is not None and (spell.by, t) in m.visited and spell.by in items:
            for literal, visit in zip(m.visited[spell.by, t], visits, strict=True):
                cp.add(visit.end >= m.at(spell.end)).only_enforce_if(literal)
                if spell.end.item == FINISH:
                    cp.add(visit.end == m.horizon).only_enforce_if(literal)
    return visits
