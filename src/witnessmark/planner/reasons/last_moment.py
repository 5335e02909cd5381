"""Until when a yes to one more job is in time: as long as it costs no more than if it had been said at once.

Let P be the plan of the jobs agreed, and t the instants at which steps of P begin, and its finish. cost(t) is the
least work of all: what P has begun before t, and the best that can be done from there with the job added. cost never
falls: what can be done from a later instant can be done from an earlier one, by following P in between. So the
instants at which a yes is in time are the first ones, and halving finds the last of them. Where a best plan was
not proven within the limit, cost is known within bounds only, and the moment is told as an estimate.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from witnessmark.planner.plan import Answer, PlanStep
from witnessmark.planner.problem import Problem
from witnessmark.planner.reasons.from_here import Here, from_here

Solver = Callable[[Problem], Answer]


@dataclass(frozen=True)
class Cost:
    """Minutes of work in all when the yes comes at an instant: at least, and in the best plan found."""

    least: float | None
    found: float | None

    @property
    def proven(self) -> bool:
        """Whether both are one."""
        return self.found is not None and self.found == self.least


@dataclass(frozen=True)
class LastMoment:
    """The last instant of the plan, in minutes, at which a yes costs no more work than at its beginning.

    ``before``: the step of the plan that begins at that instant, and makes it dearer; None where a yes is in
    time to the end. ``more``: minutes of work it costs more after that; None where it is then no more possible.
    ``at_the_end``: the same, said when all else is over. ``with_it``: minutes of work in all, said at once.
    ``proven``: false where a solve behind it came to its limit.
    """

    minute: float
    before: PlanStep | None
    more: float | None
    at_the_end: float | None
    with_it: float
    proven: bool


@dataclass(frozen=True)
class _Line:
    """The instants of a plan at which something begins, its finish the last; costs are worked out once."""

    problem: Problem
    steps: Sequence[PlanStep]
    instants: tuple[float, ...]
    solve: Solver
    known: dict[int, Cost]

    def cost(self, place: int) -> Cost:
        if place not in self.known:
            self.known[place] = self._cost(
                from_here(self.problem, self.steps, self.instants[place])
            )
        return self.known[place]

    def _cost(self, here: Here) -> Cost:
        answer = self.solve(here.problem)
        if answer.status == "impossible":
            return Cost(float("inf"), None)
        least = None if answer.attended_bound is None else here.spent + answer.attended_bound
        found = None if answer.attended_minutes is None else here.spent + answer.attended_minutes
        return Cost(_rounded(least), _rounded(found))


def _rounded(minutes: float | None) -> float | None:
    return None if minutes is None else round(minutes, 1)


def last_moment(
    answer: Answer, with_job: Problem, solve: Solver, *, slack: float = 0.0
) -> LastMoment | None:
    """The last instant of a plan at which a job is added for no more than ``slack`` minutes of work.

    ``with_job``: the problem of the plan with the operations of the job, and what they need, besides. ``solve``:
    the planner, least attended minutes first. None where no plan with the job was found even at the beginning.
    """
    instants = sorted({step.start for step in answer.steps} | {answer.finish_minutes or 0.0})
    line = _Line(with_job, answer.steps, tuple(instants), solve, {})
    at_once = line.cost(0).found
    if at_once is None:
        return None
    late = _first_late(line, at_once + slack)
    last = len(instants) - 1 if late is None else late - 1
    more = None if late is None else _more(line.cost(late), at_once)
    return LastMoment(
        minute=instants[last],
        before=None if late is None else _beginning(answer.steps, instants[last]),
        more=0.0 if late is None else more,
        at_the_end=_more(line.cost(len(instants) - 1), at_once),
        with_it=at_once,
        proven=all(cost.proven or cost.least == float("inf") for cost in line.known.values()),
    )


def _first_late(line: _Line, most: float) -> int | None:
    """By halving: the first instant that costs more; None where even the last does not."""
    in_time, late = 0, len(line.instants) - 1
    if _within(line.cost(late), most):
        return None
    while late - in_time > 1:
        middle = (in_time + late) // 2
        if _within(line.cost(middle), most):
            in_time = middle
        else:
            late = middle
    return late


def _within(cost: Cost, most: float) -> bool:
    return cost.found is not None and cost.found <= most


def _more(cost: Cost, at_once: float) -> float | None:
    return None if cost.found is None else round(max(0.0, cost.found - at_once), 1)


def _beginning(steps: Sequence[PlanStep], minute: float) -> PlanStep:
    """The step that makes it dearer: of those that begin then, one that sets something back comes last."""
    return [step for step in steps if step.start == minute][-1]
