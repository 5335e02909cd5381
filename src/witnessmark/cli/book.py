"""`witnessmark book`: check, show and start service books.

Exit codes: 0 sound; 1 sound, but a figure looks wrong (`check`, `figures`), is missing or unproven
(`figures`), or a rule of the trade is broken without an answer (`check`); 2 the book, or what was
asked of it, cannot be used: each fault with file, line, what is wrong and what would be right.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console

from witnessmark.book import (
    Book,
    BookError,
    BookErrors,
    archetypes,
    canonical,
    load_book,
    revision,
    selection,
)
from witnessmark.book.build import in_words
from witnessmark.book.deadlocks import too_large
from witnessmark.book.document import document_in
from witnessmark.book.errors import dotted
from witnessmark.book.figures import (
    FigureUse,
    figure_state,
    figures_missing,
    figures_unproven,
    figures_used,
)
from witnessmark.book.load import PlacedBook, load_placed
from witnessmark.book.plausible import Plausibility, doubts
from witnessmark.book.schema import book_schema
from witnessmark.book.select import operations
from witnessmark.cli import book_rules, books_sent
from witnessmark.cli.build_sheet import (
    new_sheet,
    path_of,
    slot_as_json,
    slots_named,
    table_of_slot,
)
from witnessmark.cli.printing import print_json, table_of
from witnessmark.errors import WitnessError

app = typer.Typer(
    help="Check, show and start service books.", no_args_is_help=True, add_completion=False
)
_out = Console()

NameOrFile = Annotated[
    str, typer.Argument(help="name of an archetype or demo book, or a TOML file")
]
AsJson = Annotated[bool, typer.Option("--json", help="the result as JSON on stdout")]


@app.command()
def check(
    files: Annotated[list[Path], typer.Argument(help="TOML files")], as_json: AsJson = False
) -> None:
    """Check books and all they extend; exit 2: malformed, 1: a figure looks wrong or a rule is broken."""
    results = [_checked(str(file)) for file in files]
    errors = [error for _, _, found in results for error in found]
    for error in errors:
        typer.echo(str(error), err=True)
    placed = [(name, one) for name, one, _ in results if one is not None]
    sound = [(name, one.book) for name, one in placed]
    if as_json:
        print_json([_as_json(*result) for result in results])
    else:
        _print_checked(sound)
        _print_doubts([line for name, book in sound for line in _doubts(book, Path(name))])
        for _, one in placed:
            book_rules.print_findings(one)
    doubtful = any(doubts(one.book) or book_rules.unanswered(one) for _, one in placed)
    raise typer.Exit(2 if errors else 1 if doubtful else 0)


@app.command()
def show(name: NameOrFile, as_json: AsJson = False) -> None:
    """Show a book as it is after `extends`: services, jobs, figures, revision."""
    book = loaded(name)
    if as_json:
        print_json({"revision": revision(book), "book": json.loads(canonical(book))})
        return
    typer.echo(f"{book.title} ({book.name})" + (", invented" if book.invented else ""))
    typer.echo(_machine(book))
    typer.echo(f"revision {revision(book)}")
    _print_build(book)
    _print_services(book)
    _print_jobs(book)
    _print_figures(book)


@app.command()
def figures(
    name: NameOrFile,
    jobs: Annotated[list[str] | None, typer.Argument(help="jobs or services; else all")] = None,
    as_json: AsJson = False,
) -> None:
    """Print the figures still missing for jobs, those without a source, those that look wrong; exit 1 for any."""
    book = loaded(name)
    try:
        chosen = selection(book, jobs or book.jobs)
    except BookError as error:
        raise refused(error) from None
    missing, unproven = figures_missing(book, chosen), figures_unproven(book, chosen)
    used = {use.id for use in figures_used(book, chosen)}
    problem = [look for look in doubts(book) if look.figure in used]
    if as_json:
        found = {"missing": missing, "unproven": unproven}
        print_json(
            {"jobs": chosen}
            | {key: _uses_json(uses) for key, uses in found.items()}
            | {"doubtful": [_look_json(look) for look in problem]}
        )
    else:
        _print_uses("missing", missing)
        _print_uses("unproven: a value without a source", unproven)
        _print_doubts([(f"figures.{look.figure}.{look.key}", look.words) for look in problem])
        if not missing and not unproven and not problem:
            typer.echo("every figure is there, with its source", err=True)
    raise typer.Exit(1 if missing or unproven or problem else 0)


@app.command()
def new(
    build: Annotated[
        list[str] | None,
        typer.Option(help="how it is built: slot=block or slot.option=choice; see `book blocks`"),
    ] = None,
    start: Annotated[
        str, typer.Option("--from", help="archetype whose choices to begin with")
    ] = "",
    extends: Annotated[str, typer.Option(help="archetype, or path of a book, to build on")] = "",
    name: Annotated[str, typer.Option(help="id of the new book: lower case, digits, _")] = "",
    maker: Annotated[str, typer.Option(help="the machine's maker")] = "",
    model: Annotated[str, typer.Option(help="the machine's model")] = "",
    years: Annotated[str, typer.Option(help="its years")] = "",
) -> None:
    """Print the figures sheet of a new model, to save as a TOML file and fill in.

    In a terminal it asks for what is lacking.
    """
    try:
        text = new_sheet(
            build or [],
            start,
            extends,
            {"name": name, "maker": maker, "model": model, "years": years},
        )
    except (BookError, BookErrors) as error:
        raise refused(error) from None
    typer.echo(text, nl=False)


@app.command("blocks")
def list_blocks(
    slot: Annotated[str, typer.Argument(help="one slot; else all")] = "", as_json: AsJson = False
) -> None:
    """List what a model can be built of: slots, their blocks, and the options of each, in words."""
    try:
        slots = slots_named(slot)
    except BookError as error:
        raise refused(error) from None
    if as_json:
        print_json([slot_as_json(one) for one in slots])
        return
    for one in slots:
        _out.print(table_of_slot(one))


@app.command()
def schema() -> None:
    """Print the JSON Schema of a book document, for editors."""
    print_json(book_schema())


@app.command("archetypes")
def list_archetypes(as_json: AsJson = False) -> None:
    """List the archetypes that a book can extend."""
    books = {name: loaded(name) for name in archetypes()}
    if as_json:
        print_json([{"name": n, "title": b.title, "jobs": list(b.jobs)} for n, b in books.items()])
        return
    table = table_of("archetype", "title", "jobs", "figures to fill in")
    for name, book in books.items():
        empty = sum(figure_state(figure) == "missing" for figure in book.figures.values())
        table.add_row(name, book.title, str(len(book.jobs)), str(empty))
    _out.print(table)


app.command("export")(books_sent.export)
app.command("import")(books_sent.take_in)


# ---------------------------------------------------------------- load, or say why not


def loaded(name: str) -> Book:
    """The book of an archetype, a demo book or a file; what is wrong is told, exit 2."""
    try:
        return load_book(path_of(name))
    except (BookError, BookErrors) as errors:
        raise refused(errors) from None


def refused(error: WitnessError) -> typer.Exit:
    """Tell the error; the exit to raise."""
    typer.echo(str(error), err=True)
    return typer.Exit(2)


def _checked(name: str) -> tuple[str, PlacedBook | None, tuple[BookError, ...]]:
    try:
        return name, load_placed(Path(name)), ()
    except BookErrors as errors:
        return name, None, errors.errors


# ---------------------------------------------------------------- print


def _as_json(name: str, placed: PlacedBook | None, errors: tuple[BookError, ...]) -> dict[str, Any]:
    told = {"file": name, "errors": [error.as_dict() for error in errors]}
    if placed is None:
        return told
    book = placed.book
    return told | {
        "name": book.name,
        "revision": revision(book),
        "missing": len(figures_missing(book, book.jobs)),
        "unproven": len(figures_unproven(book, book.jobs)),
        "doubtful": [_look_json(look) for look in doubts(book)],
        "rules": book_rules.as_json(placed),
    }


def _look_json(look: Plausibility) -> dict[str, Any]:
    return {"id": look.figure, "key": look.key, "words": look.words}


def _doubts(book: Book, file: Path) -> list[tuple[str, str]]:
    """What looks wrong, each with its line where this file says it."""
    try:
        document = document_in(file, str(file))
    except BookErrors:  # gone since it was loaded
        return []
    looks = [(("figures", look.figure, look.key), look.words) for look in doubts(book)]
    looks.sort(key=lambda look: document.lines.get(look[0], 0))
    return [
        (
            f"{file}{f':{document.lines[path]}' if path in document.lines else ''} {dotted(path)}",
            words,
        )
        for path, words in looks
    ]


def _uses_json(uses: Iterable[FigureUse]) -> list[dict[str, Any]]:
    return [
        {"id": use.id, "text": use.figure.text, "quantity": use.figure.quantity, "where": use.where}
        for use in uses
    ]


def _print_checked(books: list[tuple[str, Book]]) -> None:
    for file, book in books:
        missing = len(figures_missing(book, book.jobs))
        unproven = len(figures_unproven(book, book.jobs))
        figures_told = f"figures: {missing} missing, {unproven} unproven"
        typer.echo(f"{file}: sound; {len(book.jobs)} jobs; {figures_told}")
        typer.echo(f"  {book.name} {revision(book)}")
        if words := too_large(book):
            typer.echo(f"  {words}")


def _machine(book: Book) -> str:
    if book.machine is None:
        return "an archetype, of no machine"
    return f"{book.machine.maker} {book.machine.model} {book.machine.years}".strip()


def _print_build(book: Book) -> None:
    if book.build:
        table = table_of("slot", "built", "", title="\nHow it is built")
        for slot, block, more in in_words(book.build):
            table.add_row(slot, block, "; ".join(more))
        _out.print(table)


def _print_services(book: Book) -> None:
    table = table_of("service", "", "jobs", title="\nServices")
    for name, service in book.services.items():
        table.add_row(name, service.text, ", ".join(service.jobs))
    _out.print(table)


def _print_jobs(book: Book) -> None:
    table = table_of("job", "", "every", "operations", "minutes, without access", title="\nJobs")
    for name, job in book.jobs.items():
        intervals = [book.figures[f] for f in (job.every_distance, job.every_time) if f is not None]
        every = " or ".join(dict.fromkeys(figure.value or "missing" for figure in intervals))
        minutes = sum(o.minutes * o.hands for o in job.operations.values())
        table.add_row(name, job.text, every, str(len(operations(book, [name]))), f"{minutes:g}")
    _out.print(table)


def _print_figures(book: Book) -> None:
    table = table_of("figure", "", "value", "state", "source", title="\nFigures")
    for name, figure in book.figures.items():
        ends = " to ".join(end for end in (figure.low, figure.high) if end)
        spread = f" ± {figure.tolerance}" if figure.tolerance else ""
        value = figure.value + spread if figure.value else ends
        table.add_row(name, figure.text, value, figure_state(figure), figure.source or "")
    _out.print(table)


def _print_doubts(lines: list[tuple[str, str]]) -> None:
    if lines:
        typer.echo(f"\n{len(lines)} to look at again:")
    for place, words in lines:
        typer.echo(f"{place}: {words}")


def _print_uses(title: str, uses: list[FigureUse]) -> None:
    if uses:
        table = table_of("figure", "", "kind", "used by", title=f"\n{len(uses)} {title}")
        for use in uses:
            table.add_row(use.id, use.figure.text, use.figure.quantity, ", ".join(use.where))
        _out.print(table)
