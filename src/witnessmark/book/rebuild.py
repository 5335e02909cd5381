"""Another build for a book that is already filled in: nothing of its text is lost.

What no block of the new build speaks of any more is kept aside where it stands: its lines become comments that begin
with ``#~``. The next build that has it takes it back.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

import tomlkit

from witnessmark.book.build import Choices, build_lines
from witnessmark.book.compose import compose
from witnessmark.book.document import Document, parsed, quoted
from witnessmark.book.errors import BookError, BookErrors, Path
from witnessmark.book.load import load_book_text
from witnessmark.book.model import Book
from witnessmark.book.optional import TABLES

ASIDE = "#~ "
OPERATION = 4  # parts of the path of an operation


class Rebuilt(NamedTuple):
    """A book with another build, its text, and what of the text is now kept aside or was taken back."""

    book: Book
    text: str
    set_aside: list[Path]
    taken_back: list[Path]


def rebuilt(text: str, build: Choices, name: str) -> Rebuilt:
    """The book `text` with these choices in its ``[build]``; those not named stay.

    Raises BookErrors with what keeping aside cannot mend: blocks that do not go together, or a text of the
    book that needs a hand.
    """
    before = dict(kept_aside(text))
    text = with_build(_taken_back(text), build)
    while True:  # each round keeps more aside, and there is only so much
        document = parsed(text, name)
        base = compose(document.data.get("build", {}), {})[0].data
        less = as_comments(text, document, _without_a_place(document, base))
        if less == text:
            try:
                book = load_book_text(text, name)
                break
            except BookErrors as errors:
                paths = [path for error in errors.errors if (path := _own(document, base, error))]
                less = as_comments(text, document, paths)
                if less == text:
                    raise
        text = less
    after = dict(kept_aside(text))
    set_aside = [path for path in after if path not in before]
    return Rebuilt(book, text, set_aside, [path for path in before if path not in after])


def _without_a_place(document: Document, base: dict[str, Any]) -> Iterator[Path]:
    """The figures of a document that no block asks for: seen without putting the book together."""
    figures = document.data.get("figures", {})
    if "extends" not in document.data and isinstance(figures, dict):
        for name, entry in figures.items():
            if name not in base.get("figures", {}) and "text" not in entry:
                yield "figures", name


# ---------------------------------------------------------------- the choices in the text


def with_build(text: str, build: Mapping[str, Mapping[str, str]]) -> str:
    """The text with these choices in its ``[build]``; every other word of it stays."""
    document = tomlkit.parse(text)
    if "build" not in document:
        return _with_new_table(text, build)
    table: Any = document["build"]
    for line in build_lines(build):
        table.update(tomlkit.parse(line))
    return document.as_string()


def _with_new_table(text: str, build: Mapping[str, Mapping[str, str]]) -> str:
    """With a ``[build]`` behind the head of the document, before the comments of its first table."""
    made = tomlkit.document()
    made["build"] = tomlkit.table()
    lines = text.split("\n")
    at = next((n for n, line in enumerate(lines) if line.lstrip().startswith("[")), len(lines))
    while at and (not lines[at - 1].strip() or lines[at - 1].lstrip().startswith("#")):
        at -= 1
    table = with_build(made.as_string(), build).strip("\n").split("\n")
    return "\n".join([*lines[:at], "", *table, *lines[at:]])


# ---------------------------------------------------------------- kept aside, and taken back


def kept_aside(text: str) -> Iterator[tuple[Path, Any]]:
    """What is kept aside in a text: the path of each entry, and what it says."""
    for run in _runs(text.split("\n")):
        said = "\n".join(line.removeprefix(ASIDE) for line in run)
        try:
            yield from _entries(tomllib.loads(said))
        except tomllib.TOMLDecodeError:  # an entry of a list
            yield ("list", said.strip().rstrip(",")), said


def _entries(data: dict[str, Any], path: Path = ()) -> Iterator[tuple[Path, Any]]:
    for key, value in data.items():
        if (
            isinstance(value, dict)
            and value
            and (not path or all(isinstance(v, dict) for v in value.values()))
        ):
            yield from _entries(value, (*path, key))
        else:
            yield (*path, key), value


def _runs(lines: list[str]) -> Iterator[list[str]]:
    """Lines kept aside that follow one another, begun anew at each header."""
    run: list[str] = []
    for line in [*lines, ""]:
        kept = line.startswith(ASIDE.rstrip())
        if run and (not kept or line.removeprefix(ASIDE).startswith("[")):
            yield run
            run = []
        if kept:
            run.append(line)


def _taken_back(text: str) -> str:
    """The text with every entry kept aside in its place again, but those that stand there anew."""
    for run in _runs(text.split("\n")):
        whole = "\n".join(run)
        tried = text.replace(whole, "\n".join(line.removeprefix(ASIDE) for line in run), 1)
        try:
            tomllib.loads(tried)
        except tomllib.TOMLDecodeError:
            continue
        text = tried
    return text


def _own(document: Document, base: dict[str, Any], error: BookError) -> Path | None:
    """The entry of the document to keep aside for an error; None where it is not the document's."""
    if not error.place.startswith(f"{document.label}:"):
        return None
    path = _longest_in(document.data, error.path)
    if len(path) < 2 or path[0] not in (*TABLES, "translations", "remove"):
        return None
    if path[0] == "remove" or (path[0] == "services" and isinstance(path[-1], int)):
        return path
    if path[0] == "translations":
        return path[:3]
    if path[0] == "jobs" and len(path) > OPERATION and _there(base, path[:2]):
        return _key_or(base, path, path[:OPERATION])
    return _key_or(base, path, path[:2])


