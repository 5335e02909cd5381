"""The constraint model put to work: the best schedule of a path within a horizon, and what is proven."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from witnessmark.planner.problem import END_OF_TIME, Problem, tenths
from witnessmark.planner.schedule.dispatch import Schedule
from witnessmark.planner.schedule.model import Model, model_of
from witnessmark.planner.schedule.path import Path
from witnessmark.planner.schedule.search import Budget


@dataclass(frozen=True)
class Result:
    """What a search found: a better schedule, if any; a bound, the end of time where there is no schedule."""

    schedule: Schedule | None
    bound: int


def by_model(
    problem: Problem, path: Path, horizon: int, bound: int, budget: Budget, seed: int
) -> Result:
    """The earliest finish of this path within the horizon; the bound is one for this path alone."""
    m = model_of(problem, path, horizon, bound)
    m.cp.minimize(m.finish)
    solver = solver_for(budget, seed)
    status = solver.solve(m.cp)
    budget.spent += solver.response_proto.deterministic_time
    if status == cp_model.INFEASIBLE:
        return Result(None, END_OF_TIME + 1)
    proven = math.ceil(solver.best_objective_bound - 1e-6)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Result(None, proven)
    at = tuple(solver.value(start) for start in m.starts)
    return Result(Schedule(at, _crews(m, solver, at), solver.value(m.finish)), proven)


def solver_for(budget: Budget, seed: int) -> cp_model.CpSolver:
    """One worker; measured: without the linear relaxation proofs are quicker."""
    solver = cp_model.CpSolver()
    parameters = solver.parameters
    parameters.num_workers = 1
    parameters.random_seed = seed
    parameters.linearization_level = 0
    if budget.seconds is not None:
        parameters.max_time_in_seconds = max(0.0, budget.began + budget.seconds - time.monotonic())
    if budget.deterministic is not None:
        parameters.max_deterministic_time = max(0.0, budget.deterministic - budget.spent)
    return solver


def long_enough(problem: Problem, path: Path) -> int:
    """A time by which some best plan is over, if there is a plan."""
    ends = [end for t in problem.technicians for _, end in t.shifts or ()]
    latest = max((item.release for item in path.items), default=0)
    return sum(item.length for item in path.items) + latest + tenths(max(ends, default=0.0))


def _crews(m: Model, solver: cp_model.CpSolver, at: Sequence[int]) -> tuple[tuple[int, ...], ...]:
    """Per item the technicians: as chosen, or, where all are alike, those free first."""
    free = [0] * len(m.problem.technicians)
    crews: list[tuple[int, ...]] = [()] * len(at)
    for n in sorted(range(len(at)), key=lambda n: (at[n], n)):
        item = m.path.items[n]
        if not item.step.hands or not item.attended:
            continue
        if m.crew[n]:
            crews[n] = tuple(t for t, literal in m.crew[n].items() if solver.value(literal))
        else:
            crews[n] = tuple(t for t, when in enumerate(free) if when <= at[n])[: item.step.hands]
        for t in crews[n]:
            free[t] = at[n] + item.attended
    return tuple(crews)
