"""Several machines at once: each alone first, then all in one schedule, with a bound that holds for any plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from witnessmark.planner.board.bounds import Part, finish_bound
from witnessmark.planner.board.dispatch import Schedule
from witnessmark.planner.board.dispatches import scheduled
from witnessmark.planner.board.parts import parts
from witnessmark.planner.board.path import FINISH, Path, items_of, path_of
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Move, Operation, Technician, tenths
from witnessmark.planner.problem.plan import Answer, Conflict, PlanStep
from witnessmark.planner.problem.timeline import late_minutes
from witnessmark.planner.sequence.conflict import conflict_of
from witnessmark.planner.sequence.order import apart, deviation, numbered
from witnessmark.planner.sequence.solve import solve
from witnessmark.planner.system import Budget, seconds_now

ALONE = 0.5  # share of the effort for the parts, each alone


@dataclass(frozen=True)
class _Alone:
    """A part and its plan without regard to the others."""

    part: Part
    answer: Answer


def solve_together(
    problem: Problem, budget: Budget, *, seed: int = 1, previous: Answer | None = None
) -> Answer:
    """A plan for independent parts that share technicians and resources.

    Each part alone takes its least attended minutes whatever the others do, so their sum is a bound on all
    plans; with the order of its states fixed, the rest is scheduling. ``impossible`` where a part alone is.
    """
    began = seconds_now()
    split = parts(problem)
    alone = []
    for number, part in enumerate(split):
        found = _solved_alone(problem, part, budget, len(split) - number, seed)
        if found.answer.status in ("impossible", "unknown"):
            return _no_plan(problem, found, seconds_now() - began)
        alone.append(found)
    effort = sum(one.part.effort for one in alone)
    bound = finish_bound(problem, [one.part for one in alone])
    steps = sorted((s for one in alone for s in one.answer.steps), key=lambda s: s.start)
    path = path_of(problem, steps)
    _, reference = items_of(problem, steps)
    schedule = scheduled(problem, path, reference, bound, budget, seed)
    took = round(seconds_now() - began, 3)
    if schedule is None:
        return Answer(status="unknown", solve_seconds=took)
    if problem.horizon is not None and schedule.finish > tenths(problem.horizon):
        return Answer(status="unknown", solve_seconds=took)
    answer = answer_of(problem, path, schedule, previous)
    return with_bounds(answer, bound, effort).model_copy(update={"solve_seconds": took})


def _solved_alone(problem: Problem, part: Problem, budget: Budget, left: int, seed: int) -> _Alone:
    """The part's plan of least attended minutes; the others, shifts and clock times left aside."""
    able = _by_anybody(problem, part)
    if able is None:
        return _Alone(Part(part, 0), Answer(status="impossible"))
    share = max(0.05, budget.scarcer() * ALONE / left)
    answer = solve(
        able,
        objective="attended",
        time_limit=share if budget.seconds is not None else None,
        deterministic_limit=share if budget.deterministic is not None else None,
        seed=seed,
    )
    return _Alone(Part(part, tenths(answer.attended_bound or 0.0)), answer)


def _by_anybody(problem: Problem, part: Problem) -> Problem | None:
    """The part without shifts, skills, releases and horizon, all of which only forbid plans.

    One technician does where no clock runs: any plan can be done step by step, in the order of its
    starts, by one. A step that no technician has the skills for is left out; None where that is an operation.
    """
    begun = problem.begun
    if not all(o.name in begun or _workable(problem, o) for o in part.operations):
        return None
    moves = tuple(move for move in part.moves if move.name in begun or _workable(problem, move))
    steps = [*moves, *part.operations]
    running = part.now is not None and part.now.running
    lapses = any(condition.lapse for condition in part.conditions.values())
    several = lapses or running or any(step.hands > 1 for step in steps)
    technicians = problem.technicians if several else problem.technicians[:1]
    return part.model_copy(
        update={
            "moves": tuple(_at_any_time(move) for move in moves),
            "operations": tuple(_at_any_time(operation) for operation in part.operations),
            "technicians": tuple(Technician(name=t.name) for t in technicians),
            "horizon": None,
            "change_minutes": None,
        }
    )


def _at_any_time(step: Move | Operation) -> Move | Operation:
    return step.model_copy(update={"release": 0.0, "skills": ()})


