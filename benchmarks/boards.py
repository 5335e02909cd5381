"""Days of several machines: the planner's board of the invented tourer, with shifts, lifts and skills.

    python -m benchmarks.boards

Each machine is the tourer of `benchmarks.tourer` with jobs drawn by chance; a machine up on the lift holds one
of the shop's lifts. All figures are invented.
"""

from __future__ import annotations

import random
from typing import Any

from benchmarks.tourer import all_jobs, tourer

BRINGS = {"anti-lock": {"front brake", "rear brake"}}  # cannot be done without


def machine(jobs: set[str]) -> dict[str, Any]:
    """The tourer with some jobs; up on the lift it holds one."""
    brought = set().union(*(BRINGS.get(job, set()) for job in jobs))
    data = tourer([job for job in all_jobs() if job in jobs | brought])
    lift = data["conditions"]["lift"] | {"holds": {"up": {"lift": 1}}}
    return data | {"conditions": data["conditions"] | {"lift": lift}, "resources": {"lift": 1}}


def day(seed: int, machines: int, jobs: tuple[int, int]) -> list[dict[str, Any]]:
    """The machines of one board, each with so many jobs drawn by chance."""
    chance = random.Random(seed)
    return [machine(set(chance.sample(all_jobs(), chance.randint(*jobs)))) for _ in range(machines)]
