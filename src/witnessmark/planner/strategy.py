"""Which way a problem is solved: as one whole model, or as several machines that share people and lifts."""

from __future__ import annotations

from witnessmark.planner.plan import Answer
from witnessmark.planner.problem import Problem
from witnessmark.planner.schedule.parts import parts
from witnessmark.planner.schedule.search import Budget
from witnessmark.planner.search import Goal
from witnessmark.planner.solve import DEFAULT_DETERMINISTIC_LIMIT, solve
from witnessmark.planner.together import solve_together

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
    if _is_board(problem):
        budget = Budget(time_limit, deterministic_limit)
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
    """Whether changes of machine are watched, or there are independent parts and much to do.

    Without conditions only times and resources matter: the whole model proves these.
    """
    machines = {step.machine for step in problem.steps} - {None}
    if problem.change_minutes is not None and len(machines) > 1:
        return True
    large = bool(problem.conditions) and len(problem.operations) > WHOLE
    return large and len(parts(problem)) > 1
