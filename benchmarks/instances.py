"""The cases that are timed: each job of the invented tourer alone, its services, and chance selections.

The book is `benchmarks.tourer` (17 jobs, 36 operations, 33 moves, 20 conditions; all invented).
"""

from __future__ import annotations

import random
from collections.abc import Iterator

from benchmarks.tourer import all_jobs, tourer, with_brought
from witnessmark.planner import Problem, problem_from

SERVICES = {
    "rear end": ["drive oil", "rear tyre", "rear brake", "splines"],
    "annual service": [
        *("codes", "reminder", "battery", "engine oil", "drive oil", "rear brake", "front brake"),
        *("anti-lock", "steering", "coolant", "stands", "lights"),
    ],
    "whole book": all_jobs(),
}
DRAWN = 12  # selections drawn by chance
SEED = 20260101


def selections() -> Iterator[tuple[str, list[str]]]:
    """Title and jobs of each case: one job, services, then three to twelve jobs drawn by chance."""
    jobs = all_jobs()
    yield from ((job, with_brought({job})) for job in jobs)
    yield from SERVICES.items()
    chance = random.Random(SEED)
    for number in range(1, DRAWN + 1):
        drawn = with_brought(set(chance.sample(jobs, chance.randint(3, 12))))
        yield f"drawn {number}, {len(drawn)} jobs", drawn


def problems() -> Iterator[tuple[str, Problem]]:
    """Title and problem of each case, one technician."""
    for title, jobs in selections():
        yield title, problem_from(tourer(jobs))
