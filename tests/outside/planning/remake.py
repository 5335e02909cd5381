"""Make the committed optima again, with the classical planners.

Run from the root of the project: ``PYTHONPATH=src .venv/bin/python -m tests.outside.planning.remake``
with ``random`` (a minute: the random problems), ``tourer`` (some minutes: the service book),
``timed`` (some minutes: the finish by the temporal planner), or all of them.
"""

import hashlib
import json
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from benchmarks.instances import problems
from tests.outside.planning import classical, generator, temporal, tourer
from witnessmark.planner import Problem, problem_from

OPTIMA = Path(__file__).with_name("optima.json")
TOURER = Path(__file__).with_name("tourer.json")
TIMED = Path(__file__).with_name("timed.json")
SEEDS = {family: range(6 if family == "larger" else 13) for family in generator.FAMILIES}
SECONDS = 1800
TIMED_SECONDS = 60
TIMED_CASES = ("codes", "battery", "engine oil", "drive oil", "rear brake",
               "splines", "plugs", "drawn 1, 3 jobs", "drawn 2, 4 jobs")  # fmt: skip


def digest(problem: Problem) -> str:
    """Which problem an optimum belongs to: SHA-256 of what it says, without what it leaves open."""
    data = problem.model_dump(mode="json", exclude_defaults=True)
    return hashlib.sha256(json.dumps(data, sort_keys=True).encode()).hexdigest()


def random_case(family: str, seed: int) -> dict:
    """One line of the committed optima of the random problems."""
    problem = problem_from(generator.make(family, seed))
    found = classical.optimum(problem, SECONDS)
    return {
        "family": family,
        "seed": seed,
        "attended_minutes": found.attended_minutes,
        "most_copies": found.most_copies,
        "problem": digest(problem),
    }


def tourer_case(case: str) -> dict:
    """One line of the committed optima of the service book."""
    problem, engine = tourer.problem(case), tourer.CASES[case].engine
    found = classical.optimum(problem, SECONDS, engine)
    return {
        "case": case,
        "attended_minutes": found.attended_minutes,
        "engine": engine,
        "problem": digest(problem),
    }


def timed_case(title: str, seconds: float = TIMED_SECONDS, good_enough: int = 0) -> dict:
    """One line of what the temporal planner found."""
    problem = dict(problems())[title]
    found = temporal.best(problem, seconds, good_enough)
    return {
        "case": title,
        "finish_tenths": found and found.finish_tenths,
        "steps": found and found.steps,
        "problem": digest(problem),
    }


def _random_cases() -> Iterator[dict]:
    for family, seeds in SEEDS.items():
        for seed in seeds:
            yield random_case(family, seed)


def _write(path: Path, lines: Iterator[dict]) -> None:
    begun, rows = time.perf_counter(), []
    for line in lines:
        rows.append(json.dumps(line))
        sys.stdout.write(f"{time.perf_counter() - begun:7.1f} s {rows[-1]}\n")
        sys.stdout.flush()
    path.write_text("[\n" + ",\n".join(rows) + "\n]\n")


if __name__ == "__main__":
    wanted = sys.argv[1:] or ["random", "tourer", "timed"]
    if "random" in wanted:
        _write(OPTIMA, _random_cases())
    if "tourer" in wanted:
        _write(TOURER, map(tourer_case, tourer.CASES))
    if "timed" in wanted:
        _write(TIMED, map(timed_case, TIMED_CASES))
