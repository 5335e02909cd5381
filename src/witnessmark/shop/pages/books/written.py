"""Write figures into the TOML text of a service book, and leave every other word of it as it stands."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit.items import InlineTable

from witnessmark.book import Book
from witnessmark.book.model import Checked

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
        for key, entry in entries.items():
            _write(figures[name], key, entry)
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
