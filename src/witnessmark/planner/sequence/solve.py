"""Find the best order of work, one goal after the other, and say what is proven about it."""

from __future__ import annotations

from collections.abc import Sequence

from witnessmark.planner import search_seconds
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Operation
from witnessmark.planner.problem.plan import Answer, Goal, PlanStep, Status
from witnessmark.planner.problem.timeline import exposure_tenths, finish_tenths, late_minutes
from witnessmark.planner.sequence.effort import least_effort
from witnessmark.planner.sequence.model.ordering import is_by_order_alone
from witnessmark.planner.sequence.model.outline import outline
from witnessmark.planner.sequence.model.waits import with_waits
from witnessmark.planner.sequence.order import deviation, numbered, walks_of
from witnessmark.planner.sequence.polish import polished
from witnessmark.planner.sequence.reorder import reordered
from witnessmark.planner.sequence.resume import rest_of
from witnessmark.planner.sequence.search import Outcome, Search, Solution
from witnessmark.planner.sequence.search_limits import SearchLimits
from witnessmark.planner.system import seconds_now


def solve(
    problem: Problem,
    *,
    objective: Goal = "finish",
    time_limit: float | None = None,
    deterministic_limit: float | None = None,
    seed: int = 1,
    previous: Answer | None = None,
    interruptible: bool = False,
) -> Answer:
    """The best plan for a problem: the ``objective`` first, then the other of finish and attended.

    Parameters
    ----------
    time_limit
        Seconds of wall-clock time. A plan cut off by it need not come out the same twice.
    deterministic_limit
        The same in CP-SAT's deterministic time, which does; `search_seconds.PLAN` where neither is given.
    previous
        A plan whose order is kept where that costs nothing.
    interruptible
        Let Ctrl-C end the search with the best plan so far (main thread only).

    """
    limits = limits_of(time_limit, deterministic_limit, seed=seed, interruptible=interruptible)
    return solve_within(problem, limits, objective, previous)


def limits_of(
    time_limit: float | None,
    deterministic_limit: float | None,
    *,
    seed: int = 1,
    interruptible: bool = False,
) -> SearchLimits:
    """The limits asked for; `search_seconds.PLAN` where neither is given."""
    if time_limit is None and deterministic_limit is None:
        deterministic_limit = search_seconds.PLAN
    return SearchLimits(time_limit, deterministic_limit, seed=seed, interruptible=interruptible)


def solve_within(
    problem: Problem,
    limits: SearchLimits,
    objective: Goal = "finish",
    previous: Answer | None = None,
) -> Answer:
    """As ``solve``, with limits that may be spent already."""
    began = seconds_now()
    search = Search(outline(with_waits(problem)), limits)
    before = None if previous is None else [step.name for step in previous.steps]
    with limits.heeding():
        first, second = _in_turn(search, objective, before)
        best = second.found or first.found
        if best is not None:
            best = _polished(search, best, before)
    outcomes: dict[Goal, Outcome] = {objective: first, _other(objective): second}
    return _answer(problem, search, outcomes, best, before, seconds_now() - began)


def continued(
    problem: Problem, earlier: Problem, previous: Answer, objective: Goal = "finish"
) -> Answer | None:
    """The rest of ``previous``, the plan for ``earlier``, where that is proven the best from here.

    None where it is not: this is no place on its way, or the proof of the whole does not reach so far.
    """
    began = seconds_now()
    search = Search(outline(problem), SearchLimits())
    rest = rest_of(search.outline, earlier, previous)
    if rest is None or not rest.is_best(objective, _other(objective)):
        return None
    search.take(rest.found, rest.least)
    goals: tuple[Goal, Goal] = ("finish", "attended")
    best = {goal: Outcome(rest.found, rest.found.values[goal], proven=True) for goal in goals}
    return _answer(problem, search, best, rest.found, rest.names, seconds_now() - began)


def _other(goal: Goal) -> Goal:
    return "attended" if goal == "finish" else "finish"


