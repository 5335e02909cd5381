"""What `witnessmark plan` says beside the plan: who works, what a wish costs, until when an answer is in time."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import partial
from typing import Annotated, Any

import typer
from rich.console import Console

from witnessmark.book import Book, BookError, selection, steps
from witnessmark.cli.printing import table_of
from witnessmark.planner import (
    Answer,
    LastMoment,
    Price,
    Problem,
    Spread,
    Technician,
    Wish,
    compile_problem,
    last_moment,
    moment_in_words,
    plan,
    price_in_words,
    price_of_wish,
    problem_from,
    range_in_words,
    read_wish,
    search_seconds,
    spread,
)

Technicians = Annotated[
    list[str] | None,
    typer.Option(
        "--technician",
        help="who works, with skills as NAME or NAME:skill,skill (NAME: for none); may be given often",
        show_default=False,
    ),
]
Shifts = Annotated[
    list[str] | None,
    typer.Option(
        "--shift",
        help="when somebody is there, in minutes or h:mm from the start, as NAME:0-4:00,4:30-8:30",
        show_default=False,
    ),
]
Lifts = Annotated[
    int | None, typer.Option("--lift", min=0, help="how many lifts there are", show_default=False)
]
WishText = Annotated[
    str | None,
    typer.Option(
        "--wish",
        help="“JOB first”, “JOB before JOB”, “JOB by H:MM”, “ready by H:MM”, “JOB with NAME”: "
        "the plan that holds it, and what it costs",
        show_default=False,
    ),
]
Moments = Annotated[
    list[str] | None,
    typer.Option(
        "--last-moment",
        help="a job not in the plan: until when a yes to it costs no more; may be given often",
        show_default=False,
    ),
]


@dataclass(frozen=True)
class Team:
    """Who works, and how many lifts there are; `technicians` empty: one who can do everything."""

    technicians: tuple[Technician, ...] = ()
    lifts: int | None = None

    @property
    def resources(self) -> dict[str, int] | None:
        """As the compiler of problems takes them."""
        return None if self.lifts is None else {"lift": self.lifts}


def team(technicians: Sequence[str], shifts: Sequence[str], lifts: int | None) -> Team:
    """Read `--technician`, `--shift` and `--lift`. Raises BookError for what cannot be read."""
    there: dict[str, list[list[float]]] = {}
    for text in shifts:
        name, _, spans = text.partition(":")
        there.setdefault(name.strip(), []).extend(_span(one, text) for one in spans.split(","))
    made = []
    for text in technicians:
        name, colon, skills = text.partition(":")
        named = [skill.strip() for skill in skills.split(",") if skill.strip()]
        made.append({
            "name": name.strip(),
            "skills": named if colon else None,
            "shifts": sorted(there.pop(name.strip(), [])) or None,
        })  # fmt: skip
    if there:
        known = ", ".join(str(one["name"]) for one in made) or "none"
        violation = f'"{next(iter(there))}" is not among the technicians'
        raise BookError("--shift", violation, f"given with --technician: {known}")
    checked = problem_from({"technicians": made}, file="--technician") if made else None
    return Team(checked.technicians if checked else (), lifts)


def _span(text: str, whole: str) -> list[float]:
    found = re.fullmatch(r"\s*(?:(\d+):)?(\d+)\s*-\s*(?:(\d+):)?(\d+)\s*", text)
    if found is None:
        raise BookError(
            "--shift", f'"{whole}" is no shift', "write NAME:0-240,270-510 or NAME:0-4:00"
        )
    hour, minute, until, rest = (int(part or 0) for part in found.groups())
    return [hour * 60.0 + minute, until * 60.0 + rest]


@dataclass(frozen=True)
class Reasons:
    """What is told beside a plan."""

    spread: Spread | None = None
    price: Price | None = None
    moments: tuple[tuple[str, LastMoment | None], ...] = ()


def wished(book: Book, problem: Problem, answer: Answer, text: str) -> tuple[Wish, Price]:
    """The wish as read, and what it costs. Raises WishError."""
    jobs = {
        job: book.jobs[job].text for job in dict.fromkeys(o.job or "" for o in problem.operations)
    }
    wish = read_wish(text, jobs, [one.name for one in problem.technicians])
    return wish, price_of_wish(
        problem,
        answer,
        wish,
        partial(plan, deterministic_limit=search_seconds.REASON_IN_THE_TERMINAL),
    )


def reasons(
    book: Book,
    jobs: Sequence[str],
    problem: Problem,
    answer: Answer,
    *,
    price: Price | None,
    asked: Sequence[str],
    states: dict[str, str],
) -> Reasons:
    """The range, and the last moments of jobs asked for. Raises CompileError, or BookError for a job in the plan."""
    solve = partial(
        plan, objective="attended", deterministic_limit=search_seconds.REASON_IN_THE_TERMINAL
    )
    moments = []
    for name in asked if answer.steps else ():
        wanted = [job for job in selection(book, [name]) if job not in jobs]
        if not wanted:
            raise BookError("--last-moment", f'"{name}" is in the plan', "name a job that is not")
        more = compile_problem(
            book, [*jobs, *wanted], states=states,
            technicians=problem.technicians, resources=problem.resources,
        )  # fmt: skip
        moments.append((name, last_moment(answer, more, solve)))
    return Reasons(spread(problem, answer), price, tuple(moments))


def said(book: Book, told: Reasons) -> list[str]:
    """The same in words."""
    lines = []
    if told.spread:
        lines.append(
            f"Real times vary: all over {range_in_words(told.spread.finish)} (assumed spread)."
        )
    if told.price:
        lines.append(
            price_in_words(told.price, {name: job.text for name, job in book.jobs.items()})
        )
    named = steps(book)
    for name, moment in told.moments:
        if moment is None:
            lines.append(f"{name}: no order with it was found.")
            continue
        step = named[moment.before.name].text if moment.before else ""
        lines.append(f"{name}: {moment_in_words(moment, step)}")
    return lines


def as_json(told: Reasons) -> dict[str, Any]:
    """The same as plain data."""
    price = told.price
    return {
        "spread": asdict(told.spread) if told.spread else None,
        "wish": None
        if price is None
        else {
            "wish": asdict(price.wish),
            "status": price.answer.status,
            "later_minutes": asdict(price.later) if price.later else None,
            "more_minutes": asdict(price.more) if price.more else None,
        },
        "last_moments": {
            name: None
            if moment is None
            else {
                "minute": moment.minute,
                "before": moment.before.name if moment.before else None,
                "more_minutes": moment.more,
                "more_minutes_at_the_end": moment.at_the_end,
                "out_of_turn": moment.out_of_turn,
                "proven": moment.proven,
            }
            for name, moment in told.moments
        },
    }


def print_offered(book: Book) -> None:
    """What can be planned of a book: its services and its jobs."""
    out = Console()
    out.print(
        f"[bold]{book.title}[/bold]" + (" (invented)" if book.invented else ""), highlight=False
    )
    services = table_of("service", "", "jobs", title="\nServices")
    for name, service in book.services.items():
        services.add_row(name, service.text, str(len(selection(book, [name]))))
    out.print(services)
    jobs = table_of("job", "", title="\nJobs")
    for name, job in book.jobs.items():
        jobs.add_row(name, job.text)
    out.print(jobs)
    out.print(
        "\nPlan some of them: witnessmark plan BOOK SERVICE JOB …", highlight=False, markup=False
    )


def offered(book: Book) -> dict[str, Any]:
    """The same as plain data."""
    return {
        "title": book.title,
        "services": {name: selection(book, [name]) for name in book.services},
        "jobs": {name: job.text for name, job in book.jobs.items()},
    }
