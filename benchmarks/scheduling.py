"""Published scheduling cases as problems of ours, and solved by a general scheduler: pure times and resources.

    python -m benchmarks.scheduling

One table in one run, processor seconds, both with one worker. The cases and their source stand in
`tests/outside/planning/data`.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psplib
import pyjobshop

from benchmarks.stopwatch import timed
from witnessmark.planner import plan, problem_from

DATA = Path(__file__).parent.parent / "tests" / "outside" / "planning" / "data"
SECONDS = 120.0
ROW = "{:<10} {:>9} {:>8} {:>8} {:>8} {:>9} {:>8} {:>8}"


def published() -> dict[str, dict[str, str]]:
    """Per project its lower and upper bound and whether it is proven."""
    with (DATA / "psplib" / "optimum.csv").open() as file:
        return {row["instance"]: row for row in csv.DictReader(file)}


def project(name: str) -> dict[str, Any]:
    """A published project as problem data: nobody's hands, resources used."""
    found = _parsed(name)
    before: dict[int, list[int]] = {}
    for n, activity in enumerate(found.activities):
        for later in activity.successors:
            before.setdefault(later, []).append(n)
    real = [n for n, activity in enumerate(found.activities) if activity.modes[0].duration]
    return {
        "operations": [
            {
                "name": str(n),
                "minutes": found.activities[n].modes[0].duration,
                "hands": 0,
                "after": [str(e) for e in before.get(n, []) if e in real],
                "uses": {
                    f"R{r}": u for r, u in enumerate(found.activities[n].modes[0].demands) if u
                },
            }
            for n in real
        ],
        "resources": {f"R{r}": resource.capacity for r, resource in enumerate(found.resources)},
    }


def _parsed(name: str) -> Any:
    return psplib.parse(DATA / "psplib" / f"{name}.sm", instance_format="psplib")


def job_shops() -> dict[str, dict[str, Any]]:
    """The published job shops: optimum, and per job a list of [machine, minutes]."""
    found: dict[str, dict[str, Any]] = json.loads((DATA / "job_shop.json").read_text())
    return found


def job_shop(jobs: list[list[list[int]]]) -> dict[str, Any]:
    """A job shop as problem data: every machine a resource of one."""
    return {
        "operations": [
            {
                "name": f"{job}/{place}",
                "minutes": minutes,
                "hands": 0,
                "after": [f"{job}/{place - 1}"] if place else [],
                "uses": {f"machine {machine}": 1},
            }
            for job, steps in enumerate(jobs)
            for place, (machine, minutes) in enumerate(steps)
        ],
        "resources": {f"machine {step[0]}": 1 for step in jobs[0]},
    }


def general(name: str) -> tuple[float, float]:
    """Finish and bound of a published project by PyJobShop, one worker."""
    found, model = _parsed(name), pyjobshop.Model()
    resources = [model.add_renewable(capacity=resource.capacity) for resource in found.resources]
    tasks = [model.add_task() for _ in found.activities]
    for activity, task in zip(found.activities, tasks, strict=True):
        for mode in activity.modes:
            model.add_mode(task, resources=resources, duration=mode.duration, demands=mode.demands)
    for activity, task in zip(found.activities, tasks, strict=True):
        for later in activity.successors:
            model.add_end_before_start(task, tasks[later])
    answer = model.solve("ortools", time_limit=SECONDS, display=False, num_workers=1)
    return answer.objective, answer.lower_bound


def rows(
    prefix: str = "j30",
) -> Iterator[tuple[str, str, float, float, float, float, float, float]]:
    """Name, published finish; finish, bound and seconds of ours; the same of the general scheduler."""
    for name, row in published().items():
        if name.startswith(prefix):
            problem = problem_from(project(name))
            ours, mine = timed(lambda problem=problem: plan(problem, time_limit=SECONDS))  # type: ignore[misc]
            (finish, bound), theirs = timed(lambda name=name: general(name))  # type: ignore[misc]
            yield (
                name,
                row["upper_bound"],
                ours.finish_minutes or 0.0,
                ours.finish_bound or 0.0,
                mine,
                finish,
                bound,
                theirs,
            )


def main() -> None:
    """Print the table; the ratio of the totals below it."""
    print(
        ROW.format("project", "published", "ours", "bound", "CPU s", "PyJobShop", "bound", "CPU s")
    )
    totals = [0.0, 0.0]
    for name, best, finish, bound, mine, other, floor, theirs in rows():
        totals = [totals[0] + mine, totals[1] + theirs]
        print(ROW.format(name, best, f"{finish:g}", f"{bound:g}", f"{mine:.2f}",
                         f"{other:g}", f"{floor:g}", f"{theirs:.2f}"), flush=True)  # fmt: skip
    print(
        f"total: ours {totals[0]:.1f} s, PyJobShop {totals[1]:.1f} s, ratio {totals[0] / totals[1]:.2f}"
    )


if __name__ == "__main__":
    main()
