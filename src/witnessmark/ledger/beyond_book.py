"""What goes beyond the book: things opened that it does not list, and lines written in the technician's words.

Both are made a part of the visit's book and table, so that a fastener added on the spot is made tight, doubted and
looked at again by the same rules as one of the book. An id is ``own_`` and the end of the entry's id. Steps of a
thing: ``<id>/tighten``, or ``<id>/refit``, or ``<id>/close``, ``/bleed``, ``/leaks``; ``<id>/open`` opens it once more.
The step of a line: ``<id>/work``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from witnessmark.book.model import Book
from witnessmark.ledger import ids
from witnessmark.ledger.bodies import OPEN, Added, LineWritten, own_id
from witnessmark.ledger.effects import effects
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.ids import CODES
from witnessmark.ledger.state import Own
from witnessmark.ledger.story import Story
from witnessmark.ledger.table import Item, Table

WORK = "work"  # the step of a line
_REFIT = {"pipe": "Refit", "connector": "Reconnect", "cover": "Refit"}


def own_now(story: Story) -> dict[str, Own]:
    """Everything added and written on a visit by its id, also what was taken back since."""
    return {
        own_id(entry.id): Own(
            entry=entry.id,
            said=entry.said,
            author=entry.author,
            at=entry.at,
            struck=entry.id in story.undone,
        )
        for entry in story.causal.entries
        if isinstance(entry.said, Added | LineWritten)
    }


def own_book(own: Mapping[str, Added | LineWritten]) -> Book:
    """What goes beyond the book as a book of its own: a job for each thing and each line."""
    merged: dict[str, Any] = {}
    for name, said in own.items():
        for table, rows in _part_of(name, said).items():
            merged.setdefault(table, {}).update(rows)
    return Book.model_validate({"format": 1, "name": "own", "title": "Beyond the book", **merged})


def book_with_own(book: Book, own: Book) -> Book:
    """A book with the fasteners, figures, circuits and parts of another; its jobs stay its own."""
    tables = ("fasteners", "figures", "circuits", "parts")
    return book.model_copy(
        update={name: getattr(book, name) | getattr(own, name) for name in tables}
    )


def with_own(table: Table, entries: Iterable[Entry]) -> Table:
    """The table of a book with what the entries of a visit add to it."""
    said = {
        own_id(entry.id): entry.said
        for entry in entries
        if isinstance(entry.said, Added | LineWritten)
    }
    if not said:
        return table
    book = own_book(said)
    more = effects(book, list(book.jobs), refuse_unproven_wrench=table.refuse_unproven_wrench)
    items = {name: item for name, item in more.items.items() if name != CODES}
    items |= {
        ids.job(name): _job_item(name, line)
        for name, line in said.items()
        if isinstance(line, LineWritten)
    }
    steps = {
        name: rule.model_copy(update={"safety": said[rule.job or ""].safety})
        for name, rule in more.steps.items()
    }
    return table.model_copy(
        update={
            "items": items | table.items,
            "events": more.events | table.events,
            "figures": more.figures | table.figures,
            "fasteners": more.fasteners | table.fasteners,
            "steps": table.steps | steps,
            "lines": more.lines | table.lines,
        }
    )


# ---------------------------------------------------------------- parts


def _job_item(name: str, line: LineWritten) -> Item:
    return Item(
        text=line.words,
        where=line.where,
        gate="road test" if line.safety else "hand-back",
        safety=line.safety,
        closed_by=(f"{name}/{WORK}",),
    )


def _part_of(name: str, said: Added | LineWritten) -> dict[str, Any]:
    if isinstance(said, LineWritten):
        return _line(name, said)
    return _fastener(name, said) if said.what == "fastener" else _circuit(name, said)


def _line(name: str, said: LineWritten) -> dict[str, Any]:
    parts = {f"{name}_{n}": part for n, part in enumerate(said.parts, 1)}
    work = _step(said.words, said, minutes=round(said.minutes, 1))
    work["parts"] = {key: part.quantity for key, part in parts.items()}
    work["does"] = [
        part.text if part.quantity == 1 else f"{part.text} × {part.quantity:g}"
        for part in said.parts
    ]
    return {
        "jobs": {name: {"text": said.words, "why": said.why, "operations": {WORK: work}}},
        "parts": {key: {"text": part.text} for key, part in parts.items()},
    }


def _fastener(name: str, said: Added) -> dict[str, Any]:
    fastener: dict[str, Any] = {"text": said.words, "count": said.count, "grade": said.grade}
    fastener |= {"safety": said.safety, "second_look": said.safety}
    figures = {}
    if said.torque or said.grade == "proven":
        fastener["figure"] = f"{name}_torque"
        figure: dict[str, Any] = {"text": f"{said.words}: torque", "quantity": "torque"}
        figures[f"{name}_torque"] = figure | (
            {"value": said.torque, "source": said.source} if said.torque else {}
        )
    steps = {
        "tighten": _step(f"Make tight: {said.words}", said) | {"tightens": [name]},
        OPEN: _step(f"Opened again: {said.words}", said) | {"loosens": [name]},
    }
    return {
        "fasteners": {name: fastener},
        "figures": figures,
        "jobs": {name: {"text": said.words, "operations": steps}},
    }


def _circuit(name: str, said: Added) -> dict[str, Any]:
    if said.what == "circuit":
        closed_by = {"close": "closed, and filled to its level"}
        closed_by |= {"bleed": "bled"} if said.bleed else {}
        closed_by |= {"leaks": "no leak"}
        texts = {"close": "Close and fill", "bleed": "Bleed", "leaks": "Look for leaks"}
        closes = {step: [step] for step in closed_by}
    else:
        ways = [(f"{n} of {said.count} ", f"_{n}") for n in range(1, said.count + 1)]
        ways = ways if said.count > 1 else [("", "")]
        closed_by = {f"refitted{tail}": f"{which}refitted" for which, tail in ways}
        texts, closes = {"refit": _REFIT[said.what]}, {"refit": ["all"]}
    steps: dict[str, Any] = {}
    for step, wanted in closes.items():
        after = {"after": list(steps)[-1:]}
        steps[step] = (
            _step(f"{texts[step]}: {said.words}", said) | after | {"closes": {name: wanted}}
        )
    steps[OPEN] = _step(f"Opened again: {said.words}", said) | {"opens": {name: ["all"]}}
    circuit = {"text": said.words, "safety": said.safety, "second_look": said.safety}
    circuit["closed_by"] = {key: {"text": words} for key, words in closed_by.items()}
    return {
        "circuits": {name: circuit},
        "jobs": {name: {"text": said.words, "operations": steps}},
    }


def _step(text: str, said: Added | LineWritten, minutes: float = 0.0) -> dict[str, Any]:
    return {"text": text, "minutes": minutes, "place": said.where}
