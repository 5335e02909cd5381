"""The day's machines together: who does what when, when each is ready, and how near to the best that is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.planner.board_form import Visit
from witnessmark.planner.plan import Answer
from witnessmark.planner.problem import Problem


@dataclass(frozen=True)
class Board:
    """A checked answer for several machines.

    ``ready``: the minute each machine's last step is over; None where nothing is to be done on it, or there
    is no plan. ``gap``: the share by which the finish may be above the best there is (0.01 is one
    per cent); 0 where it is proven best, None without a plan.
    """

    problem: Problem
    answer: Answer
    ready: dict[str, float | None]
    gap: float | None


def board_of(visits: Sequence[Visit], problem: Problem, answer: Answer) -> Board:
    """The board of an answer to the visits' joint problem."""
    ready: dict[str, float | None] = {visit.machine: None for visit in visits}
    for step in answer.steps:
        machine = problem.step(step.name).machine
        if machine is not None:
            ready[machine] = max(ready[machine] or 0.0, step.tail_end)
    return Board(problem, answer, ready, gap_of(answer))


def gap_of(answer: Answer) -> float | None:
    """By which share the finish may be above the best there is."""
    finish, bound = answer.finish_minutes, answer.finish_bound
    if finish is None or bound is None:
        return None
    return 0.0 if finish <= bound else (finish - bound) / finish
