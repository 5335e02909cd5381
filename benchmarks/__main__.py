"""The planner's figures, and those of the pages, in one run: `python -m benchmarks [--seconds S] [PART …]`.

Parts: attended, finish, two, again, scheduling, boards, books, trees, loading; commands, branches, busy, years.
Without names all of them, some forty minutes. Processor seconds; ratios are of this run. The parts of the pages make
a store of their own, on SQLite; for PostgreSQL run one alone:
`python scripts/with_postgres.py python -m benchmarks.years`.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys

from benchmarks import (
    boards,
    books,
    commands,
    crews_and_replanning,
    loading,
    outside,
    scheduling,
    trees,
)

PARTS = (
    "attended",
    "finish",
    "two",
    "again",
    "scheduling",
    "boards",
    "books",
    "trees",
    "loading",
    "commands",
    "branches",
    "busy",
    "years",
)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("parts", nargs="*", metavar="PART", help=", ".join(PARTS))
    parser.add_argument(
        "--seconds", type=float, default=20, help="for each call of another planner"
    )
    asked = parser.parse_args()
    unknown = set(asked.parts) - set(PARTS)
    if unknown:
        parser.error(f"no part {', '.join(sorted(unknown))}; there are {', '.join(PARTS)}")
    parts = {
        "attended": lambda: outside.attended(asked.seconds),
        "finish": lambda: outside.finish(asked.seconds),
        "two": crews_and_replanning.two,
        "again": crews_and_replanning.again,
        "scheduling": scheduling.main,
        "boards": boards.main,
        "books": books.main,
        "trees": trees.main,
        "loading": loading.main,
        "commands": commands.main,
        "branches": lambda: alone("branches"),
        "busy": lambda: alone("busy"),
        "years": lambda: alone("years"),
    }
    for name in asked.parts or PARTS:
        parts[name]()


def alone(part: str) -> None:
    """A part that sets the program up for a folder of its own, in a process of its own."""
    settings = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    sys.stdout.flush()
    subprocess.run([sys.executable, "-m", f"benchmarks.{part}"], env=settings, check=True)  # noqa: S603


if __name__ == "__main__":
    main()
