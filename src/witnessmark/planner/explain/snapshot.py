"""The problem at some minute of a plan that is being followed: what is done, running, still to do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Now, Running, Technician, tenths
from witnessmark.planner.problem.plan import PlanStep
from witnessmark.planner.problem.timeline import spans


@dataclass(frozen=True)
class Snapshot:
    """The problem from there on, its minute 0 being that minute, and the attended minutes spent before."""

    problem: Problem
    spent: float


def snapshot_at(problem: Problem, steps: Sequence[PlanStep], minute: float) -> Snapshot:
    """What is left of ``problem`` when ``steps`` that start before ``minute`` were begun as planned.

    The steps may be those of a plan for fewer operations; they must be sound for this problem too. A problem
    that has a ``now`` of its own is taken from there: what it says is done stays done.
    """
    begun = [step for step in steps if step.start < minute]
    running = [step for step in begun if step.tail_end > minute]
    at = tenths(minute)
    spent = sum(
        problem.step(step.name).hands * (tenths(step.end) - tenths(step.start)) for step in begun
    )
    over = [step.name for step in begun if step.kind == "operation" and step.tail_end <= minute]
    now = problem.now or Now()
    states, ages = _states(problem, begun, at)
    still = [left for one in now.running if (left := _later(one, at)) is not None]
    data = {
        "moves": _released(problem.moves, minute),
        "operations": _released(problem.operations, minute),
        "technicians": tuple(_there(one, at) for one in problem.technicians),
        "horizon": None if problem.horizon is None else _left(problem.horizon, minute),
        "due_by": {name: _left(due, minute) for name, due in problem.due_by.items()},
        "clock": (tenths(problem.clock) + at) / 10 % 1440,
        "now": Now(
            states=states,
            ages=ages,
            done=(*now.done, *over, *_over_since(problem, now, at)),
            running=(*still, *(_under_way(step, at) for step in running)),
        ),
    }
    return Snapshot(problem.model_copy(update=data), spent / 10)


def _left(minutes: float, gone: float) -> float:
    return max(0, tenths(minutes) - tenths(gone)) / 10


def _released(steps: Sequence[Any], minute: float) -> tuple[Any, ...]:
    return tuple(
        one.model_copy(update={"release": _left(one.release, minute)}) if one.release else one
        for one in steps
    )


def _there(technician: Technician, at: int) -> Technician:
    if technician.shifts is None:
        return technician
    ends = [(tenths(begin) - at, tenths(end) - at) for begin, end in technician.shifts]
    left = tuple((max(0, begin) / 10, end / 10) for begin, end in ends if end > 0)
    return technician.model_copy(update={"shifts": left})


def _states(
    problem: Problem, begun: Sequence[PlanStep], at: int
) -> tuple[dict[str, str], dict[str, float]]:
    """The state of each condition, and for how long; one being changed counts as before that change."""
    states, ages = {}, {}
    for name in problem.conditions:
        found = spans(problem, begun, name, at)
        span = next(one for one in reversed(found) if one.reached <= at)
        until = (
            at if span.to is None else min(at, span.left)
        )  # what is being changed grows no older
        states[name], ages[name] = span.state, (until - span.reached) / 10
    return states, ages


def _under_way(step: PlanStep, at: int) -> Running:
    attended = max(0, tenths(step.end) - at)
    tail = tenths(step.tail_end) - max(at, tenths(step.end))
    return Running(
        name=step.name,
        minutes=attended / 10,
        unattended=tail / 10,
        technicians=step.technicians if attended else (),
    )


def _later(running: Running, at: int) -> Running | None:
    minutes, tail = tenths(running.minutes) - at, tenths(running.unattended)
    if minutes + tail <= 0:
        return None
    return running.model_copy(
        update={
            "minutes": max(0, minutes) / 10,
            "unattended": min(tail, minutes + tail) / 10,
            "technicians": running.technicians if minutes > 0 else (),
        }
    )


def _over_since(problem: Problem, now: Now, at: int) -> list[str]:
    """Operations that were under way at minute 0 and are over by then."""
    operations: Mapping[str, Any] = {one.name: one for one in problem.operations}
    return [one.name for one in now.running if one.name in operations and _later(one, at) is None]
