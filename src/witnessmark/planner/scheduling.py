"""Pure scheduling: operations that follow one another and use resources, no states. One lean model (CP-SAT).

Attended minutes are the same in every plan, so a plan is best where its finish is.
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence

from ortools.sat.python import cp_model

from witnessmark.planner.plan import Answer, PlanStep
from witnessmark.planner.problem import END_OF_TIME, Problem, tenths
from witnessmark.planner.schedule.bounds import Part, finish_bound, plain_effort
from witnessmark.planner.schedule.by_model import (
    Result,
    by_model,
    long_enough,
    solver_for,
)
from witnessmark.planner.schedule.dispatch import Dispatch, Schedule
from witnessmark.planner.schedule.path import FINISH, ORIGIN, Path, path_of
from witnessmark.planner.schedule.search import Budget, scheduled
from witnessmark.planner.together import answer_of, with_bounds

FIRST = 0.01  # deterministic seconds for a schedule to begin with
MOST_SEARCHED = 2_000  # operations beyond which the first schedule is all there is


def is_pure(problem: Problem) -> bool:
    """Whether nothing but times, people and resources matters."""
    return bool(problem.operations) and not problem.conditions and not problem.moves


def solve_scheduling(
    problem: Problem, budget: Budget, *, seed: int = 1, previous: Answer | None = None
) -> Answer:
    """The plan of the earliest finish, proven where time allows."""
    began = time.monotonic()
    path = path_of(problem, _anywhere(problem))
    effort = plain_effort(problem)
    latest = END_OF_TIME if problem.horizon is None else tenths(problem.horizon)
    bound = finish_bound(problem, [Part(problem, effort)])
    best = None
    if budget.left() > 0:
        quick = Budget(deterministic=min(FIRST, budget.left()))
        best = scheduled(problem, path, [0] * len(path.items), bound, quick, seed)
    if (best is None or best.finish > bound) and len(path.items) <= MOST_SEARCHED:
        found = _searched(problem, path, best, min(bound, latest), budget, seed)
        best = found.schedule or best
        bound = max(bound, found.bound if best is None else min(found.bound, best.finish))
    seconds = round(time.monotonic() - began, 3)
    if bound > latest:
        return Answer(status="impossible", solve_seconds=seconds)
    if best is None or best.finish > latest:
        return Answer(status="unknown", solve_seconds=seconds)
    answer = with_bounds(answer_of(problem, path, best, previous), bound, effort)
    return answer.model_copy(update={"solve_seconds": seconds})


def _anywhere(problem: Problem) -> list[PlanStep]:
    """Steps for a path to be made from: without states their times do not matter."""
    gone = problem.begun
    return [
        PlanStep(name=o.name, kind="operation", start=0, end=0, tail_end=0)
        for o in problem.operations
        if o.name not in gone
    ]


def _searched(
    problem: Problem, path: Path, best: Schedule | None, bound: int, budget: Budget, seed: int
) -> Result:
    """A schedule within the best finish so far, by constraint search: lean where nobody is needed."""
    latest = tenths(problem.horizon) if problem.horizon is not None else END_OF_TIME
    horizon = min(latest, long_enough(problem, path) if best is None else best.finish)
    if any(item.step.hands and item.attended for item in path.items):
        return by_model(problem, path, horizon, bound, budget, seed)
    unit = _unit(path)
    cp, starts, finish = _lean(problem, path, horizon, bound, unit)
    cp.minimize(finish)
    solver = solver_for(budget, seed)
    status = solver.solve(cp)
    budget.spent += solver.response_proto.deterministic_time
    if status == cp_model.INFEASIBLE:
        return Result(None, END_OF_TIME + 1)
    proven = math.ceil(solver.best_objective_bound - 1e-6) * unit
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Result(None, proven)
    at = tuple(solver.value(start) * unit for start in starts)
    return Result(Schedule(at, tuple(() for _ in at), solver.value(finish) * unit), proven)


def _unit(path: Path) -> int:
    """The largest unit in which all times are whole, in tenths."""
    times = [time for item in path.items for time in (item.length, item.release)]
    times += [abs(arc.first.after - arc.then.after) for arc in path.arcs]
    return math.gcd(*times) or 1


def _lean(
    problem: Problem, path: Path, horizon: int, bound: int, unit: int
) -> tuple[cp_model.CpModel, list[cp_model.IntVar], cp_model.IntVar]:
    """Starts within heads and tails, what follows what, and resources; times in units."""
    cp = cp_model.CpModel()
    dispatch = Dispatch(problem, path, [0] * len(path.items))
    tails = dispatch.tails
    starts = [
        cp.new_int_var(
            0 if item.running else _up(item.release, unit),
            0 if item.running else max(_up(item.release, unit), (horizon - tail) // unit),
            "",
        )
        for item, tail in zip(path.items, tails, strict=True)
    ]
    finish = cp.new_int_var(_up(bound, unit), max(_up(bound, unit), horizon // unit), "")
    for arc in path.arcs:
        if arc.first.item not in (ORIGIN, FINISH) and arc.then.item not in (ORIGIN, FINISH):
            gap = (arc.first.after - arc.then.after) // unit
            cp.add(starts[arc.then.item] >= starts[arc.first.item] + gap)
    taken: dict[str, list[tuple[cp_model.IntervalVar, int]]] = {}
    for n, item in enumerate(path.items):
        if not dispatch.after[n]:
            cp.add(finish >= starts[n] + item.length // unit)
        if item.step.uses:
            interval = cp.new_fixed_size_interval_var(starts[n], item.length // unit, "")
            for resource, units in item.step.uses.items():
                taken.setdefault(resource, []).append((interval, units))
    for resource, asked in taken.items():
        _within(cp, asked, problem.resources.get(resource, 0))
    return cp, starts, finish


def _up(time_: int, unit: int) -> int:
    return -(-time_ // unit)


def _within(
    cp: cp_model.CpModel, asked: Sequence[tuple[cp_model.IntervalVar, int]], capacity: int
) -> None:
    if all(2 * units > capacity for _, units in asked) and all(u <= capacity for _, u in asked):
        cp.add_no_overlap([interval for interval, _ in asked])
    elif sum(units for _, units in asked) > capacity:
        cp.add_cumulative([i for i, _ in asked], [u for _, u in asked], capacity)
