"""Which way a problem is solved: as one whole model, as several machines that share people and lifts, or as
times and resources alone.
"""

from __future__ import annotations

from witnessmark.planner.plan import Answer
from witnessmark.planner.problem import Problem
from witnessmark.planner.schedule.parts import parts
from witnessmark.planner.schedule.search import Budget
from witnessmark.planner.scheduling import is_pure, solve_scheduling
from witnessmark.planner.search import Goal
from witnessmark.planner.solve import DEFAULT_DETERMINISTIC_LIMIT, solve
from witnessmark.planner.together import LARGE, solve_together

WHOLE = 40  # operations up to which one whole model is tried even where parts are independent


def solved(
    problem: Problem,
    *,
    objective: Goal = "finish",
    time_limit: float | None = None,
    deterministic_limit: float | None = None,
    seed: int = 1,
    previous: Answer | None = None,
    interruptible: bool = False,
) -> Answer:
    """The best plan this planner finds, by whichever way suits the problem; parameters as for ``solve``."""
    if time_limit is None and deterministic_limit is None:
        deterministic_limit = DEFAULT_DETERMINISTIC_LIMIT
    budget = Budget(time_limit, deterministic_limit)
    if is_pure(problem):
        return solve_scheduling(problem, budget, seed=seed, previous=previous)
    if _is_board(problem):
        return solve_together(problem, budget, seed=seed, previous=previous)
    return solve(
        problem,
        objective=objective,
        time_limit=time_limit,
        deterministic_limit=deterministic_limit,
        seed=seed,
        previous=previous,
        interruptible=interruptible,
    )


def _is_board(problem: Problem) -> bool:
    """Whether changes of machine are watched, or there is too much for one model."""
    machines = {step.machine for step in problem.steps} - {None}
    if problem.change_minutes is not None and len(machines) > 1:
        return True
    operations = len(problem.operations)
    return operations > LARGE or (operations > WHOLE and len(parts(problem)) > 1)
