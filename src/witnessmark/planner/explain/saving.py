"""What doing the jobs together saves against doing them one by one."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.plan import Answer
from witnessmark.planner.sequence.solve import solve


@dataclass(frozen=True)
class Saving:
    """Attended minutes saved, and those of each job planned alone; None: not possible alone."""

    minutes: float | None
    alone: dict[str, float | None]


def saving(
    problem: Problem, answer: Answer, together: Mapping[str, Collection[str]] | None = None
) -> Saving:
    """The sum of the attended minutes of each job planned alone, less those of the plan.

    Operations without a job count as one job, named "". Deadlines are left aside. ``together``: by
    what name which jobs are planned in one, where some never come alone; absent: each by itself.
    """
    if together is None:
        together = {operation.job or "": (operation.job or "",) for operation in problem.operations}
    alone = {name: _attended_alone(problem, jobs) for name, jobs in together.items()}
    each = [minutes for minutes in alone.values() if minutes is not None]
    if answer.attended_minutes is None or len(each) < len(alone):
        return Saving(None, alone)
    return Saving(round(sum(each) - answer.attended_minutes, 1), alone)


def _attended_alone(problem: Problem, jobs: Collection[str]) -> float | None:
    return solve(jobs_alone(problem, jobs), objective="attended").attended_minutes


def jobs_alone(problem: Problem, jobs: Collection[str]) -> Problem:
    """The problem with the operations of some jobs, from the beginning, without deadlines."""
    data: dict[str, Any] = problem.model_dump()
    chosen = [o for o in data["operations"] if (o["job"] or "") in jobs]
    names = {operation["name"] for operation in chosen}
    for operation in chosen:
        operation["after"] = [name for name in operation["after"] if name in names]
    data |= {"operations": chosen, "horizon": None, "due_by": {}, "now": None}
    return Problem.model_validate(data)
