"""What doing the jobs together saves against doing them one by one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from witnessmark.planner.plan import Answer
from witnessmark.planner.problem import Problem
from witnessmark.planner.solve import solve


@dataclass(frozen=True)
class Saving:
    """Attended minutes saved, and those of each job planned alone; None: not possible alone."""

    minutes: float | None
    alone: dict[str, float | None]


def saving(problem: Problem, answer: Answer) -> Saving:
    """The sum of the attended minutes of each job planned alone, less those of the plan.

    Operations without a job count as one job, named "". Deadlines are left aside.
    """
    jobs = dict.fromkeys(operation.job or "" for operation in problem.operations)
    alone = {job: _attended_alone(problem, job) for job in jobs}
    each = [minutes for minutes in alone.values() if minutes is not None]
    if answer.attended_minutes is None or len(each) < len(alone):
        return Saving(None, alone)
    return Saving(round(sum(each) - answer.attended_minutes, 1), alone)


def _attended_alone(problem: Problem, job: str) -> float | None:
    return solve(job_alone(problem, job), objective="attended").attended_minutes


def job_alone(problem: Problem, job: str) -> Problem:
    """The problem with the operations of one job, from the beginning, without deadlines."""
    data: dict[str, Any] = problem.model_dump()
    chosen = [o for o in data["operations"] if (o["job"] or "") == job]
    names = {operation["name"] for operation in chosen}
    for operation in chosen:
        operation["after"] = [name for name in operation["after"] if name in names]
    data |= {"operations": chosen, "horizon": None, "due_by": {}, "now": None}
    return Problem.model_validate(data)
