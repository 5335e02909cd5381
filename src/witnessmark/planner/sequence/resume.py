"""Resume a plan: its rest is proven the best by the proof of the whole.

Let X be a plan for the problem as it was, D its steps done or begun by now, and Y any plan from here on. D, then
Y is a plan for the problem as it was. So Y's effort is at least the least effort then, less that of D; and Y's
finish is at least the proven finish then, less the time D takes alone. Where the rest of X, its order kept, meets
these bounds, it is the best from here, and nothing need be searched. It must be so that the clock decides nothing
(``is_by_order_alone``): a state that lapses may be older here than it was in X.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import tenths
from witnessmark.planner.problem.plan import Answer, Goal
from witnessmark.planner.sequence.model.ordering import is_by_order_alone
from witnessmark.planner.sequence.model.outline import Outline, outline
from witnessmark.planner.sequence.order import begun_then
from witnessmark.planner.sequence.precedence_graph import PrecedenceGraph
from witnessmark.planner.sequence.search import Solution


@dataclass(frozen=True)
class RestOfPlan:
    """The rest of a plan, its names in order, and bounds in tenths on any plan from here.

    ``least``: on each figure of any plan; ``then``: on each figure of those plans that are no worse in the other.
    The effort includes what is left of running steps.
    """

    names: tuple[str, ...]
    found: Solution
    least: Mapping[Goal, int]
    then: Mapping[Goal, int]

    def is_best(self, first: Goal, second: Goal) -> bool:
        """Whether no plan is better in the first figure, nor one no worse in it in the second."""
        values = self.found.values
        return self.least[first] >= values[first] and self.then[second] >= values[second]


def without_done(problem: Problem, earlier: Problem | None, previous: Answer) -> Answer:
    """The plan without its steps done or begun by now: what another order is compared with.

    Where the plan was not followed, or ``earlier`` is not given, all steps whose names are done or begun are left out.
    """
    way = None if earlier is None else _way(problem, earlier, previous)
    if way is not None:
        graph, gone = way
        first = graph.size - len(previous.steps)
        steps = [s for n, s in enumerate(previous.steps, first) if n not in gone]
    else:
        over = problem.begun
        steps = [step for step in previous.steps if step.name not in over]
    return previous.model_copy(update={"steps": tuple(steps)})


def _way(
    problem: Problem, earlier: Problem, previous: Answer
) -> tuple[PrecedenceGraph, set[int]] | None:
    """The steps of the plan with their graph, and those done or begun; None where it does not come by here."""
    if problem.now is None or _timeless(earlier) != _timeless(problem):
        return None
    before = outline(earlier)
    names = [step.name for step in previous.steps]
    if any(name not in before.startable for name in names):
        return None
    graph = PrecedenceGraph(before, begun_then(before, names))
    gone = _gone(graph, problem)
    return None if gone is None else (graph, gone)


def rest_of(here: Outline, earlier: Problem, previous: Answer) -> RestOfPlan | None:
    """The rest of the plan ``previous`` for ``earlier``; None where this is not a place on its way."""
    if not is_by_order_alone(here) or previous.status != "optimal":
        return None
    way = _way(here.problem, earlier, previous)
    if way is None:
        return None
    graph, gone = way
    kept = [graph.tasks[n].name for n in range(graph.size) if n not in gone]
    if any(name not in here.startable for name in kept):
        return None
    onward = PrecedenceGraph(here, begun_then(here, kept))
    found = onward.found(range(onward.size))
    least, then = _bounded(found, here, graph, sorted(gone), previous)
    return RestOfPlan(tuple(kept), found, least, then)


def _timeless(problem: Problem) -> Problem:
    return problem.model_copy(update={"now": None, "due_by": {}})


def _gone(graph: PrecedenceGraph, problem: Problem) -> set[int] | None:
    """The steps done or begun by now: the operations, what had to come before, and what the states tell.

    None where the states of here come about by no such steps.
    """
    now = problem.now
    assert now is not None
    over = problem.begun
    operations = {o.name for o in problem.operations}
    begun_moves = [one.name for one in now.running if one.name not in operations]
    begun = {n for n, t in enumerate(graph.tasks) if t.running or t.name in over & operations}
    gone = _with_before(graph, begun)
    while more := _next_on_the_way(graph, gone, problem):
        gone |= _with_before(graph, more)
    return gone if _is_here(graph, gone, problem, over & operations, begun_moves) else None


def _next_on_the_way(graph: PrecedenceGraph, gone: set[int], problem: Problem) -> set[int]:
    """The next step of a condition that does not stand yet as it does here; nothing where all do."""
    for name in problem.conditions:
        state = graph.outline.problem.start_state(name)
        for n, task in enumerate(graph.tasks):
            if name in task.step.sets:
                if n not in gone:
                    if state != _state_reached(problem, name):
                        return {n}
                    break
                state = task.step.sets[name]
    return set()


def _with_before(graph: PrecedenceGraph, steps: set[int]) -> set[int]:
    pending, found = list(steps), set(steps)
    while pending:
        more = [i for i in graph.before[pending.pop()] if i not in found]
        found.update(more)
        pending += more
    return found


def _state_reached(problem: Problem, name: str) -> str:
    """The state of a condition once what is running is over."""
    for one in problem.now.running if problem.now else ():
        sets = problem.step(one.name).sets
        if name in sets:
            return sets[name]
    return problem.start_state(name)


def _is_here(
    graph: PrecedenceGraph,
    gone: set[int],
    problem: Problem,
    over: frozenset[str],
    begun_moves: Sequence[str],
) -> bool:
    """Whether exactly these operations are done or begun then, and every condition stands as it does here."""
    operations = {o.name for o in problem.operations}
    done = {graph.tasks[n].name for n in gone} & operations
    earlier = set(graph.outline.problem.now.done) if graph.outline.problem.now else set()
    if done | earlier != over | earlier or not earlier <= over:
        return False
    if any(name not in {graph.tasks[n].name for n in gone} for name in begun_moves):
        return False
    states = {name: graph.outline.problem.start_state(name) for name in problem.conditions}
    for n in sorted(gone):
        states |= graph.tasks[n].step.sets
    return all(states[name] == _state_reached(problem, name) for name in states)


def _bounded(
    found: Solution, here: Outline, graph: PrecedenceGraph, gone: Sequence[int], previous: Answer
) -> tuple[Mapping[Goal, int], Mapping[Goal, int]]:
    """What was proven of the whole, less what D takes; what is left of running steps is in D in full."""
    alone = graph.times(gone).finish if gone else 0
    left = sum(task.effort for task in here.begun)
    begun = sum(task.effort for task in graph.outline.begun)
    more = begun - sum(graph.tasks[n].effort for n in gone) + left
    attended = max(left, _tenths(previous.least_attended) + more)
    finish = max(-(-attended // here.hands), _tenths(previous.least_finish) - alone)
    least: dict[Goal, int] = {"finish": finish, "attended": attended}
    then = dict(least)
    if found.values["finish"] + alone <= _tenths(previous.finish_minutes):
        then["attended"] = max(attended, _tenths(previous.attended_bound) + more)
    if found.values["attended"] <= _tenths(previous.attended_minutes) + more:
        then["finish"] = max(finish, _tenths(previous.finish_bound) - alone)
    return least, then


def _tenths(minutes: float | None) -> int:
    return tenths(minutes or 0.0)