def _workable(problem: Problem, step: Move | Operation) -> bool:
    skills = set(step.skills)
    able = sum(t.skills is None or skills <= set(t.skills) for t in problem.technicians)
    return able >= step.hands


def _no_plan(problem: Problem, found: _Alone, seconds: float) -> Answer:
    """No plan at all where a part has none; its conflict is one of the whole."""
    answer = found.answer.model_copy(update={"solve_seconds": round(seconds, 3)})
    if answer.status != "impossible":
        return answer
    conflict = conflict_of(_of_its_technicians(problem, found.part.problem))
    return answer.model_copy(
        update={"conflict": tuple(_in_whole(problem, found.part.problem, c) for c in conflict)}
    )


def _of_its_technicians(problem: Problem, part: Problem) -> Problem:
    """The part as the whole model knows how to solve it: with all technicians, changes aside."""
    return part.model_copy(update={"change_minutes": None, "technicians": problem.technicians})


def _in_whole(problem: Problem, part: Problem, conflict: Conflict) -> Conflict:
    """A forbidden combination is named by its place in the whole problem."""
    if conflict.kind != "never" or conflict.name is None:
        return conflict
    row = part.never[int(conflict.name)]
    return conflict.model_copy(update={"name": str(problem.never.index(row))})


def answer_of(
    problem: Problem, path: Path, schedule: Schedule, previous: Answer | None = None
) -> Answer:
    """The plan in a schedule, with its figures and no bounds."""
    begun = {n for n, item in enumerate(path.items) if item.running is not None}
    overs = (
        (item.step, s + item.length) for s, item in zip(schedule.starts, path.items, strict=True)
    )
    order = sorted(range(len(path.items)), key=lambda n: (schedule.starts[n], n))
    listed = [n for n in order if n not in begun]
    steps = tuple(_step(problem, path, schedule, n) for n in listed)
    before = None if previous is None else [step.name for step in previous.steps]
    names = numbered([step.name for step in steps])
    return Answer(
        status="feasible",
        finish_minutes=schedule.finish / 10,
        attended_minutes=sum(path.items[n].effort for n in listed) / 10,
        exposure_minutes=_exposure(path, schedule) / 10,
        deviation=None if before is None else deviation(names, before),
        walks=_walks(path, schedule, order),
        late=late_minutes(problem, overs),
        steps=steps,
    )


def with_bounds(answer: Answer, finish: int, attended: int) -> Answer:
    """The answer with what is proven of any plan, in tenths; ``optimal`` where the plan meets both."""
    reached = tenths(answer.finish_minutes or 0.0), tenths(answer.attended_minutes or 0.0)
    proven = reached == (finish, attended)
    return answer.model_copy(
        update={
            "status": "optimal" if proven else "feasible",
            "finish_bound": finish / 10,
            "attended_bound": attended / 10,
        }
    )


def _step(problem: Problem, path: Path, schedule: Schedule, n: int) -> PlanStep:
    item, start = path.items[n], schedule.starts[n]
    return PlanStep(
        name=item.step.name,
        kind="operation" if isinstance(item.step, Operation) else "move",
        start=start / 10,
        end=(start + item.attended) / 10,
        tail_end=(start + item.length) / 10,
        technicians=tuple(problem.technicians[t].name for t in sorted(schedule.crews[n])),
    )


def _exposure(path: Path, schedule: Schedule) -> int:
    total = 0
    for interval in path.opens:
        begin = interval.begin.after
        begin += schedule.starts[interval.begin.item] if interval.begin.item >= 0 else 0
        end = schedule.finish if interval.end.item == FINISH else interval.end.after
        end += schedule.starts[interval.end.item] if interval.end.item >= 0 else 0
        total += max(0, min(end, schedule.finish) - begin)
    return total


def _walks(path: Path, schedule: Schedule, order: Sequence[int]) -> int:
    """Per technician neighbouring steps that differ in machine, place or job."""
    work: dict[int, list[int]] = {}
    for n in order:
        for t in schedule.crews[n]:
            work.setdefault(t, []).append(n)
    return sum(
        apart(path.items[a].step, path.items[b].step) for w in work.values() for a, b in pairwise(w)
    )
