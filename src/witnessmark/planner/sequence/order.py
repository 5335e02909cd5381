"""Other orders of the same steps: which steps may change places, and an order that suits better."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

from witnessmark.planner.problem.dependence import bound_by_states
from witnessmark.planner.problem.model import Move, Operation
from witnessmark.planner.sequence.model.outline import Outline, Task
from witnessmark.planner.sequence.search import Solution

Item = tuple[Task, int, int]
Ordered = tuple[tuple[Task, int], ...]  # steps, and which copy, one after the other


def begun_then(outline: Outline, names: Sequence[str]) -> Ordered:
    """What is under way, then the steps of these names; KeyError for one that cannot be begun."""
    begun = [(task, 0) for task in outline.begun]
    return (*begun, *((outline.startable[name], copy) for name, copy in numbered(names)))


def depends(outline: Outline, earlier: Task, later: Task) -> bool:
    """Whether two steps must keep their order: one changes what the other needs, changes or forbids."""
    if earlier.name in outline.before.get(later.name, ()):
        return True
    return bound_by_states(outline.problem, earlier.step, later.step)


def sorted_by_rank(
    outline: Outline, items: Sequence[Item], rank: Callable[[Item | None, Item], tuple[int, ...]]
) -> list[Item]:
    """The items in an order that keeps dependent steps apart, least ``rank(last, next)`` first."""
    left, chosen = list(items), list[Item]()
    while left:
        free = [
            item
            for place, item in enumerate(left)
            if not any(depends(outline, before[0], item[0]) for before in left[:place])
        ]
        last = chosen[-1] if chosen else None
        best = min(free, key=lambda item: rank(last, item))
        chosen.append(best)
        left.remove(best)
    return chosen


def is_walk(earlier: Task, later: Task) -> bool:
    """Whether going from one step to the next changes machine, place or job, where both name one."""
    return apart(earlier.step, later.step)


def apart(one: Move | Operation, other: Move | Operation) -> bool:
    """Whether two steps name differing machines, places or jobs."""
    pairs = ((getattr(one, w, None), getattr(other, w, None)) for w in ("machine", "place", "job"))
    return any(a is not None and b is not None and a != b for a, b in pairs)


def walks_of(found: Solution) -> int:
    """Per technician neighbouring steps that differ in machine, place or job."""
    total = 0
    for technician in {n for crew in found.crews for n in crew}:
        theirs = [
            task
            for (task, _, _), crew in zip(found.starts, found.crews, strict=True)
            if technician in crew and (task.running is None or task.attended)
        ]
        total += sum(is_walk(a, b) for a, b in pairwise(theirs))
    return total


def deviation(names: Sequence[tuple[str, int]], previous: Sequence[str]) -> int:
    """Pairs of steps ordered otherwise than in the previous plan, copies of a move matched in order."""
    place = {key: number for number, key in enumerate(numbered(previous))}
    ranks = [place[name] for name in names if name in place]
    return sum(a > b for n, a in enumerate(ranks) for b in ranks[n + 1 :])


def numbered(names: Sequence[str]) -> list[tuple[str, int]]:
    """Each name with how often it came before."""
    seen: dict[str, int] = {}
    found = []
    for name in names:
        found.append((name, seen.get(name, 0)))
        seen[name] = seen.get(name, 0) + 1
    return found
