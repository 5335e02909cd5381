"""Jobs together against one by one, and how long the proof takes: the planner on the invented tourer.

    python -m benchmarks.planner

One table in one run. ``together`` is proven least attended minutes of all the chosen jobs; ``one by one`` is
their sum when each is planned alone (`-`: one of them cannot be). Seconds of
processor time, median of three, without the reading of the problem.
"""

from __future__ import annotations

import statistics
import time

from benchmarks.tourer import all_jobs, tourer
from witnessmark.planner import Answer, Problem, problem_from, saving, solve
from witnessmark.planner.problem import Technician
from witnessmark.planner.search import Goal

SELECTIONS = {
    "drive oil": ["drive oil"],
    "battery and codes": ["battery", "codes"],
    "rear end": ["drive oil", "rear tyre", "rear brake", "splines"],
    "annual service": [
        *("codes", "reminder", "battery", "engine oil", "drive oil", "rear brake", "front brake"),
        *("anti-lock", "steering", "coolant", "stands", "lights"),
    ],
    "whole book": all_jobs(),
}
ROW = "{:<18} {:>5} {:>9} {:>11} {:>6} {:>7} {:>9} {:>9} {:>8}"


def main() -> None:
    print(ROW.format("selection", "steps", "together", "one by one", "ratio", "finish",
                     "attended", "finish", "proven"))  # fmt: skip
    print(ROW.format("", "", "min", "min", "", "min", "first s", "first s", ""))
    for name, jobs in SELECTIONS.items():
        print(measured(name, problem_from(tourer(jobs))), flush=True)
    two = problem_from(tourer()).model_copy(
        update={"technicians": (Technician(name="A"), Technician(name="B"))}
    )
    answer, seconds = timed(two, "finish", runs=1)
    print(f"whole book, two technicians: finish {answer.finish_minutes}, bound "
          f"{answer.finish_bound}, {answer.status}, {seconds:.2f} s")  # fmt: skip


def measured(name: str, problem: Problem) -> str:
    least, quick = timed(problem, "attended")
    first, slow = timed(problem, "finish")
    alone = one_by_one(problem, least)
    together = least.attended_minutes or 0.0
    proven = all(answer.status == "optimal" for answer in (least, first))
    ratio = "-" if alone is None else f"{alone / together:.2f}"
    return ROW.format(
        name, len(first.steps), f"{together:.1f}", "-" if alone is None else f"{alone:.1f}",
        ratio, f"{first.finish_minutes:.1f}", f"{quick:.2f}", f"{slow:.2f}",
        "yes" if proven else "no",
    )  # fmt: skip


def timed(problem: Problem, objective: Goal, runs: int = 3) -> tuple[Answer, float]:
    """The answer and the median of the processor seconds."""
    seconds = []
    for _ in range(runs):
        began = time.process_time()
        answer = solve(problem, objective=objective)
        seconds.append(time.process_time() - began)
    return answer, statistics.median(seconds)


def one_by_one(problem: Problem, answer: Answer) -> float | None:
    """Attended minutes of the jobs planned each alone; None where one cannot be done alone."""
    found = saving(problem, answer)
    return None if found.minutes is None else found.minutes + (answer.attended_minutes or 0.0)


if __name__ == "__main__":
    main()