def _in_turn(
    search: Search, objective: Goal, previous: Sequence[str] | None
) -> tuple[Outcome, Outcome]:
    """Both goals, the second among plans no worse in the first.

    The least attended minutes are sought first in any case: that is quick, and one technician cannot
    finish sooner than the work takes.
    """
    least = _least_attended(search, previous)
    search.take(None, {"attended": least.bound, "finish": -(-least.bound // search.outline.hands)})
    if least.found is None:
        return least, least
    if objective == "attended":
        finish = search.minimise("finish", {"attended": least.found.values["attended"]})
        return least, finish
    finish = search.minimise("finish", {})
    if finish.found is None:
        return finish, least
    search.take(None, {"finish": finish.bound})
    return finish, search.minimise("attended", {"finish": finish.found.values["finish"]})


def _least_attended(search: Search, previous: Sequence[str] | None) -> Outcome:
    """By order alone where the clock decides nothing; that bounds it, and guides the search, elsewhere."""
    if search.best is not None and search.best.values["attended"] <= search.floors["attended"]:
        return Outcome(search.best, search.floors["attended"], proven=True)
    effort = least_effort(search.outline, search.limits)
    if effort.impossible:
        return Outcome(None, effort.bound, proven=True)
    search.take(None, {"attended": effort.bound})
    if effort.order is not None and is_by_order_alone(search.outline):
        search.guess = effort.counts
        search.best = reordered(search.outline, effort.order, previous, tries=0)
    elif effort.order is not None:
        search.caps = {name: times + 1 for name, times in effort.counts.items()}
    return search.minimise("attended", {})


def _polished(search: Search, best: Solution, previous: Sequence[str] | None) -> Solution:
    """The same steps, at least as good in all goals: in another order, where the clock decides nothing."""
    if is_by_order_alone(search.outline):
        order = tuple((task, copy) for task, copy, _ in best.starts)
        again = reordered(search.outline, order, previous)
        if again.values["finish"] <= best.values["finish"]:
            return again
    if not best.solution:
        return best
    return polished(search.outline, best, search.limits, previous)


def _answer(
    problem: Problem,
    search: Search,
    outcomes: dict[Goal, Outcome],
    best: Solution | None,
    previous: Sequence[str] | None,
    seconds: float,
) -> Answer:
    proven = all(o.proven for o in outcomes.values())
    if best is None:
        status: Status = "impossible" if proven else "unknown"
        return Answer(status=status, solve_seconds=round(seconds, 3))
    steps = steps_of(problem, best)
    until = finish_tenths(problem, steps)
    names = [step.name for step in steps]
    begun = sum(task.effort for task in search.outline.begun)
    attended = best.values["attended"] - begun
    return Answer(
        status="optimal" if proven else "feasible",
        finish_minutes=until / 10,
        finish_bound=min(outcomes["finish"].bound, until) / 10,
        attended_minutes=attended / 10,
        attended_bound=min(outcomes["attended"].bound - begun, attended) / 10,
        least_finish=min(search.least["finish"], until) / 10,
        least_attended=max(0, min(search.least["attended"] - begun, attended)) / 10,
        exposure_minutes=exposure_tenths(problem, steps, until) / 10,
        deviation=None if previous is None else deviation(numbered(names), previous),
        walks=walks_of(best),
        late=late_minutes(problem, ((t.step, s + t.length) for t, _, s in best.starts)),
        solve_seconds=round(seconds, 3),
        steps=steps,
    )


def steps_of(problem: Problem, found: Solution) -> tuple[PlanStep, ...]:
    """The steps of a plan in order, with who does them; what is running already, and waits, are not listed."""
    names = tuple(technician.name for technician in problem.technicians)
    listed = {step.name for step in problem.steps}
    return tuple(
        PlanStep(
            name=task.name,
            kind="operation" if isinstance(task.step, Operation) else "move",
            start=start / 10,
            end=(start + task.attended) / 10,
            tail_end=(start + task.length) / 10,
            technicians=tuple(names[n] for n in crew),
        )
        for (task, _, start), crew in zip(found.starts, found.crews, strict=True)
        if task.running is None and task.name in listed
    )
