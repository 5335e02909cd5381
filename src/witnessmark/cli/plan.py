"""`witnessmark plan`: the order of work for jobs of a book, or for a visit, with reasons, kit and saving.

Exit codes: 0 any sound answer (also that there is no order); 1 no order was found in the time given;
2 book, jobs, states or visit cannot be used.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any
from uuid import UUID

import typer

from witnessmark.book import Book, BookError, selection
from witnessmark.cli import plan_printed as printed
from witnessmark.cli.book import loaded
from witnessmark.cli.plan_printed import Plan
from witnessmark.cli.plan_problem import (
    AsJson,
    DeterministicLimit,
    Objective,
    TimeLimit,
    fail,
)
from witnessmark.cli.plan_reasons import (
    Lifts,
    Moments,
    Reasons,
    Shifts,
    Team,
    Technicians,
    WishText,
    offered,
    print_offered,
    reasons,
    team,
    wished,
)
from witnessmark.cli.printing import print_json
from witnessmark.errors import WitnessError
from witnessmark.kit import Kit, kit
from witnessmark.planner import (
    Answer,
    Problem,
    ProblemError,
    Tree,
    compile_problem,
    plan_tree,
    spread,
    undecided,
    visits_alone,
    with_wish,
)
from witnessmark.planner import plan as solved
from witnessmark.planner import saving as saved

if TYPE_CHECKING:
    from witnessmark.shop.models import Visit

BookName = Annotated[
    str | None,
    typer.Argument(help="archetype, demo book or TOML file", metavar="BOOK", show_default=False),
]
Names = Annotated[
    list[str] | None,
    typer.Argument(
        help="jobs or services of the book", metavar="JOB|SERVICE...", show_default=False
    ),
]
States = Annotated[
    list[str] | None,
    typer.Option(
        "--state", help="a state found, as condition=state; may be given often", show_default=False
    ),
]
VisitKey = Annotated[
    str | None, typer.Option("--visit", help="a visit, by its number or UUID", show_default=False)
]


def plan(
    book: BookName = None,
    names: Names = None,
    visit: VisitKey = None,
    state: States = None,
    technician: Technicians = None,
    shift: Shifts = None,
    lift: Lifts = None,
    wish: WishText = None,
    last_moment: Moments = None,
    as_json: AsJson = False,
    objective: Objective = "finish",
    time_limit: TimeLimit = None,
    deterministic_limit: DeterministicLimit = None,
) -> None:
    """Plan the order of work for jobs of a BOOK, or for a --visit, with reasons, kit and saving.

    A BOOK alone lists what can be planned.
    """
    try:
        if visit is None and book is not None and not names:
            _offer(loaded(book), as_json=as_json)
            return
        if visit is not None:
            made = _of_visit(_visit(visit))
        else:
            made = _of_book(
                book, names, state or [], team(technician or [], shift or [], lift),
                wish, last_moment or [], objective=objective,
                time_limit=time_limit, deterministic_limit=deterministic_limit,
            )  # fmt: skip
    except WitnessError as error:
        fail(error, 2, as_json=as_json)
    if as_json:
        print_json(printed.as_json(made))
    else:
        printed.print_plan(made)
    raise typer.Exit(1 if made.answer.status == "unknown" else 0)


def print_visit(visit: Visit) -> None:
    """Print the plan of a visit: the one followed, or the best for what is to be done now."""
    printed.print_plan(_of_visit(visit))


# ---------------------------------------------------------------- what is planned


def _offer(book: Book, *, as_json: bool) -> None:
    if as_json:
        print_json(offered(book))
    else:
        print_offered(book)


def _of_book(
    name: str | None,
    names: list[str] | None,
    given: list[str],
    people: Team,
    wish: str | None,
    asked: list[str],
    **limits: Any,
) -> Plan:
    if name is None or not names:
        raise typer.BadParameter("give a BOOK and its jobs, or --visit", param_hint="BOOK JOB")
    book = loaded(name)
    jobs = selection(book, names)
    states = _states(given)
    problem = compile_problem(
        book, jobs, states=states, technicians=people.technicians, resources=people.resources
    )
    answer, price = solved(problem, interruptible=True, **limits), None
    if wish is not None:
        held, price = wished(book, problem, answer, wish)
        if price.answer.steps:
            problem, answer = with_wish(problem, held), price.answer
    told = reasons(book, jobs, problem, answer, price=price, asked=asked, states=states)
    laid = kit(book, answer) if answer.steps else Kit()
    laid = dataclasses.replace(laid, missing=())  # a book has no shelf; its figures are told apart
    saving = saved(problem, answer, visits_alone(book, jobs)) if _shares(jobs, answer) else None
    tree = _tree(book, jobs, problem, limits) if answer.steps else None
    return Plan(book.title, book, jobs, problem, answer, laid, saving, told, tree)


def _tree(book: Book, jobs: Sequence[str], problem: Problem, limits: dict[str, Any]) -> Tree | None:
    """The tree where readings decide, with the wish that the problem holds; None where some answer leaves no way."""
    asked_of = undecided(problem, book, jobs).problem
    if not asked_of.unknowns:
        return None
    try:
        return plan_tree(
            asked_of,
            time_limit=limits["time_limit"],
            deterministic_limit=limits["deterministic_limit"],
            interruptible=True,
        )
    except ProblemError:
        return None  # the plan of all the work stands above


def _states(given: list[str]) -> dict[str, str]:
    for each in given:
        if "=" not in each:
            raise BookError("--state", f'"{each}" names no state', "write condition=state")
    return dict(each.split("=", 1) for each in given)


def _shares(jobs: Sequence[str], answer: Answer) -> bool:
    return len(jobs) > 1 and answer.attended_minutes is not None


def _visit(key: str) -> Visit:
    from witnessmark.cli.serve import settings  # noqa: PLC0415 - the database only for a visit

    settings()
    from witnessmark.shop.models import Visit  # noqa: PLC0415

    try:
        wanted = {"number": int(key)} if key.isdecimal() else {"pk": UUID(key)}
    except ValueError:
        raise BookError("--visit", f'"{key}" is no visit', "give its number or UUID") from None
    found = list(Visit.objects.filter(**wanted).select_related("machine", "shop")[:2])
    if len(found) != 1:
        violation = (
            "several shops have a visit of that number" if found else f"there is no visit {key}"
        )
        raise BookError("--visit", violation, "give the UUID from the address of its pages")
    return found[0]


def _of_visit(visit: Visit) -> Plan:
    from witnessmark.shop.work import planning  # noqa: PLC0415 - after the settings
    from witnessmark.shop.work.plan_followed import plan_progress  # noqa: PLC0415
    from witnessmark.shop.work.pricing import laid_out  # noqa: PLC0415
    from witnessmark.shop.work.visit import read  # noqa: PLC0415

    work = read(visit)
    if not planning.to_do(work):
        raise BookError(
            f"visit {visit.number}", "nothing is to be done", "take jobs on, and have them agreed"
        )
    course = plan_progress(work) if work.state.plan else None
    made = (
        course.plan
        if course and course.fits and course.plan
        else planning.ordered(work, planning.to_do(work))
    )
    laid = laid_out(work, made.answer) if made.possible else Kit()
    saving = planning.saved(work, made) if _shares(made.jobs, made.answer) else None
    title = f"Visit {visit.number}: {visit.machine} {visit.machine.plate}".strip()
    told = Reasons(spread(made.problem, made.answer))
    tree = made.tree
    return Plan(title, work.book, made.jobs, made.problem, made.answer, laid, saving, told, tree)
