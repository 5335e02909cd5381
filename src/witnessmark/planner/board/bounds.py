"""Lower bounds on the finish of any plan, from hours, lifts and chains of work.

Everything is in whole tenths. Each bound holds by itself; the largest is used (``docs/planner.md``).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import (
    END_OF_TIME,
    Condition,
    Move,
    Operation,
    Technician,
    tenths,
)

MOST_GROUPS = 8  # technicians up to which every group of them is looked at


@dataclass(frozen=True)
class Part:
    """One independent part of a problem, and the least effort any plan of it takes."""

    problem: Problem
    effort: int


def finish_bound(problem: Problem, parts: Sequence[Part]) -> int:
    """No plan of the problem is over sooner. The parts are all there are."""
    left = _left(problem)
    return max(
        _chain(left, released=True),
        *(_hours(problem, parts, left, group) for group in _groups(problem.technicians)),
        *(_units(problem, parts, left, resource) for resource in problem.resources),
        _running(problem),
    )


def _left(problem: Problem) -> list[Operation]:
    """Operations neither done nor begun."""
    gone = problem.begun
    return [operation for operation in problem.operations if operation.name not in gone]


def _running(problem: Problem) -> int:
    """What is under way ends in its own time."""
    running = problem.now.running if problem.now else ()
    return max((tenths(r.minutes) + tenths(r.unattended) for r in running), default=0)


def _chain(operations: Sequence[Operation], *, released: bool) -> int:
    """The longest chain of operations that follow one another; ``released``: from their releases on."""
    by_name = {operation.name: operation for operation in operations}
    over: dict[str, int] = {}
    pending = [operation.name for operation in operations]
    while pending:
        name = pending[-1]
        missing = [e for e in by_name[name].after if e in by_name and e not in over]
        if name in over or not missing:
            pending.pop()
            before = max((over[e] for e in by_name[name].after if e in by_name), default=0)
            earliest = tenths(by_name[name].release) if released else 0
            over[name] = max(before, earliest) + by_name[name].tenths
        else:
            pending += missing
    return max(over.values(), default=0)


def _groups(technicians: Sequence[Technician]) -> list[tuple[Technician, ...]]:
    """All technicians; and, where they are few, every group of them."""
    everyone = tuple(technicians)
    if len(everyone) > MOST_GROUPS or len({t.skills for t in everyone}) == 1:
        return [everyone]
    sizes = range(1, len(everyone) + 1)
    return [group for size in sizes for group in combinations(everyone, size)]


def _hours(
    problem: Problem, parts: Sequence[Part], left: Sequence[Operation], group: Sequence[Technician]
) -> int:
    """When a group has had enough hours for the work that only it can do, from each release on."""
    everyone = len(group) == len(problem.technicians)
    alone = _efforts(problem, parts) if everyone else None
    theirs = [o for o in left if o.effort_tenths and _only(problem, o, group)]
    names = {o.name for o in theirs}
    bound = 0
    for release in sorted({0, *(tenths(o.release) for o in theirs)}):
        effort = 0
        machines: set[str | None] = set()
        for part in parts:
            later = [o for o in part.problem.operations if o.name in names and _from(o, release)]
            whole = everyone and all(_from(step, release) for step in part.problem.steps)
            effort += part.effort if whole else sum(o.effort_tenths for o in later)
            machines |= {o.machine for o in later}
        changes = len(machines) if _changes_cost(problem) else 0
        sizes = alone if release == 0 and changes else None
        bound = max(bound, _worked_off(problem, group, release, effort, changes, sizes))
    return bound


def _efforts(problem: Problem, parts: Sequence[Part]) -> list[int] | None:
    """The least effort of each machine; None where parts are not machines, or one is begun."""
    efforts: dict[str | None, int] = {}
    for part in parts:
        machines = {step.machine for step in part.problem.steps}
        if problem.now is not None or len(machines) != 1 or machines & efforts.keys():
            return None
        efforts[machines.pop()] = part.effort
    return list(efforts.values())


def _from(step: Move | Operation, release: int) -> bool:
    return tenths(step.release) >= release


def _only(problem: Problem, step: Operation, group: Collection[Technician]) -> bool:
    """Whether nobody outside the group can do it."""
    return all(
        technician in group
        for technician in problem.technicians
        if technician.skills is None or set(step.skills) <= set(technician.skills)
    )


def _changes_cost(problem: Problem) -> bool:
    """Whether the minutes of a change are lost for all work: not where some work names no machine."""
    if not problem.change_minutes:
        return False
    return all(step.machine is not None for step in problem.steps if step.effort_tenths)


def _worked_off(
    problem: Problem,
    group: Sequence[Technician],
    release: int,
    effort: int,
    machines: int,
    alone: Sequence[int] | None,
) -> int:
    """The first time by which the group has had hours for the effort and the changes it must make.

    In each shift worked in, a technician changes machine at least as often as the number of machines
    worked on, less one; every machine is worked on in at least one of these shifts. ``alone``: the least effort of each
    machine, where what is lost at the ends of shifts counts too.
    """
    if effort <= 0:
        return 0
    change = tenths(problem.change_minutes or 0.0)
    shifts = [
        (max(begin, release), end)
        for technician in group
        for begin, end in _shifts(technician)
        if end > release
    ]
    losses = {
        (begin, end): _left_over(end - begin, alone, change) if alone else 0
        for begin, end in set(shifts)
    }

    def enough(at: int) -> bool:
        begun = [(begin, min(end, at)) for begin, end in shifts if begin < at]
        had = sum(end - begin for begin, end in begun)
        over = [losses[shift] for shift in shifts if shift[1] <= at]
        return had >= effort + _lost(over, machines - len(begun), change)

    ends = sorted({0, *(end for _, end in shifts)})
    for first, last in pairwise([*ends, END_OF_TIME + 1]):
        if enough(last - 1):  # between two ends of shifts it holds from some time on
            return _first(enough, first, last - 1)
    return END_OF_TIME


def _left_over(length: int, efforts: Sequence[int], change: int) -> int:
    """What is left of a shift filled as well as can be with whole machines and the changes between them."""
    sums = 1
    for effort in efforts:
        sums |= sums << (effort + change)
    within = sums & ((1 << (length + change + 1)) - 1)
    return min(length, length + change - (within.bit_length() - 1))


def _lost(left_over: Sequence[int], changes: int, change: int) -> int:
    """What is lost at least by changes and in shifts that are over. Each of these is filled with whole
    machines, or shares one with another shift: one more visit, and so one more change, excuses two shifts.
    """
    losses = sorted(left_over)
    return min(
        change * max(0, changes + more) + sum(losses[: max(0, len(losses) - 2 * more)])
        for more in range((len(losses) + 1) // 2 + 1)
    )


def _shifts(technician: Technician) -> list[tuple[int, int]]:
    if technician.shifts is None:
        return [(0, END_OF_TIME)]
    return [(tenths(begin), tenths(end)) for begin, end in technician.shifts]


def _first(holds: Callable[[int], bool], low: int, high: int) -> int:
    """The least time from ``low`` for which it holds, given that it holds for all later ones to ``high``."""
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle + 1, high)
    return low


def _units(
    problem: Problem, parts: Sequence[Part], left: Sequence[Operation], resource: str
) -> int:
    """How long a resource is taken in any plan, over how much there is of it."""
    capacity = problem.resources[resource]
    taken = sum(o.uses.get(resource, 0) * o.tenths for o in left)
    hands = len(problem.technicians)
    names = {o.name for o in left}
    for part in parts:
        theirs = [o for o in part.problem.operations if o.name in names]
        for name, condition in part.problem.conditions.items():
            units = {s: held.get(resource, 0) for s, held in condition.holds.items()}
            if any(units.values()):
                taken += _held(part.problem, name, condition, units, theirs, hands)
    return -(-taken // capacity) if capacity else 0


def _held(
    problem: Problem,
    name: str,
    condition: Condition,
    units: dict[str, int],
    operations: Iterable[Operation],
    hands: int,
) -> int:
    """Units times tenths for which a condition holds a resource at least: going there, work there, going back."""
    holding = {state for state, count in units.items() if count}
    there = [
        o
        for o in operations
        if name not in o.sets and name in o.needs and holding.issuperset(o.needs[name])
    ]
    if not there:
        return 0
    least = min(units[state] for state in holding)
    work = max(-(-sum(o.effort_tenths for o in there) // hands), _chain(there, released=False))
    entering = leaving = 0
    if problem.start_state(name) not in holding and not condition.lapse:
        entering = _shortest(s for s in problem.steps if s.sets.get(name) in holding)
    if condition.finish is not None and condition.finish not in holding and not condition.lapse:
        leaving = _shortest(
            s for s in problem.steps if name in s.sets and s.sets[name] not in holding
        )
    running = {r.name for r in problem.now.running} if problem.now else set()
    begun = any(name in problem.step(step).sets for step in running)
    return least * (work + (0 if begun else entering + leaving))


def _shortest(steps: Iterable[Move | Operation]) -> int:
    return min((step.tenths for step in steps), default=0)
