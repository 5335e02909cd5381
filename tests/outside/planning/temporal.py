"""The finish by a temporal planner: our problem as durative actions, found as good as it can in a time.

Outside source: the Unified Planning library (unified-planning 1.3, AIPlan4EU project) with the planner
Aries (A. Bit-Monnot, "Enhancing Hybrid CP-SAT Search for Disjunctive Scheduling", ECAI 2023; up-aries
0.5, MIT licence). It allows ever more steps, so it finds good plans but ends no proof where a move may be
done any number of times: what it finds bounds the best finish from above.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import grpc
import unified_planning as up
import up_aries
from unified_planning.shortcuts import (
    AnytimePlanner,
    BoolType,
    ClosedTimeInterval,
    DurativeAction,
    EndTiming,
    Fluent,
    MinimizeMakespan,
    Not,
    StartTiming,
    get_environment,
)

from tests.outside.planning import classical
from witnessmark.planner import Operation, Problem, Step

FINE = 10  # of its units in a tenth of a minute: what it leaves between two steps adds up to less


@dataclass(frozen=True)
class Solution:
    """The best plan found: over after so many tenths; its steps as (name, start in tenths)."""

    finish_tenths: int
    steps: tuple[tuple[str, int], ...]


def best(problem: Problem, seconds: float, good_enough: int = 0) -> Solution | None:
    """The best plan that the temporal planner finds in so many seconds, or None.

    It is asked no longer once its finish is down to ``good_enough`` tenths.
    """
    classical.refuse_what_is_not_comparable(problem)
    writer = _Writer(problem)
    get_environment().credits_stream = None
    found = None
    with (
        TemporaryDirectory(prefix="aries-") as folder,
        AnytimePlanner(name="aries", params={"executable": _program(Path(folder))}) as planner,
    ):
        try:
            for result in planner.get_solutions(writer.task, timeout=seconds):
                found = writer.read(result.plan) if result.plan else found
                if found and found.finish_tenths <= good_enough:
                    break
        except grpc.RpcError:  # its server went away: what it found before counts
            return found
    return found


def _program(folder: Path) -> str:
    """Where its program is found: it parts its own command at blanks, so the way to it must have none."""
    way = folder / "aries"
    way.symlink_to(up_aries.Aries()._executable)
    return str(way)


class _Writer:
    """A task in the making: a fluent per state, two per operation, one for the free technician."""

    def __init__(self, problem: Problem) -> None:
        self.problem, self.task = problem, up.model.Problem("order_of_work")
        self.step_of: dict[str, Step] = {}
        self.state = {
            (name, value): self._fluent(f"c{i}_{j}", start=value == condition.start)
            for i, (name, condition) in enumerate(problem.conditions.items())
            for j, value in enumerate(condition.states)
        }
        self.free = self._fluent("free", start=True)
        self.todo = {
            o.name: self._fluent(f"todo{i}", start=True) for i, o in enumerate(problem.operations)
        }
        self.done = {
            o.name: self._fluent(f"done{i}", start=False) for i, o in enumerate(problem.operations)
        }
        for step in problem.steps:
            for olds, allowed in classical.ways(problem, step):
                self._action(step, olds, allowed)
        self._goals()

    def _fluent(self, name: str, *, start: bool) -> Fluent:
        return self.task.add_fluent(Fluent(name, BoolType()), default_initial_value=start)

    def _goals(self) -> None:
        for name, condition in self.problem.conditions.items():
            if condition.finish is not None:
                self.task.add_goal(self.state[name, condition.finish])
        for fluent in self.done.values():
            self.task.add_goal(fluent)
        self.task.add_quality_metric(MinimizeMakespan())

    def _action(self, step: Step, olds: dict[str, str], allowed: dict[str, set[str]]) -> None:
        """One way to do the step: from these old states, the others staying in these allowed ones."""
        action = DurativeAction(f"s{len(self.step_of)}")
        self.step_of[action.name] = step
        action.set_fixed_duration(step.tenths * FINE)
        whole = ClosedTimeInterval(StartTiming(), EndTiming())
        for name, states in allowed.items():
            for other in sorted(set(self.problem.conditions[name].states) - states):
                action.add_condition(whole, Not(self.state[name, other]))
            if len(states) == 1:  # and not being changed either
                action.add_condition(whole, self.state[name, *states])
        for name, old in olds.items():
            action.add_condition(StartTiming(), self.state[name, old])
            action.add_effect(StartTiming(), self.state[name, old], False)
            action.add_effect(EndTiming(), self.state[name, step.sets[name]], True)
        self._take_technician(action, step)
        if isinstance(step, Operation):
            self._once(action, step)
        self.task.add_action(action)

    def _take_technician(self, action: DurativeAction, step: Step) -> None:
        attended = step.effort_tenths
        if not attended:
            return
        over = StartTiming(attended * FINE) if attended < step.tenths else EndTiming()
        action.add_condition(StartTiming(), self.free)
        action.add_effect(StartTiming(), self.free, False)
        action.add_effect(over, self.free, True)

    def _once(self, action: DurativeAction, step: Operation) -> None:
        action.add_condition(StartTiming(), self.todo[step.name])
        action.add_effect(StartTiming(), self.todo[step.name], False)
        action.add_effect(EndTiming(), self.done[step.name], True)
        for before in step.after:
            action.add_condition(StartTiming(), self.done[before])

    def read(self, plan: up.plans.TimeTriggeredPlan) -> Solution:
        """Its plan in our names, each start on the tenth it stands for."""
        starts = sorted((int(start / FINE), a.action.name) for start, a, _ in plan.timed_actions)
        steps = [(self.step_of[name], start) for start, name in starts]
        finish = max((start + step.tenths for step, start in steps), default=0)
        return Solution(finish, tuple((step.name, start) for step, start in steps))
