"""`witnessmark plan`: the order of work for jobs of a book, or for a visit, with reasons, kit and saving.

Exit codes: 0 any sound answer (also that there is no order); 1 no order was found in the time given;
2 book, jobs, states or visit cannot be used.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any
from uuid import UUID

import typer
from rich.console import Console

from witnessmark.book import Book, BookError, revision, selection, steps
from witnessmark.book.figures import figures_missing, figures_unproven
from witnessmark.book.select import job_of
from witnessmark.cli.book import loaded
from witnessmark.cli.plan_problem import (
    AsJson,
    DeterministicLimit,
    Objective,
    TimeLimit,
    fail,
    plan_table,
    some,
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
from witnessmark.cli.plan_reasons import as_json as told_as_json
from witnessmark.cli.plan_reasons import said as told_in_words
from witnessmark.cli.printing import print_json, table_of
from witnessmark.errors import WitnessError
from witnessmark.kit import Kit, kit
from witnessmark.kit.wording import packs_in_words, pours_in_words
from witnessmark.planner import (
    Answer,
    PlanStep,
    Problem,
    Saving,
    Tree,
    compile_problem,
    compile_undecided,
    conflict_of_book,
    every_unknown,
    jobs_served,
    lasting,
    plan_tree,
    proof,
    spread,
    tree_in_words,
    visits_alone,
    waits_in_words,
    with_wish,
)
from witnessmark.planner import plan as solved
from witnessmark.planner import saving as saved
from witnessmark.units import show

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


@dataclass(frozen=True)
class Plan:
    """All that is printed of one plan."""

    title: str
    book: Book
    jobs: Sequence[str]
    problem: Problem
    answer: Answer
    kit: Kit
    saving: Saving | None
    told: Reasons
    tree: Tree | None = None  # where readings decide


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
        print_json(_as_json(made))
    else:
        _print(made)
    raise typer.Exit(1 if made.answer.status == "unknown" else 0)


def print_visit(visit: Visit) -> None:
    """Print the plan of a visit: the one followed, or the best for what is to be done now."""
    _print(_of_visit(visit))


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
    tree = None
    if wish is None and answer.steps:
        asked_of = compile_undecided(
            book, jobs, states=states, technicians=people.technicians, resources=people.resources
        ).problem
        if asked_of.unknowns:
            tree = plan_tree(
                asked_of,
                time_limit=limits["time_limit"],
                deterministic_limit=limits["deterministic_limit"],
                interruptible=True,
            )
    return Plan(book.title, book, jobs, problem, answer, laid, saving, told, tree)


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


# ---------------------------------------------------------------- printed


def _as_json(made: Plan) -> dict[str, Any]:
    return {
        "title": made.title,
        "book": made.book.name,
        "revision": revision(made.book),
        "jobs": list(made.jobs),
        "plan": made.answer.model_dump(mode="json", by_alias=True),
        **({} if made.tree is None else {"tree": made.tree.model_dump(mode="json", by_alias=True)}),
        "saving": None if made.saving is None else dataclasses.asdict(made.saving),
        "kit": dataclasses.asdict(made.kit),
        **told_as_json(made.told),
    }


def _print(made: Plan) -> None:
    out, book, answer = Console(), made.book, made.answer
    out.print(
        f"[bold]{made.title}[/bold]" + (" (invented)" if book.invented else ""), highlight=False
    )
    out.print(" · ".join(book.jobs[job].text for job in made.jobs) + "\n", highlight=False)
    if not answer.steps:
        _print_none(out, made)
        return
    named = steps(book)
    table = plan_table(answer, lambda step: named[step.name].text, lambda step: _reason(book, step))
    out.print(table)
    out.print()
    finish, attended = answer.finish_minutes or 0, answer.attended_minutes or 0
    _say(
        out,
        f"Ready in {lasting(finish)}, {lasting(attended)} of it labour. {proof(answer)}",
    )
    for words in told_in_words(book, made.told):
        _say(out, words)
    for wait, words in waits_in_words(book, made.problem, answer):
        _say(out, f"At {wait.begin:g} min: {words}.")
    if made.tree is not None:
        _say(out, "\nReadings decide, as likely as the book or the shop's own counts say:")
        out.print(tree_in_words(made.tree, _texts(book)), highlight=False, markup=False)
    if made.saving:
        _say(out, _saving(made.saving))
    _print_kit(out, made)
    _print_figures(out, made)


def _texts(book: Book) -> dict[str, str]:
    """Words for steps and for what readings decide."""
    texts = {name: step.text for name, step in steps(book).items()}
    for name, (decides, _) in every_unknown(book).items():
        figure = decides.below or decides.above
        way = "below" if decides.below else "above"
        said = "outside its limits" if figure is None else f"{way} {book.figures[figure].written}"
        texts[name] = f"{book.readings[decides.reading].text} {said}"
    return texts


def _print_figures(out: Console, made: Plan) -> None:
    """The figures this work rests on that are not there, or have no source."""
    missing, unproven = (
        figures_missing(made.book, made.jobs),
        figures_unproven(made.book, made.jobs),
    )
    for words, uses in (("missing", missing), ("unproven, without a source", unproven)):
        if uses:
            _say(
                out,
                f"\nFigures {words}: " + ", ".join(f"{use.figure.text} ({use.id})" for use in uses),
            )


def _saving(saving: Saving) -> str:
    alone = sum(minutes or 0 for minutes in saving.alone.values())
    if saving.minutes is None:
        return "Not every job can be done alone, so no saving can be told."
    if saving.minutes <= 0:
        return "Nothing is saved by doing them together: they share no access."
    return (
        f"One job per visit would take {lasting(alone)} of work: {lasting(saving.minutes)} saved."
    )


def _print_none(out: Console, made: Plan) -> None:
    if made.answer.status == "unknown":
        _say(out, "No order was found in the time allowed; there may be one: allow more time.")
        return
    _say(out, "Not all of this is possible together. Without any one of these there is an order:")
    for words in conflict_of_book(made.book, made.problem, made.answer.conflict or ()):
        _say(out, f"- {words}")


def _reason(book: Book, step: PlanStep) -> str:
    job = job_of(step.name)
    return book.jobs[job].text if job else some(jobs_served(book, step), 2)


def _say(out: Console, words: str) -> None:
    out.print(words, highlight=False, markup=False)


def _print_wrenches(out: Console, made: Plan) -> None:
    if made.kit.wrenches:
        wrenches = table_of("wrench", "set to", "for", title="\nWrenches")
        for one in made.kit.wrenches:
            for text, names in one.settings:
                wrenches.add_row(one.name, text, ", ".join(names))
        out.print(wrenches)


def _print_kit(out: Console, made: Plan) -> None:
    if made.kit.parts:
        parts = table_of("", "part", title="\nParts")
        for part in made.kit.parts:
            parts.add_row(
                f"{part.quantity:g} {part.unit if part.unit != 'piece' else ''}".strip(), part.text
            )
        out.print(parts)
    if made.kit.fluids:
        fluids = table_of("fluid", "volume", "grade", "open", "how", title="\nFluids")
        for need in made.kit.fluids:
            volume = show(need.volume_ml, "volume") if need.volume_ml else "not known"
            fluids.add_row(
                need.text,
                volume,
                need.grade or "",
                packs_in_words(need),
                "; ".join(pours_in_words(made.book, need)),
            )
        out.print(fluids)
    if made.kit.tools:
        _say(out, "\nTools, in the order they are needed")
        _say(out, ", ".join(tool.text for tool in made.kit.tools))
    _print_wrenches(out, made)
    if made.kit.missing:
        _say(out, "\nMissing")
        for missing in made.kit.missing:
            _say(out, f"- {missing.words}")
