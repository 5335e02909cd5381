"""A plan that branches where a reading decides, as handed out, with what is proven of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from pydantic import Field

from witnessmark.frozen import FrozenModel
from witnessmark.planner.problem.plan import PlanStep

TreeGoal = Literal["attended", "worst"]
TreeKind = Literal["tree", "likeliest"]


class Branch(FrozenModel):
    """What is done where readings told this: ``probability`` among the branches beside it."""

    answers: dict[str, bool]
    probability: float
    then: Stretch


class Stretch(FrozenModel):
    """Steps up to the first reading that decides, and the branches there; times are those of the whole visit.

    A branch begins at ``known_at``, when the reading is over; None where nothing is left to decide. The figures are
    of the attended minutes from the beginning of this stretch to the end of the visit.
    """

    steps: tuple[PlanStep, ...]
    known_at: float | None = None
    expected_minutes: float
    least_minutes: float
    most_minutes: float
    branches: tuple[Branch, ...] = ()


class Outcome(FrozenModel):
    """The attended minutes of a visit, and the answers and the probability of it taking just so many."""

    attended_minutes: float
    probability: float
    answers: dict[str, bool] = Field(description="of the most probable of these visits")


class Alternative(FrozenModel):
    """What another answer than the likeliest costs: minutes more than the plan, less where negative."""

    answers: dict[str, bool]
    probability: float
    attended_minutes: float
    finish_minutes: float


class Tree(FrozenModel):
    """What the planner answers where readings decide.

    ``how``: ``tree``; or ``likeliest``, the plan of the likeliest answers alone, where several work or the board is
    planned; then ``alternatives`` tells the price of each other answer, and no bound is given. ``bound_minutes``: what
    somebody would expect who knew all answers at the door; no tree is better by more than ``gap_minutes``. With the
    objective ``worst`` both are of the worst visit. ``worth``: expected minutes that knowing an answer at the door
    would save.
    """

    status: Literal["optimal", "feasible"]
    how: TreeKind
    objective: TreeGoal
    expected_attended_minutes: float
    expected_finish_minutes: float
    bound_minutes: float | None = None
    gap_minutes: float | None = None
    least: Outcome
    worst: Outcome
    worth: dict[str, float] = {}
    alternatives: tuple[Alternative, ...] = ()
    solve_seconds: float = 0.0
    first: Stretch

    def to_json(self, *, indent: int | None = None) -> str:
        """The answer as JSON text, keys as on the page (``for``, not ``for_``)."""
        return self.model_dump_json(by_alias=True, indent=indent)


@dataclass(frozen=True)
class Way:
    """One way through a tree: the answers that lead there, how probable, and all its steps."""

    answers: Mapping[str, bool]
    probability: float
    steps: tuple[PlanStep, ...]


def ways(stretch: Stretch) -> Iterator[Way]:
    """Every way from here to an end."""
    if not stretch.branches:
        yield Way({}, 1.0, stretch.steps)
    for branch in stretch.branches:
        for way in ways(branch.then):
            yield Way(
                {**branch.answers, **way.answers},
                branch.probability * way.probability,
                (*stretch.steps, *way.steps),
            )