def _key_or(base: dict[str, Any], path: Path, entry: Path) -> Path:
    """One key of an entry that a block says, too; of an entry of the document's own the whole.

    Its parts rest on one another: a step that lost what it needs, or what closes it, is another step.
    """
    keyed = len(path) > len(entry) and _there(base, entry) and path[len(entry)] != "operations"
    return path[: len(entry) + 1] if keyed else entry


def _there(data: Any, path: Path) -> bool:
    return _longest_in(data, path) == path


def _longest_in(data: Any, path: Path) -> Path:
    """As much of a path as stands in the tables."""
    for depth, part in enumerate(path):
        inside = isinstance(data, dict) and part in data
        listed = isinstance(data, list) and isinstance(part, int) and part < len(data)
        if not (inside or listed):
            return path[:depth]
        data = data[part]
    return path


def as_comments(text: str, document: Document, paths: Iterable[Path]) -> str:
    """The text with the lines of these entries as comments; as it was where they share their lines with others."""
    lines = text.split("\n")
    aside: set[int] = set()
    for path in dict.fromkeys(paths):
        taken = _lines_of(path, document, lines)
        if not taken and isinstance(path[-1], int):
            return _one_a_line(text, document, path[:-1])  # and once more
        aside |= taken
    return "\n".join(
        f"{ASIDE}{line}" if number in aside else line for number, line in enumerate(lines, 1)
    )


def _lines_of(path: Path, document: Document, lines: list[str]) -> set[int]:
    """The lines of an entry, without the comments behind it; none where another entry stands on one of them."""
    starts: dict[int, list[Path]] = {}
    for other, at in document.lines.items():
        starts.setdefault(at, []).append(other)
    taken: set[int] = set()
    run: list[int] = []
    mine = False
    for number, line in enumerate(lines, 1):
        begun = [
            other
            for other in starts.get(number, [])
            if other != path[: len(other)] or other == path
        ]
        if begun:
            inside = [other[: len(path)] == path for other in begun]
            if any(inside) and not all(inside):
                return set()
            mine, run = all(inside), []
        elif line.lstrip().startswith("["):  # the header of a table without an entry
            mine = False
        if mine:
            run.append(number)
            if line.strip() and not line.lstrip().startswith("#"):
                taken |= set(run)
                run = []
    return taken


def _one_a_line(text: str, document: Document, path: Path) -> str:
    """The text with the entries of a list each on a line of its own."""
    listed: Any = document.data
    for part in path:
        listed = listed[part]
    lines = text.split("\n")
    taken = sorted(_lines_of(path, document, lines))
    if not taken or not all(isinstance(one, str) for one in listed):
        return text
    head = lines[taken[0] - 1].partition("=")[0]
    made = [f"{head}= [", *(f"  {quoted(one)}," for one in listed), "]"]
    return "\n".join([*lines[: taken[0] - 1], *made, *lines[taken[-1] :]])
