"""A book that another shop sent, beside the one that is here: what it would change, and what is taken of it.

What comes in is looked up here before it is relied on: its figures say whose they are, and count as unproven. Who
compared them there, who vouched for one, and who answered a rule of the trade is not taken over. Of what is here
nothing goes but by a choice, line by line.
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Iterator, Mapping
from typing import Any, NamedTuple

import tomlkit

from witnessmark.book import build as sheet
from witnessmark.book.errors import Path, dotted
from witnessmark.book.figures import figure_state, names_a_source, source_sent
from witnessmark.book.figures_written import Entries, with_figures
from witnessmark.book.load import load_book_text
from witnessmark.book.model import ENTRIES, Book, Figure
from witnessmark.book.rebuild import rebuilt

MOST_SOURCE = 400  # signs; as the book has it
NOT_COMPARED = ("format", "name", "build", "figures", "answers")
COPIED = (*ENTRIES, "tolerance", "source", "sent_by", "note", "photo")
NO_PHOTOS: Mapping[str, str] = {}


class Difference(NamedTuple):
    """One thing that both books say, each otherwise, or only the other one: in words. `path` names it."""

    path: Path
    words: str
    ours: str
    theirs: str

    @property
    def id(self) -> str:
        """The path as one word, for a form. Example: ``figures.oil_volume``."""
        return dotted(self.path)


class Compared(NamedTuple):
    """What a book that came in would bring to the one here."""

    gaps: list[str]  # figures missing here, in words with their value
    differences: list[Difference]


def as_received(text: str, shop: str, photos: Mapping[str, str] = NO_PHOTOS) -> str:
    """The text of a sound book with every figure marked as that shop's, and nobody's confirmation in it.

    `photos`: those that came along, by the hash that the text names, with the hash they are kept under here.
    """
    book = load_book_text(text)
    changes: dict[str, Entries] = {}
    for name, figure in book.figures.items():
        if figure_state(figure) != "missing":
            kept = photos.get(figure.photo or "")
            came: Entries = {"photo": kept} if kept else {}
            marked = {"sent_by": shop, **_source(figure, shop), **_unconfirmed(figure)}
            changes[name] = {**marked, **came}
    document = tomlkit.parse(with_figures(text, changes) if changes else text)
    document.pop("answers", None)
    return document.as_string()


def compared(ours: str, theirs: str) -> Compared:
    """What `theirs`, as received, would bring to `ours`. Raises BookErrors where a text is no sound book."""
    here, there = load_book_text(ours), load_book_text(theirs)
    return Compared(
        [f"{here.figures[name].text}: {said(there.figures[name])}" for name in _gaps(here, there)],
        [
            *_builds(here, there),
            *_entries(tomllib.loads(ours), tomllib.loads(theirs), here),
            *_figures(here, there),
        ],
    )


def taken(ours: str, theirs: str, chosen: Collection[str]) -> str:
    """`ours` with what is missing in it, and with those differences (`Difference.id`) that were chosen.

    Raises BookErrors where what was chosen does not go together.
    """
    here, there = load_book_text(ours), load_book_text(theirs)
    text = ours
    slots = {d.path[1] for d in _builds(here, there) if d.id in chosen}
    if slots:
        choices = {str(slot): sheet.whole(there.build)[str(slot)] for slot in slots}
        text = rebuilt(text, choices, here.name).text
    own = tomllib.loads(theirs)
    paths = [one.path for one in _entries(tomllib.loads(ours), own, here) if one.id in chosen]
    text = _with_entries(text, own, paths)
    book = load_book_text(text, here.name)
    names = [name for name in _gaps(book, there) if ("figures", name) not in paths]
    names += [str(d.path[1]) for d in _figures(here, there) if d.id in chosen]
    changes = {name: _copied(book.figures[name], there.figures[name]) for name in names}
    text = with_figures(text, changes) if changes else text
    load_book_text(text, here.name)
    return text


def said(figure: Figure) -> str:
    """A figure with its limits and source, as people read it."""
    ends = " to ".join(end for end in (figure.low, figure.high) if end)
    value = " ".join(
        filter(None, (figure.value, figure.tolerance and f"± {figure.tolerance}", ends))
    )
    return f"{value} ({figure.source or 'no source'})"


# ---------------------------------------------------------------- figures


def _source(figure: Figure, shop: str) -> Entries:
    if not names_a_source(figure.source):
        return {}
    return {"source": source_sent(shop, str(figure.source))[:MOST_SOURCE]}


def _unconfirmed(figure: Figure) -> Entries:
    """What somebody of another shop put their name to, cleared; so is a photo, until it is known to be here."""
    names = ("checked", "entered", "confirmed", "photo", "vouched")
    return {name: None for name in names if getattr(figure, name)}


def _gaps(here: Book, there: Book) -> Iterator[str]:
    """The figures missing here that the other book has."""
    for name, figure in here.figures.items():
        other = there.figures.get(name)
        if other is None or other.quantity != figure.quantity:
            continue
        if figure_state(figure) == "missing" != figure_state(other):
            yield name


def _figures(here: Book, there: Book) -> Iterator[Difference]:
    """Figures that both have otherwise; where only the source is lacking here, that is one, too."""
    for name, figure in here.figures.items():
        other = there.figures.get(name)
        if other is None or other.quantity != figure.quantity:
            continue
        if "missing" in (figure_state(figure), figure_state(other)):
            continue
        lacking = names_a_source(other.source) and not names_a_source(figure.source)
        if lacking or _amount(figure) != _amount(other):
            yield Difference(("figures", name), figure.text, said(figure), said(other))


def _amount(figure: Figure) -> tuple[Any, ...]:
    """What a figure comes to, however it is written: base units, rounded to what a unit's conversion leaves exact."""
    if figure.quantity == "words":
        return tuple(" ".join((getattr(figure, key) or "").casefold().split()) for key in ENTRIES)
    amounts = (figure.in_base(key) for key in ENTRIES)
    return tuple(
        None if amount is None else f"{amount:.9g}" for amount in (*amounts, figure.spread)
    )


