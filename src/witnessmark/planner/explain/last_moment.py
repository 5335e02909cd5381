"""Until when a yes to one more job is in time: as long as it costs no more than at once.

Let P be the plan of the jobs agreed, and t the instants at which steps of P begin, and its finish. cost(t) is the
least work of all: what P has begun before t, and the best that can be done from there with the job added. cost never
falls: what can be done from a later instant can be done from an earlier one, by following P in between. So the
instants at which a yes is in time are the first ones, and halving finds the last of them. Where a best plan was
not proven within the limit, cost is known within bounds only, and the moment is told as an estimate.

That holds as long as nothing of P is begun that should come after some of the job, such as a ride taken before all
else: when it is begun the yes comes too late for that, and this is the last moment at the latest.

Where several technicians work, least work is asked for as many as the step with most hands takes, free to do all.
Any plan can be done one step after the other in the order of its starts, so the least work is the same; not so where
something lapses meanwhile or must be over by a time, or shifts forbid to leave it open: there the moment is an
estimate too.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from witnessmark.planner.explain.snapshot import Snapshot, snapshot_at
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Technician
from witnessmark.planner.problem.plan import Answer, PlanStep

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
    ``out_of_turn``: whether ``before`` should come after some of the job. ``proven``: false where a solve behind it
    came to its limit.
    """

    minute: float
    before: PlanStep | None
    more: float | None
    at_the_end: float | None
    with_it: float
    out_of_turn: bool
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
                snapshot_at(self.problem, self.steps, self.instants[place])
            )
        return self.known[place]

    def _cost(self, here: Snapshot) -> Cost:
        answer = self.solve(_few(here.problem))
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
    early = _out_of_turn(answer.steps, with_job)
    end = len(instants) - 1 if early is None else instants.index(early.start)
    late, out_of_turn = _first_late(line, at_once + slack, end), None
    if late is None and early is not None:
        late, out_of_turn = end + 1, early
    last = end if late is None else late - 1
    return LastMoment(
        minute=instants[last],
        before=None if late is None else out_of_turn or _beginning(answer.steps, instants[last]),
        more=0.0 if late is None else _more(line.cost(late), at_once),
        at_the_end=_more(line.cost(len(instants) - 1), at_once),
        with_it=at_once,
        out_of_turn=out_of_turn is not None,
        proven=_same_for_few(with_job)
        and all(cost.proven or cost.least == float("inf") for cost in line.known.values()),
    )


def _few(problem: Problem) -> Problem:
    """The same for the fewest technicians that can do it, where there are several; times count for nothing then."""
    if len(problem.technicians) == 1:
        return problem
    hands = max([1, *(step.hands for step in problem.steps)])
    now = problem.now
    if now is not None:
        running = tuple(one.model_copy(update={"technicians": ()}) for one in now.running)
        now = now.model_copy(update={"running": running})
    few = tuple(Technician(name=f"{n}") for n in range(hands))
    return problem.model_copy(update={"technicians": few, "now": now, "horizon": None})


def _same_for_few(problem: Problem) -> bool:
    if len(problem.technicians) == 1:
        return True
    lapses = any(condition.lapse for condition in problem.conditions.values())
    shifts = any(technician.shifts is not None for technician in problem.technicians)
    exposed = any(condition.exposed for condition in problem.conditions.values())
    return not lapses and problem.horizon is None and not (shifts and exposed)


def _out_of_turn(steps: Sequence[PlanStep], with_job: Problem) -> PlanStep | None:
    """The first step of the plan that should come after an operation which is not in it."""
    planned = {step.name for step in steps} | set(with_job.now.done if with_job.now else ())
    before = {o.name: set(o.after) - planned for o in with_job.operations}
    return next((step for step in steps if before.get(step.name)), None)


def _first_late(line: _Line, most: float, end: int) -> int | None:
    """By halving: the first instant up to ``end`` that costs more; None where even that does not."""
    in_time, late = 0, end
    if late == 0 or _within(line.cost(late), most):
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
