"""Solve, explain, check: only what the independent checker finds sound is returned."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from witnessmark.planner.board.parts import parts
from witnessmark.planner.board.together import solve_together
from witnessmark.planner.check.check_plan import check_plan
from witnessmark.planner.explain.reasons import explained
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.day_problem import Board, MachineWork, board_of, board_problem
from witnessmark.planner.problem.model import Technician
from witnessmark.planner.problem.plan import Answer, Goal
from witnessmark.planner.sequence.conflict import conflict_of
from witnessmark.planner.sequence.resume import without_done
from witnessmark.planner.sequence.search_limits import SearchLimits
from witnessmark.planner.sequence.solve import continued, limits_of, solve_within

WHOLE = 40  # operations up to which one whole model is tried even where parts are independent


class UnsoundPlanError(RuntimeError):
    """The solver's plan did not pass the independent checker: an error of the program, never of the user."""


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
        previous = without_done(problem, earlier, previous)
    limits = limits_of(time_limit, deterministic_limit, seed=seed, interruptible=interruptible)
    answer = rest or _solved(problem, limits, objective, previous)
    if answer.status == "impossible" and answer.conflict is None:
        answer = answer.model_copy(update={"conflict": conflict_of(problem)})
    answer = explained(problem, answer)
    before = None if previous is None else [step.name for step in previous.steps]
    faults = check_plan(problem, answer, before)
    if faults:
        raise UnsoundPlanError("; ".join(str(fault) for fault in faults))
    return answer


def plan_board(
    visits: Sequence[MachineWork],
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


def _solved(
    problem: Problem, limits: SearchLimits, objective: Goal, previous: Answer | None
) -> Answer:
    """The best plan this planner finds, by whichever way suits the problem."""
    if _is_board(problem):
        return solve_together(problem, limits, seed=limits.seed, previous=previous)
    return solve_within(problem, limits, objective, previous)


def _is_board(problem: Problem) -> bool:
    """Whether changes of machine are watched, or there are independent parts and much to do.

    Without conditions only times and resources matter: the whole model proves these.
    """
    machines = {step.machine for step in problem.steps} - {None}
    if problem.change_minutes is not None and len(machines) > 1:
        return True
    large = bool(problem.conditions) and len(problem.operations) > WHOLE
    return large and len(parts(problem)) > 1
