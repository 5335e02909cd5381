"""Least attended minutes by plain search over (states, done operations): the second outside answer.

Uniform-cost search (Dijkstra), written without the planner and without the classical one, so that
the two outside answers can be held against each other before ours is held against them.
"""

import heapq
from itertools import count

from witnessmark.planner import Operation, Problem, Step

Node = tuple[tuple[str, ...], frozenset[str]]


def least_attended(problem: Problem) -> tuple[float, tuple[str, ...]] | None:
    """Least attended minutes and the steps, in order, of a plan that takes them; None if there is
    none.
    """
    names = list(problem.conditions)
    start: Node = (tuple(problem.conditions[name].start for name in names), frozenset())
    if _forbidden(problem, dict(zip(names, ({s} for s in start[0]), strict=True))):
        return None
    ticket = count()
    queue = [(0, next(ticket), start)]
    best: dict[Node, int] = {start: 0}
    came: dict[Node, tuple[Node, str]] = {}
    while queue:
        cost, _, node = heapq.heappop(queue)
        if cost > best[node]:
            continue
        if _is_finished(problem, names, node):
            return cost / 10, _path(came, node)
        for step in problem.steps:
            after = _done(problem, names, node, step)
            if after is not None and cost + step.effort_tenths < best.get(after, cost * 2 + 10**9):
                best[after] = cost + step.effort_tenths
                came[after] = (node, step.name)
                heapq.heappush(queue, (best[after], next(ticket), after))
    return None


def _done(problem: Problem, names: list[str], node: Node, step: Step) -> Node | None:
    """Where the step leads from here; None where it must not be done."""
    states = dict(zip(names, node[0], strict=True))
    if any(states[name] not in allowed for name, allowed in step.needs.items()):
        return None
    if isinstance(step, Operation) and (step.name in node[1] or not node[1].issuperset(step.after)):
        return None
    if _forbidden(problem, {n: {s, step.sets.get(n, s)} for n, s in states.items()}):
        return None
    done = node[1] | {step.name} if isinstance(step, Operation) else node[1]
    return tuple({**states, **step.sets}[name] for name in names), done


def _forbidden(problem: Problem, held: dict[str, set[str]]) -> bool:
    return any(
        all(not held[name].isdisjoint(states) for name, states in combination.items())
        for combination in problem.never
    )


def _is_finished(problem: Problem, names: list[str], node: Node) -> bool:
    finishes = (problem.conditions[name].finish for name in names)
    right = all(f is None or f == s for f, s in zip(finishes, node[0], strict=True))
    return right and len(node[1]) == len(problem.operations)


def _path(came: dict[Node, tuple[Node, str]], node: Node) -> tuple[str, ...]:
    steps: list[str] = []
    while node in came:
        node, name = came[node]
        steps.append(name)
    return tuple(reversed(steps))
