"""Write figures into the TOML text of a service book, and leave every other word of it as it stands."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

import tomlkit
from tomlkit.items import InlineTable, Table

from witnessmark.book.model import Book, Checked

Entries = Mapping[str, str | Checked | None]


def with_figures(text: str, changes: Mapping[str, Entries]) -> str:
    """The text with these entries of figures (by id, then by key) put in place of what stands there.

    An entry that is cleared is written as "", so that it is missing here whatever the archetype
    says. Comments, order and layout of the text stay.
    """
    document = tomlkit.parse(text)
    if "figures" not in document:
        document["figures"] = tomlkit.table(is_super_table=True)
    figures: Any = document["figures"]
    for name, entries in changes.items():
        if name not in figures:
            figures[name] = tomlkit.table()
        new = [key for key in entries if key not in figures[name]]
        for key, entry in entries.items():
            _write(figures[name], key, entry)
        if new and isinstance(figures[name], Table):
            figures[name] = _comments_last(figures[name], new)
    return document.as_string()


def text_of(book: Book) -> str:
    """A whole book as TOML, for a book that was stored without its text."""
    return tomlkit.dumps(book.model_dump(mode="python", exclude_defaults=True))


def _write(figure: Any, key: str, entry: str | Checked | None) -> None:
    if isinstance(entry, Checked):
        table: InlineTable = tomlkit.inline_table()
        table.update({"by": entry.by, "on": entry.on})
        figure[key] = table
    elif key == "checked":
        figure.pop(key, None)
    else:
        figure[key] = entry or ""


def _comments_last(figure: Table, new: Collection[str]) -> Table:
    """New entries before the comments that end the table: those speak of the next one."""
    body = [(key, item) for key, item in figure.value.body if not (key and key.key in new)]
    last = max((place for place, (key, _) in enumerate(body) if key), default=-1)
    table = tomlkit.table()
    for key, item in body[: last + 1]:
        table.append(key, item)
    for name in new:
        if name in figure:
            table.append(name, figure[name])
    for key, item in body[last + 1 :]:
        table.append(key, item)
    return table
