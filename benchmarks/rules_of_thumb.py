"""Two rules of thumb that a person without a planner may follow, as sequences of attended minutes.

*One by one*: each job on its own, the machine put back in order after each. *Nearest next*: do
whatever needs the least access work from where the machine stands now; in the end put it back in order.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Iterator
from itertools import count

from witnessmark.planner import Answer, Operation, Problem, Step, saving

States = dict[str, str]


def one_by_one(problem: Problem, together: Answer) -> float | None:
    """Attended minutes of the jobs, each planned alone and at its best; None where one cannot be."""
    found = saving(problem, together)
    return None if found.minutes is None else found.minutes + (together.attended_minutes or 0.0)


def nearest_next(problem: Problem) -> float | None:
    """Attended minutes of doing the nearest operation next; None where that ends in a blind alley."""
    states = {name: condition.start for name, condition in problem.conditions.items()}
    done: set[str] = set()
    tenths = 0
    while len(done) < len(problem.operations):
        found = _nearest(problem, states, done)
        if found is None:
            return None
        cost, operation, at = found
        tenths, states = tenths + cost + operation.effort_tenths, at | operation.sets
        done.add(operation.name)
    home = next(_walk(problem, states, lambda at: _in_order(problem, at)), None)
    return None if home is None else (tenths + home[0]) / 10


def _nearest(
    problem: Problem, states: States, done: set[str]
) -> tuple[int, Operation, States] | None:
    left = [
        operation
        for operation in problem.operations
        if operation.name not in done and done.issuperset(operation.after)
    ]
    for cost, at in _walk(problem, states, lambda at: any(_may(problem, at, o) for o in left)):
        return cost, next(operation for operation in left if _may(problem, at, operation)), at
    return None


def _walk(
    problem: Problem, states: States, goal: Callable[[States], bool]
) -> Iterator[tuple[int, States]]:
    """Cheapest first, the states that moves alone lead to and that are wanted."""
    names = list(problem.conditions)
    ticket = count()
    start = tuple(states[name] for name in names)
    best, queue = {start: 0}, [(0, next(ticket), start)]
    while queue:
        cost, _, node = heapq.heappop(queue)
        if cost > best[node]:
            continue
        at = dict(zip(names, node, strict=True))
        if goal(at):
            yield cost, at
        for move in problem.moves:
            if _may(problem, at, move):
                after = tuple((at | move.sets)[name] for name in names)
                if cost + move.effort_tenths < best.get(after, cost + move.effort_tenths + 1):
                    best[after] = cost + move.effort_tenths
                    heapq.heappush(queue, (best[after], next(ticket), after))


def _may(problem: Problem, at: States, step: Step) -> bool:
    if any(at[name] not in allowed for name, allowed in step.needs.items()):
        return False
    held = {name: {state, step.sets.get(name, state)} for name, state in at.items()}
    return not any(_all_held(held, combination.items()) for combination in problem.never)


def _all_held(held: dict[str, set[str]], combination: Iterable[tuple[str, Iterable[str]]]) -> bool:
    return all(not held[name].isdisjoint(states) for name, states in combination)


def _in_order(problem: Problem, at: States) -> bool:
    finishes = ((name, condition.finish) for name, condition in problem.conditions.items())
    return all(finish in {None, at[name]} for name, finish in finishes)
