"""The plans of every shipped demo book: each of its services, then all its jobs at once.

One line per selection: minutes attended and to the finish, whether both are proven, steps, processor
seconds to compile and check the problem and to plan it, for each of the two orders of the goals.
"""

from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

from benchmarks.stopwatch import timed
from witnessmark.book import Book, load_book, selection
from witnessmark.planner import Answer, Goal, compile_problem, plan

BOOKS = Path(str(files("witnessmark"))) / "demo" / "books"
ROW = "{:<16} {:<14} {:>5} {:>5} {:>6} {:>9} {:>8}  {:<8} {:>9} {:>8}"
GOALS: tuple[Goal, ...] = ("attended", "finish")


def main() -> None:
    print("\nThe demo's service books, one technician")
    print(ROW.format("book", "selection", "first", "jobs", "steps", "attended", "finish", "proven",
                     "compile s", "plan s"))  # fmt: skip
    for path in sorted(BOOKS.glob("*.toml")):
        book = load_book(path)
        for name, jobs in selections(book):
            for goal in GOALS:
                print(line(path.stem, book, name, jobs, goal), flush=True)


def selections(book: Book) -> Iterator[tuple[str, list[str]]]:
    for service in book.services:
        yield service, selection(book, [service])
    yield "all jobs", selection(book, book.jobs)


def line(title: str, book: Book, name: str, jobs: list[str], goal: Goal) -> str:
    problem, compiling = timed(lambda: compile_problem(book, jobs))
    answer, planning = timed(lambda: plan(problem, objective=goal))
    return ROW.format(
        title,
        name,
        goal[:6],
        len(jobs),
        len(answer.steps),
        minutes(answer.attended_minutes),
        minutes(answer.finish_minutes),
        "yes" if is_proven(answer) else answer.status,
        f"{compiling:.2f}",
        f"{planning:.2f}",
    )


def minutes(value: float | None) -> str:
    return "none" if value is None else f"{value:.1f}"


def is_proven(answer: Answer) -> bool:
    found = (answer.finish_minutes, answer.attended_minutes)
    return answer.status == "optimal" and found == (answer.finish_bound, answer.attended_bound)
