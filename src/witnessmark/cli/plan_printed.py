"""What `witnessmark plan` prints of a plan, as text and as JSON."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from rich.console import Console

from witnessmark.book import Book, revision, steps
from witnessmark.book.figures import figures_missing, figures_unproven
from witnessmark.book.select import job_of
from witnessmark.cli.plan_problem import (
    plan_table,
    some,
)
from witnessmark.cli.plan_reasons import (
    Reasons,
)
from witnessmark.cli.plan_reasons import as_json as told_as_json
from witnessmark.cli.plan_reasons import said as told_in_words
from witnessmark.cli.printing import table_of
from witnessmark.kit import Kit
from witnessmark.kit.wording import packs_in_words, pours_in_words
from witnessmark.planner import (
    Answer,
    PlanStep,
    Problem,
    Saving,
    Tree,
    conflict_of_book,
    every_unknown,
    jobs_served,
    lasting,
    proof,
    tree_in_words,
    waits_in_words,
)
from witnessmark.units import show


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


def as_json(made: Plan) -> dict[str, Any]:
    """A plan as plain data."""
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


def print_plan(made: Plan) -> None:
    """Print it in words and tables."""
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
