"""Write a job of one's own into the TOML text of a service book, and leave every other word of it as it stands."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

import tomlkit
from tomlkit.items import InlineTable

from witnessmark.book.model import Book
from witnessmark.book.own_job import OwnJob, free, tables


def with_job(text: str, book: Book, job: OwnJob, name: str) -> str:
    """The TOML text of that book with the job under `name`, all else as it stands.

    Raises ValueError where the book has a job or service of that name.
    """
    if name in {**book.jobs, **book.services}:
        raise ValueError(f'there is a "{name}" already; name the job otherwise')
    made = tables(job, name, free(job, book))
    behind = text.rstrip("\n") + "\n" * 2 + as_text(made)
    try:
        tomllib.loads(behind)
    except tomllib.TOMLDecodeError:  # a table of the text is closed: written in one line, or dotted
        document = tomlkit.parse(text)
        for table, rows in made.items():
            document.setdefault(table, tomlkit.table(is_super_table=True)).update(rows)
        return document.as_string()
    return behind


def as_text(made: Mapping[str, Mapping[str, Any]]) -> str:
    """Tables of a book as TOML, a header for each thing and each operation."""
    return "\n".join(block for table, rows in made.items() for block in _blocks((table,), rows))


def _blocks(path: tuple[str, ...], rows: Mapping[str, Any]) -> Iterator[str]:
    for key, row in rows.items():
        here, inner = (*path, key), row.get("operations", {})
        lines = [f"{k} = {_inline(v).as_string()}\n" for k, v in row.items() if k != "operations"]
        yield f"[{'.'.join(here)}]\n{''.join(lines)}"
        yield from _blocks((*here, "operations"), inner)


def _inline(value: Any) -> Any:
    if isinstance(value, dict):
        table: InlineTable = tomlkit.inline_table()
        for key, one in value.items():
            table.append(key, _inline(one))
        return table
    return tomlkit.item(value)
