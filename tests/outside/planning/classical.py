"""Least attended minutes by a classical planner: our problem as actions with costs, one step at a
time.

Outside source: the Unified Planning library (unified-planning 1.3, AIPlan4EU project) with the
planner Fast Downward (Helmert, "The Fast Downward Planning System", Journal of Artificial
Intelligence Research 26, 2006), asked for a cost-optimal plan by A* with the LM-cut heuristic.
For the largest task, which that does not finish in hours, SymK (Speck, Mattmüller, Nebel, "Symbolic
top-k planning", AAAI 2020; up-symk 1.6), which searches Fast Downward's translation symbolically
from both ends.

Why one step at a time is enough: take any plan of one technician without clocks and do its steps
one after the other in order of their starts. No step needs or sets what another is changing, so
each still finds its states; every combination of states that then occurs also occurred before; and
the attended minutes are the same.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import unified_planning as up
from unified_planning.engines.results import PlanGenerationResultStatus as Status
from unified_planning.shortcuts import (
    BoolType,
    Fluent,
    InstantaneousAction,
    MinimizeActionCosts,
    Not,
    OneshotPlanner,
    get_environment,
)

from witnessmark.planner import Operation, Problem, Step

FAST_DOWNWARD = "fast-downward-opt"
SYMK = "symk-opt"
PROVEN_IMPOSSIBLE = {Status.UNSOLVABLE_PROVEN, Status.UNSOLVABLE_INCOMPLETELY}
NOT_COMPARABLE = ("horizon", "due_by", "now")


@dataclass(frozen=True)
class Optimum:
    """What the classical planner proved: least attended minutes (None: there is no plan), and its
    steps.
    """

    attended_minutes: float | None
    steps: tuple[str, ...]

    @property
    def most_copies(self) -> int:
        """How often the step done most often is done."""
        return max(Counter(self.steps).values(), default=0)


def optimum(problem: Problem, seconds: float | None = None, engine: str = FAST_DOWNWARD) -> Optimum:
    """The classical planner's proven optimum. Raises TimeoutError where it has none in time."""
    refuse_what_is_not_comparable(problem)
    start = {name: {condition.start} for name, condition in problem.conditions.items()}
    if next(_together(problem, start), None) is not None:
        return Optimum(None, ())
    task, names = as_task(problem)
    get_environment().credits_stream = None
    with OneshotPlanner(name=engine) as planner:
        result = planner.solve(task, timeout=seconds)
    if result.status in PROVEN_IMPOSSIBLE:
        return Optimum(None, ())
    if result.status is not Status.SOLVED_OPTIMALLY:
        raise TimeoutError(f"{engine} says {result.status.name}")
    steps = tuple(names[action.action.name] for action in result.plan.actions)
    by_name = {step.name: step for step in problem.steps}
    return Optimum(sum(by_name[name].effort_tenths for name in steps) / 10, steps)


def refuse_what_is_not_comparable(problem: Problem) -> None:
    """Raise ValueError where clocks or several people could change the least attended minutes."""
    timed = any(c.lapse or c.holds for c in problem.conditions.values())
    late = any(operation.release for operation in problem.operations)
    people = len(problem.technicians) != 1 or problem.technicians[0].shifts is not None
    hands = any(step.hands > 1 or step.uses or step.skills for step in problem.steps)
    if timed or late or people or hands or any(getattr(problem, key) for key in NOT_COMPARABLE):
        raise ValueError("a classical planner knows no clocks, and here but one technician")


def as_task(problem: Problem) -> tuple[up.model.Problem, dict[str, str]]:
    """The problem as a classical planning task, and the step that each of its actions stands for."""
    writer = _Writer(problem)
    for step in problem.steps:
        for olds, allowed in ways(problem, step):
            writer.action(step, olds, allowed)
    return writer.finished(), writer.names


