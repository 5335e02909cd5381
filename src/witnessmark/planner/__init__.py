"""Plan the order of work: proven, explained, checked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from witnessmark.planner.again import left_of
from witnessmark.planner.board import Board, board_of
from witnessmark.planner.board_form import BoardError, Visit, board_problem
from witnessmark.planner.check import check
from witnessmark.planner.conflict import conflict_in_words, conflict_of
from witnessmark.planner.explain import explained
from witnessmark.planner.plan import Answer, Conflict, PlanError, PlanStep, load_answer
from witnessmark.planner.problem import (
    Problem,
    ProblemError,
    Technician,
    load_problem,
    problem_from,
    problem_schema,
)
from witnessmark.planner.reasons.last_moment import LastMoment, last_moment
from witnessmark.planner.reasons.spread import Range, Spread, spread
from witnessmark.planner.reasons.wish import (
    Price,
    Wish,
    WishError,
    price_of_wish,
    read_wish,
    with_wish,
)
from witnessmark.planner.room import Room, Wait, room, waits
from witnessmark.planner.saving import Saving, saving
from witnessmark.planner.search import Goal
from witnessmark.planner.solve import continued, solve
from witnessmark.planner.strategy import solved

__all__ = [
    "Answer",
    "Board",
    "BoardError",
    "Conflict",
    "Goal",
    "LastMoment",
    "PlanError",
    "PlanStep",
    "Price",
    "Problem",
    "ProblemError",
    "Range",
    "Room",
    "Saving",
    "Spread",
    "UnsoundPlanError",
    "Visit",
    "Wait",
    "Wish",
    "WishError",
    "board",
    "board_problem",
    "conflict_in_words",
    "conflict_of",
    "last_moment",
    "load_answer",
    "load_problem",
    "plan",
    "price_of_wish",
    "problem_from",
    "problem_schema",
    "read_wish",
    "room",
    "saving",
    "solve",
    "spread",
    "waits",
    "with_wish",
]


class UnsoundPlanError(RuntimeError):
    """The solver's plan did not pass the independent checker: a fault of ours, never of the user."""


def plan(
    problem: Problem,
    *,
    objective: Goal = "finish",
    time_limit: float | None = None,
    deterministic_limit: float | None = None,
    seed: int = 1,
    previous: Answer | None = None,
    earlier: Problem | None = None,
    interruptible: bool = False,
) -> Answer:
    """Solve, explain, and hand out only what the independent checker finds sound.

    Parameters are those of ``solve``. ``earlier``: the problem that ``previous`` answers; where this one is the
    same some steps on (its ``now``), the rest of that plan need not be proven again. Raises UnsoundPlanError
    with the faults.
    """
    rest = None
    if previous is not None and earlier is not None:
        rest = continued(problem, earlier, previous, objective)
    if previous is not None:
        previous = left_of(problem, earlier, previous)
    answer = rest or solved(
        problem,
        objective=objective,
        time_limit=time_limit,
        deterministic_limit=deterministic_limit,
        seed=seed,
        previous=previous,
        interruptible=interruptible,
    )
    if answer.status == "impossible" and answer.conflict is None:
        answer = answer.model_copy(update={"conflict": conflict_of(problem)})
    answer = explained(problem, answer)
    before = None if previous is None else [step.name for step in previous.steps]
    faults = check(problem, answer, before)
    if faults:
        raise UnsoundPlanError("; ".join(str(fault) for fault in faults))
    return answer


def board(
    visits: Sequence[Visit],
    technicians: Sequence[Technician],
    *,
    resources: Mapping[str, int] | None = None,
    change_minutes: float | None = 0.0,
    clock: float = 0.0,
    time_limit: float | None = None,
    deterministic_limit: float | None = None,
    previous: Answer | None = None,
) -> Board:
    """Plan the day's machines together: their problems, the technicians with shifts and skills, the lifts.

    ``resources``, ``change_minutes`` and ``clock`` as for ``board_problem``, limits as for ``plan``. Raises what
    these raise.
    """
    problem = board_problem(
        visits, technicians, resources=resources, change_minutes=change_minutes, clock=clock
    )
    answer = plan(
        problem,
        time_limit=time_limit,
        deterministic_limit=deterministic_limit,
        previous=previous,
    )
    return board_of(visits, problem, answer)
