"""When the work will be finished: real times vary, so a finish is given as a range.

The assumption: the attended part of each step takes its planned minutes times a factor of its own, log-normal with
median 1, independent of the others; unattended parts and lapses take what is planned; order and people stay, each
step begins as soon as the order allows and its people are there. The range is read off many such days, drawn with a
fixed seed: the same plan gives the same range. How wide the factor spreads is an assumption until a shop has
measured its own times (``SPREAD``): a fifth either way in two of three.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.planner.explain.precedence import Precedence, Window, arcs, free_from, windows
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import tenths
from witnessmark.planner.problem.plan import Answer, PlanStep

SPREAD = 0.2  # standard deviation of the factor's logarithm; no source: to be replaced by own times
DAYS = 2000
SHARE = 0.8
SEED = 1

Days = NDArray[np.float64]  # one number per day drawn, in tenths of a minute


@dataclass(frozen=True)
class Range:
    """Minutes within which something is over in ``SHARE`` of the days drawn."""

    low: float
    high: float


@dataclass(frozen=True)
class Spread:
    """The range of the finish, and of each machine's last step."""

    finish: Range
    ready: dict[str, Range]


def spread(
    problem: Problem,
    answer: Answer,
    *,
    sigma: float = SPREAD,
    of_step: Mapping[str, float] | None = None,
) -> Spread | None:
    """Ranges for a plan; None without one. ``of_step``: measured spreads of steps by name, else ``sigma``."""
    if answer.finish_minutes is None:
        return None
    steps = answer.steps
    wait = tenths(answer.finish_minutes) - max((tenths(s.tail_end) for s in steps), default=0)
    over = _overs(problem, steps, _factors(steps, sigma, of_step or {}))
    ready: dict[str, Days] = {}
    for step, at in zip(steps, over, strict=True):
        machine = problem.step(step.name).machine
        if machine is not None:
            ready[machine] = np.maximum(ready[machine], at) if machine in ready else at
    last = np.max(over, axis=0) if over else np.zeros(DAYS)
    return Spread(_range(last + wait), {name: _range(at) for name, at in ready.items()})


def _range(at: Days) -> Range:
    low, high = np.quantile(at, [(1 - SHARE) / 2, (1 + SHARE) / 2])
    return Range(round(float(low) / 10, 1), round(float(high) / 10, 1))


def _factors(steps: Sequence[PlanStep], sigma: float, of_step: Mapping[str, float]) -> list[Days]:
    chance = np.random.default_rng(SEED)
    return [np.exp(of_step.get(s.name, sigma) * chance.standard_normal(DAYS)) for s in steps]


def _overs(problem: Problem, steps: Sequence[PlanStep], factors: Sequence[Days]) -> list[Days]:
    """When each step is over on each day."""
    before: dict[int, list[Precedence]] = {}
    for arc in arcs(problem, steps):
        if arc.first < arc.then:  # a latest time before a lapse is left aside
            before.setdefault(arc.then, []).append(arc)
    free = free_from(problem, steps)
    times: dict[str, list[Days]] = {"start": [], "end": [], "over": []}
    for n, step in enumerate(steps):
        at = np.full(DAYS, float(free[n]))
        for arc in before.get(n, ()):
            np.maximum(at, times[arc.since][arc.first] + arc.lag, out=at)
        length = (tenths(step.end) - tenths(step.start)) * factors[n]
        at = _when_there(windows(problem, step), at, length)
        times["start"].append(at)
        times["end"].append(at + length)
        times["over"].append(at + length + tenths(step.tail_end) - tenths(step.end))
    return times["over"]


def _when_there(there: Sequence[Window] | None, at: Days, length: Days) -> Days:
    """Moved to a shift it fits into; what fits into none runs over the end of the last."""
    if not there:
        return at
    found = np.maximum(at, float(there[-1][0]))
    for begin, end in reversed(there[:-1]):
        start = np.maximum(at, float(begin))
        found = np.where(start + length <= end, start, found)
    return found
