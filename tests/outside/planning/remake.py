"""Make the committed optima of the random problems again, with Fast Downward.

Run from the root of the project: ``PYTHONPATH=src .venv/bin/python -m
tests.outside.planning.remake``
"""

import hashlib
import json
import time
from pathlib import Path

from tests.outside.planning import classical, generator
from witnessmark.planner.problem import problem_from

OPTIMA = Path(__file__).with_name("optima.json")
SEEDS = {family: range(6 if family == "larger" else 13) for family in generator.FAMILIES}
SECONDS = 600


def digest(problem: generator.Json) -> str:
    """Which problem an optimum belongs to: SHA-256 of its JSON with sorted keys."""
    return hashlib.sha256(json.dumps(problem, sort_keys=True).encode()).hexdigest()


def solved(family: str, seed: int) -> dict:
    """One line of the committed file."""
    data = generator.make(family, seed)
    found = classical.optimum(problem_from(data), SECONDS)
    return {
        "family": family,
        "seed": seed,
        "attended_minutes": found.attended_minutes,
        "most_copies": found.most_copies,
        "problem": digest(data),
    }


def main() -> None:
    """Solve every family and seed, tell how long each took, and write the file."""
    lines = []
    for family, seeds in SEEDS.items():
        for seed in seeds:
            begun = time.perf_counter()
            lines.append(solved(family, seed))
            told = f"{lines[-1]['attended_minutes']} min, most copies {lines[-1]['most_copies']}"
            print(f"{family} {seed}: {told}, {time.perf_counter() - begun:.2f} s", flush=True)  # noqa: T201
    rows = ",\n".join(json.dumps(line) for line in lines)
    OPTIMA.write_text(f"[\n{rows}\n]\n")


if __name__ == "__main__":
    main()
