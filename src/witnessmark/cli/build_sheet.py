"""The build sheet in the terminal: what there is to choose, and the figures sheet of what was chosen."""

from __future__ import annotations

import re
import sys
from importlib import resources
from pathlib import Path
from typing import Any

import typer
from rich.table import Table

from witnessmark.book import Book, BookError, BookErrors, archetypes, load_book
from witnessmark.book import build as sheet
from witnessmark.book.build import Block, Choices
from witnessmark.book.compose import build_over, in_full
from witnessmark.book.errors import known
from witnessmark.book.fields import ID_PATTERN
from witnessmark.book.figures_form import figures_sheet
from witnessmark.book.vocabulary import NOT_KNOWN, Slot
from witnessmark.cli.printing import table_of
from witnessmark.errors import listed, nearest


def new_sheet(written: list[str], start: str, extends: str, about: dict[str, str]) -> str:
    """The figures sheet of a new model as TOML text. Raises BookError or BookErrors.

    `written`: choices as typed. `start`: the archetype whose choices to begin with; `extends`: the book to build
    on. `about`: its name, maker, model and years. A terminal is asked for what is lacking.
    """
    chosen = sheet.written(written)
    if start and extends:
        raise BookError("--from", "stands beside --extends", "keep one of the two")
    if extends and not chosen:
        return _of(load_book(path_of(extends)), about, extends=extends)
    points = sheet.starting_points()
    base = start or extends
    if base and base not in points:
        place = "--from" if start else "--extends"
        problem = f'no archetype "{base}" that is a choice of blocks'
        raise BookError(place, problem, known("archetype", base, points))
    build = build_over(points[base][1] if base else {}, chosen)
    sheet.refuse_unknown(build)
    if extends:
        return _of(sheet.book_built(chosen, extends), about, extends=extends, build=chosen)
    build = sheet.whole(_asked(build))
    return _of(sheet.book_built(build), about, build=build)


def _of(
    book: Book, about: dict[str, str], *, extends: str | None = None, build: Choices | None = None
) -> str:
    while not re.match(ID_PATTERN, about["name"]):
        expected = "give lower-case letters, digits and underscores, letter first"
        error = BookError("--name", f'"{about["name"]}" will not do', expected)
        if not sys.stdin.isatty():
            raise error
        if about["name"]:
            typer.echo(str(error), err=True)
        about["name"] = str(typer.prompt("id of the book (a-z, 0-9, _)", err=True)).strip()
    for key in ("maker", "model"):
        if not about[key] and sys.stdin.isatty():
            about[key] = typer.prompt(f"{key} of the machine", err=True)
    return figures_sheet(book, extends=extends, build=build, **about)


def _asked(build: Choices) -> Choices:
    """The build with what no machine is without: asked for in a terminal, else told.

    Raises BookErrors for every slot that lacks its block.
    """
    lacking = sheet.missing(build)
    slots = {slot.name: slot for slot in sheet.asked()}
    if lacking and not sys.stdin.isatty():
        raise BookErrors(
            BookError(
                f"--build {name}",
                f"{slots[name].text}: nothing is chosen",
                f"choose {listed(slots[name].blocks)}; or begin with an archetype, --from",
            )
            for name in lacking
        )
    for slot in slots.values():
        if slot.name in lacking or (lacking and slot.name not in build and not slot.always):
            build = build | {slot.name: _prompted(slot)}
    while lacking and (wrong := in_full(sheet.whole(build), {})[1]):
        fault = wrong[0][1]
        typer.echo(f"{fault.problem}; {fault.expected}", err=True)
        slot = slots[str(fault.path[1])]
        build = build | {slot.name: _prompted(slot)}
    return build


def _prompted(slot: Slot) -> dict[str, str]:
    """What is answered for a slot, then for each option of its block."""
    blocks = {block.name: block for block in sheet.blocks_of(slot)}
    texts = {name: block.text for name, block in blocks.items()}
    usual = None if slot.always else NOT_KNOWN
    taken = _one_of(
        slot.text, texts if slot.always else texts | {NOT_KNOWN: "or it has none"}, usual
    )
    block: Block | None = blocks.get(taken)
    options = block.options if block else []
    return {"is": taken} | {one.name: _one_of(one.text, one.choices, one.usual) for one in options}


def _one_of(question: str, choices: dict[str, str], usual: str | None) -> str:
    """One of some names, asked until it is one of them."""
    typer.echo(f"\n{question}", err=True)
    for name, text in choices.items():
        typer.echo(f"  {name}: {text}" if text != name else f"  {name}", err=True)
    while True:
        answer = str(typer.prompt("choose", default=usual, err=True)).strip()
        if answer in choices:
            return answer
        typer.echo(known("choice", answer, choices), err=True)


# ---------------------------------------------------------------- what there is


def slots_named(name: str) -> list[Slot]:
    """The slot of that name; all for none. Raises BookError."""
    slots = {slot.name: slot for slot in sheet.asked()}
    if name and name not in slots:
        raise BookError(name, "no such slot", known("slot", name, slots))
    return [slots[name]] if name else list(slots.values())


def table_of_slot(slot: Slot) -> Table:
    """The blocks of a slot with their options, the usual choice first."""
    needed = "" if slot.always else f', or "{NOT_KNOWN}"'
    table = table_of("block", "", "options", title=f"\n{slot.name}: {slot.text}{needed}")
    for block in sheet.blocks_of(slot):
        options = [
            f"{slot.name}.{one.name}: {one.text}: {', '.join(sorted(one.choices, key=one.usual.__ne__))}"
            for one in block.options
        ]
        table.add_row(block.name, block.text, "\n".join(options))
    return table


def slot_as_json(slot: Slot) -> dict[str, Any]:
    """A slot with its blocks and their options."""
    blocks = [
        {
            "name": one.name,
            "text": one.text,
            "options": [option._asdict() for option in one.options],
        }
        for one in sheet.blocks_of(slot)
    ]
    return {"name": slot.name, "text": slot.text, "always": slot.always, "blocks": blocks}


# ---------------------------------------------------------------- names of books


def path_of(name: str) -> Path:
    """The file of an archetype, a demo book or a path. Raises BookError."""
    books = archetypes() | demo_books()
    if name in books:
        return books[name]
    if name.endswith(".toml") or Path(name).exists():
        return Path(name)
    like = nearest(name, books)
    names = f'did you mean "{like}"?' if like else f"there are {', '.join(books)}"
    raise BookError(name, "no archetype, demo book or file of that name", names)


def demo_books() -> dict[str, Path]:
    """The invented books of the demo, by name."""
    folder = Path(str(resources.files("witnessmark.demo").joinpath("books")))
    return {path.stem: path for path in sorted(folder.glob("*.toml"))}