def _copied(ours: Figure, theirs: Figure) -> Entries:
    """The entries of a figure in place of ours: its confirmation was of another value, and goes."""
    entries: dict[str, Any] = {}
    for key in COPIED:
        value = getattr(theirs, key) or None
        if value != (getattr(ours, key) or None):
            entries[key] = value
    return {**_unconfirmed(ours), **entries}


# ---------------------------------------------------------------- how it is built, and what else its text says


def _builds(here: Book, there: Book) -> Iterator[Difference]:
    if not (here.build and there.build):
        return
    ours, theirs = sheet.whole(here.build), sheet.whole(there.build)
    for slot in ours:
        if ours[slot] != theirs[slot]:
            (words, was, more), (_, now, other) = (
                next(sheet.in_words({slot: one[slot]})) for one in (ours, theirs)
            )
            yield Difference(
                ("build", slot), words, ", ".join([was, *more]), ", ".join([now, *other])
            )


def _entries(ours: dict[str, Any], theirs: dict[str, Any], here: Book) -> Iterator[Difference]:
    """What the texts themselves say otherwise, but for build and figures; also figures of the other's own."""
    for key, value in theirs.items():
        if key not in NOT_COMPARED:
            if isinstance(value, dict) and all(isinstance(one, dict) for one in value.values()):
                mine = ours.get(key, {})
                for name, entry in value.items():
                    yield from _entry((key, name), mine.get(name), entry)
            else:
                yield from _entry((key,), ours.get(key), value)
    for name, entry in theirs.get("figures", {}).items():
        if name not in here.figures and "text" in entry:
            yield from _entry(("figures", name), None, entry)


def _entry(path: Path, ours: Any, theirs: Any) -> Iterator[Difference]:
    if ours != theirs:
        text = theirs.get("text") if isinstance(theirs, dict) else None
        words = f"{path[0]}: {text or path[-1]}" if len(path) > 1 else str(path[0])
        yield Difference(path, words, _shown(ours), _shown(theirs))


def _shown(value: Any) -> str:
    """A piece of a text on one line."""
    if value is None:
        return ""
    text = tomlkit.dumps(value) if isinstance(value, dict) else str(value)
    return " · ".join(line.strip() for line in text.splitlines() if line.strip())


def _with_entries(text: str, theirs: Mapping[str, Any], paths: Collection[Path]) -> str:
    """The text with those entries of the other in place of its own."""
    document = tomlkit.parse(text)
    for table, *name in paths:
        value: Any = theirs[str(table)]
        if not name:
            document[str(table)] = tomlkit.item(value)
            continue
        if table not in document:
            document[str(table)] = tomlkit.table(is_super_table=True)
        inside: Any = document[str(table)]
        inside[name[0]] = tomlkit.item(value[name[0]])
    return document.as_string()
