"""Days of several machines: the planner's board of the invented tourer, with shifts and lifts.

    python -m benchmarks.boards

One table in one run. Each machine is the tourer of `benchmarks.tourer` with jobs drawn by chance; up on the lift
it holds one of the shop's. ``gap``: by how much the finish may be above the best there is. ``thumb``: minutes of work
where whoever is free takes the longest machine left, does it alone, and never has to wait; ``ratio``: to those of our
finish. All figures are invented.
"""

from __future__ import annotations

import heapq
import random
import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from benchmarks.stopwatch import timed
from benchmarks.tourer import all_jobs, tourer, with_brought
from witnessmark.planner import Board, MachineWork, Technician, plan_board, problem_from, solve

CHANGE = 2.0  # minutes for changing machine
ROW = "{:<46} {:>8} {:>8} {:>7} {:>9} {:>9} {:>7} {:>7} {:>8} {:>6}"


@dataclass(frozen=True)
class Case:
    """A shop's day or days: how many machines, technicians, lifts; shifts; seconds allowed."""

    title: str
    machines: int
    technicians: int
    days: int
    seconds: float
    jobs: tuple[int, int]
    seeds: tuple[int, ...] = (1, 2, 3)


CASES = (
    Case("6 machines, 2 technicians, 2 lifts, one day", 6, 2, 1, 5.0, (3, 6)),
    Case("12 machines, 3 technicians, 3 lifts, two days", 12, 3, 2, 30.0, (6, 10)),
)


def machine(jobs: set[str]) -> dict[str, Any]:
    """The tourer with some jobs; up on the lift it holds one."""
    data = tourer(with_brought(jobs))
    lift = data["conditions"]["lift"] | {"holds": {"up": {"lift": 1}}}
    return data | {"conditions": data["conditions"] | {"lift": lift}, "resources": {"lift": 1}}


def day(seed: int, machines: int, jobs: tuple[int, int]) -> list[dict[str, Any]]:
    """The machines of one board, each with so many jobs drawn by chance."""
    chance = random.Random(seed)
    return [machine(set(chance.sample(all_jobs(), chance.randint(*jobs)))) for _ in range(machines)]


def crew(case: Case) -> list[Technician]:
    """Eight hours a day in two shifts with a break of half an hour."""
    shifts = tuple(
        (1440.0 * day + begin, 1440.0 * day + end)
        for day in range(case.days)
        for begin, end in ((0.0, 240.0), (270.0, 510.0))
    )
    return [Technician(name=name, shifts=shifts) for name in "ABC"[: case.technicians]]


def visits(case: Case, seed: int) -> list[MachineWork]:
    """The machines, all there from the start."""
    drawn = day(seed, case.machines, case.jobs)
    return [MachineWork(f"M{n}", problem_from(data)) for n, data in enumerate(drawn)]


def solved(case: Case, seed: int) -> Board:
    """The board within the seconds allowed."""
    return plan_board(
        visits(case, seed),
        crew(case),
        resources={"lift": case.technicians},
        change_minutes=CHANGE,
        time_limit=case.seconds,
    )


def by_thumb(efforts: Sequence[float], technicians: int) -> float:
    """The longest machine first to whoever is free; minutes of work until the last is done, nights left out."""
    free = [-CHANGE] * technicians
    for effort in sorted(efforts, reverse=True):
        heapq.heapreplace(free, free[0] + CHANGE + effort)
    return max(free)


def worked(finish: float, case: Case) -> float:
    """Minutes of shifts gone by a time of the board."""
    shifts = crew(case)[0].shifts or ()
    return sum(max(0.0, min(end, finish) - begin) for begin, end in shifts)


def main() -> None:
    """Print the table."""
    print(ROW.format("case, seed", "finish", "bound", "gap %", "attended", "bound", "CPU s", "clock s",
                     "thumb", "ratio"))  # fmt: skip
    for case in CASES:
        for seed in case.seeds:
            print(row(case, seed), flush=True)


def row(case: Case, seed: int) -> str:
    """One line of the table."""
    began = time.monotonic()
    found, seconds = timed(lambda: solved(case, seed))
    clock, answer = time.monotonic() - began, found.answer
    alone = [
        solve(v.problem, objective="attended").attended_minutes or 0.0 for v in visits(case, seed)
    ]
    thumb = by_thumb(alone, case.technicians)
    finish = answer.finish_minutes or 0.0
    return ROW.format(
        f"{case.title}, {seed}", f"{finish:g}", f"{answer.finish_bound:g}",
        f"{100 * (found.gap or 0.0):.2f}", f"{answer.attended_minutes:g}",
        f"{answer.attended_bound:g}", f"{seconds:.1f}", f"{clock:.1f}",
        f"{thumb:g}", f"{thumb / worked(finish, case):.2f}",
    )  # fmt: skip


if __name__ == "__main__":
    main()
