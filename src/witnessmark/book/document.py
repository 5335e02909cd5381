"""One TOML document of a book: what it says, and on which line."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Any

import tomli  # compiled: four times as fast as the standard library's own, which it is otherwise

from witnessmark.book.errors import BookError, BookErrors, Path, dotted
from witnessmark.book.merge import Origin
from witnessmark.book.positions import lines_of
from witnessmark.book.system import FilePath, contents

MOST_BYTES = 2_000_000
MOST_LEVELS = 12  # tables in tables; the format itself has seven
MOST_ENTRIES = 1000  # of one table or list; the largest book has a few hundred


@dataclass(frozen=True)
class Document:
    """A TOML text: how people know it, its file if any, what it says; where, once somebody asks."""

    label: str
    file: FilePath | None
    text: str = field(repr=False)
    data: dict[str, Any] = field(repr=False, compare=False)
    moved: tuple[tuple[Path, Path], ...] = field(default=(), repr=False, compare=False)
    """What its text says under a name of old, and where that stands in `data`."""

    @cached_property
    def lines(self) -> dict[Path, int]:
        """The line of everything it says."""
        lines = lines_of(self.text)
        for old, new in self.moved:
            of_old = {path: new + path[len(old) :] for path in lines if path[: len(old)] == old}
            lines = {now: lines[path] for path, now in of_old.items()} | {
                path: line for path, line in lines.items() if path not in of_old
            }
        if self.moved:
            lines |= {
                path[:n]: line
                for path, line in lines.items()
                for n in (1, 2)
                if path[:n] not in lines
            }
        return lines

    @cached_property
    def said(self) -> dict[Path, Origin]:
        """Where each thing it says stands."""
        return {path: Origin(self.label, line) for path, line in self.lines.items()}

    def at(self, path: Path) -> Origin:
        """The line of that path, else of the nearest table around it."""
        while path not in self.lines:
            path = path[:-1]
        return Origin(self.label, self.lines[path])


def document_in(path: FilePath, label: str) -> Document:
    """The document in a file. Raises BookErrors when it cannot be read or is not TOML."""
    try:
        raw = contents(path, MOST_BYTES)
    except OSError as error:
        raise _unusable(label, f"cannot be read: {error.strerror}", "give a TOML file") from None
    if raw is None:
        raise _too_large(label)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise _unusable(f"{label}:{line}", "not UTF-8 text", "save it as UTF-8") from None
    return parsed(text, label, path)


@lru_cache(
    maxsize=128
)  # the blocks of a build, and the documents of a chain, are read again and again
def parsed(text: str, label: str, file: FilePath | None = None) -> Document:
    """The document in a text; its data are shared, so nobody may change them. Raises BookErrors when it is not TOML."""
    if len(text) > MOST_BYTES:
        raise _too_large(label)
    text = text.replace("\r\n", "\n")
    try:
        document = Document(label, file, text, tomli.loads(text))
        _refuse_too_much(document)
    except BookErrors:  # a ValueError as well
        raise
    except tomli.TOMLDecodeError as error:
        raise _not_toml(label, text, str(error)) from None
    except RecursionError:
        place = f"{label}:{_deepest_line(text)}"
        raise _unusable(place, "nested too deep", "write it flatter") from None
    except ValueError:  # of int(): a number with thousands of digits
        place = f"{label}:{_longest_number_line(text)}"
        raise _unusable(place, "a number with too many digits", "give a plain number") from None
    return document


def _refuse_too_much(document: Document) -> None:
    """Raise BookErrors for tables too deep or too long, counted without recursion."""
    pending: list[tuple[Path, Any]] = [((), document.data)]
    while pending:
        path, value = pending.pop()
        if len(path) >= MOST_LEVELS:
            problem = f"tables more than {MOST_LEVELS} deep"
            raise _unusable(_place(document, path), problem, "write it flatter")
        if len(value) > MOST_ENTRIES:
            problem = f"{len(value)} entries"
            raise _unusable(_place(document, path), problem, f"give at most {MOST_ENTRIES}")
        entries = value.items() if isinstance(value, dict) else enumerate(value)
        pending += [
            ((*path, part), entry) for part, entry in entries if type(entry) in (dict, list)
        ]


def _place(document: Document, path: Path) -> str:
    return f"{document.label}:{document.at(path).line} {dotted(path)}".rstrip()


def _longest_number_line(text: str) -> int:
    """The line of the longest run of digits."""
    longest = max(re.finditer(r"[0-9_]+", text), key=lambda run: len(run[0]))
    return text[: longest.start()].count("\n") + 1


def _deepest_line(text: str) -> int:
    """The line that opens most tables and lists: the nearest to where nesting went too deep."""
    lines = text.split("\n")
    return max(range(len(lines)), key=lambda n: sum(map(lines[n].count, "[{."))) + 1


def _too_large(label: str) -> BookErrors:
    line = f"{label}:1"
    return _unusable(line, f"larger than {MOST_BYTES} bytes", "give a service book")


def _unusable(place: str, problem: str, expected: str) -> BookErrors:
    return BookErrors([BookError(place, problem, expected)])


_MEANT = {
    "Cannot overwrite a value": "the key stands there twice; keep one of the two",
    "Cannot declare": "the table stands there twice; put its keys under one header",
    "Cannot mutate immutable namespace": "the table was closed before; write it in one place",
    "Invalid value": 'give a text in quotes, "like this", a number, true or false, or a list',
    "Unclosed array": "close the list with ]",
    "Unterminated string": "close the text with its quotes",
    "Expected '=' after a key": "write key = value",
    "Expected newline or end of document": "put one key = value on each line",
    "Illegal character": "write it on one line, or between three quotes",
    "Invalid initial character for a key part": "put a key with unusual letters in quotes",
    "Unescaped '\\' in a string": "write a backslash twice",
}


def _not_toml(label: str, text: str, message: str) -> BookErrors:
    """What `tomli` says, with the line in front and what would be right."""
    said = re.fullmatch(
        r"(.*) \(at (?:line (\d+), column (\d+)|end of document)\)", message, re.DOTALL
    )
    what, line, column = said.groups() if said else (message, None, None)
    number = int(line) if line else max(1, len(text.rstrip().splitlines()))
    expected = next((meant for start, meant in _MEANT.items() if what.startswith(start)), "")
    where = f" at column {column}" if column else ""
    what = re.sub(r"\('(.*?)',?\)", lambda names: names[1].replace("', '", "."), what)
    problem = f"not TOML{where}: {what[:1].lower()}{what[1:]}"
    return _unusable(f"{label}:{number}", problem, expected or "mend the text there")


def quoted(text: str) -> str:
    """A TOML basic string: JSON's escapes are a part of TOML's."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