class _Writer:
    """A task in the making: a fluent per state of a condition, two per operation (to do, done)."""

    def __init__(self, problem: Problem) -> None:
        self.problem, self.task = problem, up.model.Problem("order_of_work")
        self.names: dict[str, str] = {}
        self.costs: dict[InstantaneousAction, int] = {}
        self.state, self.todo, self.done = {}, {}, {}
        for i, (name, condition) in enumerate(problem.conditions.items()):
            for j, value in enumerate(condition.states):
                holds = value == condition.start
                self.state[name, value] = self._fluent(f"c{i}_{j}", start=holds)
        for i, operation in enumerate(problem.operations):
            self.todo[operation.name] = self._fluent(f"todo{i}", start=True)
            self.done[operation.name] = self._fluent(f"done{i}", start=False)

    def _fluent(self, name: str, *, start: bool) -> Fluent:
        return self.task.add_fluent(Fluent(name, BoolType()), default_initial_value=start)

    def action(self, step: Step, olds: dict[str, str], allowed: dict[str, set[str]]) -> None:
        """One way to do the step: from these old states, with the others in these allowed ones."""
        action = InstantaneousAction(f"s{len(self.names)}")
        for name, states in allowed.items():
            self._allow(action, name, states)
        for name, old in olds.items():
            action.add_precondition(self.state[name, old])
            if step.sets[name] != old:
                action.add_effect(self.state[name, old], False)
                action.add_effect(self.state[name, step.sets[name]], True)
        if isinstance(step, Operation):
            self._once(action, step)
        if action.effects:  # without, it would change nothing
            self.task.add_action(action)
            self.costs[action], self.names[action.name] = step.effort_tenths, step.name

    def _allow(self, action: InstantaneousAction, name: str, states: set[str]) -> None:
        if len(states) == 1:
            action.add_precondition(self.state[name, *states])
        else:
            for other in sorted(set(self.problem.conditions[name].states) - states):
                action.add_precondition(Not(self.state[name, other]))

    def _once(self, action: InstantaneousAction, operation: Operation) -> None:
        action.add_precondition(self.todo[operation.name])
        action.add_effect(self.todo[operation.name], False)
        action.add_effect(self.done[operation.name], True)
        for before in operation.after:
            action.add_precondition(self.done[before])

    def finished(self) -> up.model.Problem:
        """The task with its goals and costs."""
        for name, condition in self.problem.conditions.items():
            if condition.finish is not None:
                self.task.add_goal(self.state[name, condition.finish])
        for fluent in self.done.values():
            self.task.add_goal(fluent)
        self.task.add_quality_metric(MinimizeActionCosts(self.costs))
        return self.task


Ways = Iterator[tuple[dict[str, str], dict[str, set[str]]]]


def ways(problem: Problem, step: Step) -> Ways:
    """From which states the step may be done: the old states of what it sets, the states allowed of
    others.
    """
    kept = {name: set(states) for name, states in step.needs.items() if name not in step.sets}
    for olds in _choices(problem, step, list(step.sets)):
        changing = {name: {old, step.sets[name]} for name, old in olds.items()}
        for allowed in _kept_apart(problem, changing, kept):
            yield olds, allowed


def _choices(problem: Problem, step: Step, names: list[str]) -> Iterator[dict[str, str]]:
    if not names:
        yield {}
        return
    states = step.needs.get(names[0], problem.conditions[names[0]].states)
    for rest in _choices(problem, step, names[1:]):
        for state in states:
            yield {names[0]: state, **rest}


def _kept_apart(
    problem: Problem, changing: dict[str, set[str]], kept: dict[str, set[str]]
) -> Iterator[dict[str, set[str]]]:
    """Allowed states of what does not change such that no forbidden combination comes up."""
    branches = [kept]
    for others in _together(problem, changing):
        apart = []
        for branch in branches:
            for name, forbidden in others.items():
                states = branch.get(name, set(problem.conditions[name].states)) - forbidden
                if states:
                    apart.append({**branch, name: states})
        branches = apart
    yield from branches


def _together(problem: Problem, changing: dict[str, set[str]]) -> Iterator[dict[str, set[str]]]:
    """Of each combination that these states bring up, what else must not hold."""
    for combination in problem.never:
        touched = [name for name in combination if name in changing]
        if touched and all(changing[name] & set(combination[name]) for name in touched):
            yield {n: set(states) for n, states in combination.items() if n not in changing}
