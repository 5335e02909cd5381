"""The book in another language: a table of its texts, and the book with them in place.

Ids, states, choices and values stay as they are: entries name them. Who prints one of those looks it up.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from witnessmark.book.errors import Fault, known
from witnessmark.book.model import Book, Operation

_TEXTS = ("text", "why", "place", "waits_for", "treatment", "because")


def faults(book: Book) -> Iterator[Fault]:
    """Translations of what the book does not say: a text was changed, or mistyped."""
    said = _strings(_said(book.model_dump(mode="json")))
    for language, table in book.translations.items():
        for text in table:
            if text not in said:
                expected = known("text", text, sorted(said))
                yield Fault(
                    ("translations", language, text), f'no text "{text}" in this book', expected
                )


def without_stale(data: dict[str, Any], own: Any) -> dict[str, Any]:
    """The tables less the translations handed down for texts that are gone; those a document gives itself stay.

    `own`: the translations of the document itself, as written.
    """
    tables = data.get("translations")
    if not isinstance(tables, dict):
        return data
    said = _strings(_said(data))
    kept: dict[str, Any] = {}
    for language, table in tables.items():
        given = own.get(language) if isinstance(own, dict) else None
        here = given if isinstance(given, dict) else {}
        kept[language] = (
            {text: words for text, words in table.items() if text in said or text in here}
            if isinstance(table, dict)
            else table
        )
    return data | {"translations": kept}


def translated(book: Book, language: str) -> Book:
    """The book with its texts in `language`; where it has no translation, the text stays as it was written."""
    table = book.translations.get(language)
    if not table:
        return book
    return Book.model_validate(_put(book.model_dump(exclude={"translations"}), table)).model_copy(
        update={"translations": book.translations}
    )


def texts(book: Book) -> Iterator[str]:
    """Every text that a paper for an owner may print: see `docs/service-book.md`, translations."""
    for job in book.jobs.values():
        yield from (job.text, job.why, *(step.text for step in job.operations.values()))
    for step in _ridden(book):
        yield from (*step.does, *(book.cautions[name].text for name in step.cautions))
    yield from (step.text for step in book.access.values())
    yield from (text for one in book.fasteners.values() for text in (one.text, one.treatment))
    yield from (one.text for one in book.fluids.values())
    yield from (one.text for one in book.parts.values())
    yield from (one.unit for one in book.parts.values() if one.unit != "piece")  # never printed
    yield from (one.text for one in book.renewals.values())
    for circuit in book.circuits.values():
        yield from (circuit.text, *(one.text for one in circuit.closed_by.values()))
    for condition in book.conditions.values():
        words = (condition.state_words.get(state, state) for state in condition.states)
        yield from (condition.text, *words)
    for reading in book.readings.values():
        yield from (reading.text, *reading.choices)
    for figure in book.figures.values():
        yield from (figure.text, (figure.value or "") if figure.quantity == "words" else "")


def _ridden(book: Book) -> Iterator[Operation]:
    """What a road-test sheet lists: jobs that have a ride, and all that closes what only a ride can close."""
    for job in book.jobs.values():
        rides = any(step.gate == "road test" for step in job.operations.values())
        for step in job.operations.values():
            if rides or any(_closes_by_ride(book, *one) for one in step.closes.items()):
                yield step


def _closes_by_ride(book: Book, circuit: str, names: Sequence[str]) -> bool:
    wanted = book.circuits[circuit].closed_by
    return any(wanted[name].ride for name in (wanted if list(names) == ["all"] else names))


def _said(data: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in data.items() if key != "translations"}


def _strings(value: Any) -> set[str]:
    """Every text in there."""
    found, pending = set(), [[value]]
    while pending:
        for inner in pending.pop():
            if isinstance(inner, str):
                found.add(inner)
            elif isinstance(inner, dict):
                pending.append(list(inner.values()))
            elif isinstance(inner, list):
                pending.append(inner)
    return found


def _put(value: Any, table: Mapping[str, str], key: str = "") -> Any:
    """The tables with every text for people that has a translation in its place."""
    if key == "sets":  # states by the ids of conditions, which may be called "place"
        return value
    if isinstance(value, dict):
        everything = key == "state_words"
        return {
            name: table.get(inner, inner)
            if isinstance(inner, str) and (everything or name in _TEXTS)
            else _put(inner, table, name)
            for name, inner in value.items()
        }
    if isinstance(value, list):
        spoken = key == "does"
        return [
            table.get(inner, inner) if spoken and isinstance(inner, str) else _put(inner, table)
            for inner in value
        ]
    return value
