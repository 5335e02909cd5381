"""Time the plans of every shipped demo book: each of its services, then all its jobs at once.

    python3 scripts/bench.py [--objective finish|attended]

One line per selection: minutes attended and to the finish, whether both are proven, steps, seconds to
compile and check the problem and to plan it. The optimum is the same on every machine, the time is not.
"""

import argparse
import time
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

from witnessmark.book import Book, load_book, selection
from witnessmark.planner import Answer, NotYetSolvedError, plan
from witnessmark.planner.from_book import compile_problem
from witnessmark.planner.search import Goal

BOOKS = Path(str(files("witnessmark"))) / "demo" / "books"
ROW = "{:<16} {:<20} {:>5} {:>6} {:>9} {:>8}  {:<8} {:>9} {:>8}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--objective", choices=["finish", "attended"], default="finish")
    objective: Goal = parser.parse_args().objective
    print(ROW.format("book", "selection", "jobs", "steps", "attended", "finish", "proven",
                     "compile s", "plan s"))  # fmt: skip
    for path in sorted(BOOKS.glob("*.toml")):
        book = load_book(path)
        for name, jobs in selections(book):
            print(timed(path.stem, book, name, jobs, objective), flush=True)


def selections(book: Book) -> Iterator[tuple[str, list[str]]]:
    for service in book.services:
        yield service, selection(book, [service])
    yield "all jobs", selection(book, book.jobs)


def timed(title: str, book: Book, name: str, jobs: list[str], objective: Goal) -> str:
    began = time.perf_counter()
    problem = compile_problem(book, jobs)
    compiled = time.perf_counter()
    try:
        answer = plan(problem, objective=objective)
    except NotYetSolvedError as refused:
        return f"{title:<16} {name:<20} {len(jobs):>5}  refused: {refused}"
    planned = time.perf_counter()
    return ROW.format(
        title,
        name,
        len(jobs),
        len(answer.steps),
        minutes(answer.attended_minutes),
        minutes(answer.finish_minutes),
        "yes" if is_proven(answer) else answer.status,
        f"{compiled - began:.2f}",
        f"{planned - compiled:.2f}",
    )


def minutes(value: float | None) -> str:
    return "none" if value is None else f"{value:.1f}"


def is_proven(answer: Answer) -> bool:
    found = (answer.finish_minutes, answer.attended_minutes)
    return answer.status == "optimal" and found == (answer.finish_bound, answer.attended_bound)


if __name__ == "__main__":
    main()
