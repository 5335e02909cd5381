"""What no other planner here can be asked: two technicians, again from here after any step.

Processor seconds of whole calls: solving, checking, reasons.
"""

from __future__ import annotations

import statistics
from functools import partial

from benchmarks.stopwatch import timed
from benchmarks.tourer import tourer
from witnessmark.planner import (
    Answer,
    Goal,
    Now,
    Problem,
    Technician,
    plan,
    problem_from,
    snapshot_at,
)

GOALS: tuple[Goal, ...] = ("finish", "attended")
PERCENT = 95
LIMIT_S = 30.0


def two() -> None:
    """The whole tourer book with two technicians alike, and one."""
    print("\nWhole book by the number of technicians")
    row = "{:<14} {:>9} {:>8} {:>9} {:>9} {:>9} {:>9} {:>9}"
    print(
        row.format(
            "technicians", "first", "finish", "bound", "attended", "bound", "status", "CPU s"
        )
    )
    for number in (1, 2):
        people = tuple(Technician(name=name) for name in "AB"[:number])
        problem = problem_from(tourer()).model_copy(update={"technicians": people})
        for goal in GOALS:
            answer, seconds = timed(partial(plan, problem, objective=goal))
            print(row.format(number, goal, *_figures(answer), f"{seconds:.2f}"), flush=True)


def _figures(answer: Answer) -> tuple[str, ...]:
    found = (
        answer.finish_minutes,
        answer.finish_bound,
        answer.attended_minutes,
        answer.attended_bound,
    )
    return (*("-" if value is None else f"{value:g}" for value in found), answer.status)


def again() -> None:
    """The whole book: planned again after each step, when all went as planned, and when it took longer."""
    print("\nAgain from here, whole book, one technician: after each step, CPU ms")
    problem = problem_from(tourer())
    whole = plan(problem)
    row = "{:<34} {:>6} {:>8} {:>8} {:>8} {:>8} {:>10}"
    print(
        row.format(
            "what happened", "calls", "median", f"p{PERCENT}", "most", "proven", "same order"
        )
    )
    minutes = sorted({step.end for step in whole.steps})[:-1]
    print(row.format("all went as planned", *_again(problem, whole, minutes, late=0)), flush=True)
    print(row.format("what waits took 3 minutes longer", *_again(problem, whole, minutes, late=3)))


def _again(problem: Problem, whole: Answer, minutes: list[float], late: float) -> tuple[str, ...]:
    times, proven, same = [], 0, 0
    for minute in minutes:
        now = _delayed(snapshot_at(problem, whole.steps, minute).problem.now, late)
        here = problem.model_copy(update={"now": now})
        answer, seconds = timed(partial(plan, here, previous=whole, earlier=problem))
        times.append(1000 * seconds)
        proven += answer.status == "optimal"
        same += answer.deviation == 0
    times.sort()
    worst = times[min(len(times) - 1, len(times) * PERCENT // 100)]
    counts = (
        f"{statistics.median(times):.0f}",
        f"{worst:.0f}",
        f"{times[-1]:.0f}",
        str(proven),
        str(same),
    )
    return (str(len(times)), *counts)


def _delayed(now: Now | None, late: float) -> Now:
    """The same with each wait that runs so much longer."""
    assert now is not None
    running = (
        one.model_copy(
            update={"unattended": round(one.unattended + late * bool(one.unattended), 1)}
        )
        for one in now.running
    )
    return now.model_copy(update={"running": tuple(running)})
