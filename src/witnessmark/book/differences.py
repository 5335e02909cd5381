"""What two books say differently, thing by thing and key by key, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from pydantic import BaseModel

from witnessmark.book.errors import Path
from witnessmark.book.model import Book, Job, Step
from witnessmark.book.model_step import before
from witnessmark.book.own_job import HEAD, NAMES, STEPS

WHAT: dict[str, str] = {  # what a key says, where the key by itself is no word of the trade
    "text": "called",
    "does": "what to do",
    "unattended": "minutes that need nobody",
    "waits_for": "what is waited for",
    "shown_by_waiting": "shown when the wait is over",
    "after": "comes after",
    "sets": "leaves",
    "assures": "sees to",
    "why": "what it is for",
    "every_distance": "every",
    "every_time": "or every",
    "early": "due early by",
    "only_if": "done only if",
    "likely": "how likely",
    "always_with": "always done with",
    "brings": "taken on with it",
    "low": "at least",
    "high": "at most",
    "bad": "what makes a finding",
    "second_look": "second look",
    "safety": "safety-critical",
    "again_after": "read again after",
}
_KINDS = {
    "access": "access step", "fasteners": "fastener", "circuits": "circuit", "renewals": "renewal", "parts": "part",
    "fluids": "fluid", "tools": "tool", "readings": "reading", "shims": "shims", "cautions": "caution",
    "services": "service", "figures": "figure", "conditions": "condition", "never": "never together",
    "answers": "answer to a rule",
}  # fmt: skip


class Difference(NamedTuple):
    """One thing said differently. Example: ``Chain, Set the slack``, ``minutes``, ``4``, ``6``.

    `was`, `now`: None where the thing itself was not there, or is no more; empty where nothing is said.
    """

    path: Path
    thing: str
    what: str
    was: str | None
    now: str | None


def differences(old: Book, new: Book) -> Iterator[Difference]:
    """Everything that the second book says otherwise than the first: jobs first, then what they speak of."""
    for name in {**old.jobs, **new.jobs}:
        yield from _job(old, new, name)
    for table, kind in _KINDS.items():
        ours, theirs = getattr(old, table), getattr(new, table)
        for name in {**ours, **theirs}:
            one, other = ours.get(name), theirs.get(name)
            if one != other:
                thing = _called(other or one, name)
                yield from _thing(old, new, (table, name), thing, kind, one, other)
    for language in {**old.translations, **new.translations}:
        yield from _translations(old, new, language)


def said(book: Book, job: str, table: str, key: str, value: Any) -> str:
    """What a key says, with the names of things in words.

    `table` as in `own_job.NAMES`; `job`: whose steps are meant under `after`.
    """
    if isinstance(value, Mapping):
        return "; ".join(
            f"{_named(book, job, table, key, name)}: {_inside(book, job, table, key, name, one)}"
            for name, one in value.items()
        )
    if isinstance(value, list | str):
        listed = [value] if isinstance(value, str) else value
        return "; ".join(_named(book, job, table, key, str(one)) for one in listed)
    return _plain(value)


def _plain(value: Any) -> str:
    if isinstance(value, BaseModel):
        return " ".join(str(one) for one in value.model_dump(exclude_defaults=True).values())
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float | int) else ""


def step_words(book: Book, name: str) -> str:
    """A step by its job and its own words; its name where the book has no such step."""
    job, _, operation = name.partition("/")
    if not operation:
        return book.access[job].text if job in book.access else job
    whole = book.jobs.get(job)
    step = whole.operations.get(operation) if whole else None
    return f"{whole.text}, {step.text}" if whole and step else name


def _inside(book: Book, job: str, table: str, key: str, name: str, value: Any) -> str:
    condition = book.conditions.get(name) if key in ("needs", "sets", "when") else None
    words = condition.state_words if condition else {}
    circuit = book.circuits.get(name) if key in ("opens", "closes") else None
    if isinstance(value, list):
        wanted = circuit.closed_by if circuit else {}
        return ", ".join(
            wanted[one].text if one in wanted else str(words.get(one, one)) for one in value
        )
    if isinstance(value, str):
        return words.get(value, value)
    return said(book, job, table, "", value)


def _named(book: Book, job: str, table: str, key: str, name: str) -> str:
    """The words of what an id means under a key."""
    if key == "after":
        other, _, operation = before(job, name).partition("/")
        there = other in book.jobs and operation in book.jobs[other].operations
        if there and other == job:
            return book.jobs[job].operations[operation].text
        return step_words(book, f"{other}/{operation}")
    if key in ("needs", "sets", "when"):
        return book.conditions[name].text if name in book.conditions else name
    if key in ("brings", "jobs"):
        return book.jobs[name].text if name in book.jobs else name
    target = NAMES.get(table, {}).get(key)
    return _called(getattr(book, target).get(name), name) if target else name


def _called(thing: Any, name: str) -> str:
    return str(getattr(thing, "text", "") or getattr(thing, "because", "") or name)


def _job(old: Book, new: Book, name: str) -> Iterator[Difference]:
    one, other = old.jobs.get(name), new.jobs.get(name)
    if one == other:
        return
    path: Path = ("jobs", name)
    thing = _called(other or one, name)
    yield from _thing(old, new, path, thing, "job", one, other)
    if one and other:
        for step in {**one.operations, **other.operations}:
            was, now = one.operations.get(step), other.operations.get(step)
            if was != now:
                words = f"{thing}, {_called(now or was, step)}"
                yield from _thing(
                    old, new, (*path, "operations", step), words, "step", was, now, name
                )


def _thing(
    old: Book, new: Book, path: Path, thing: str, kind: str, one: Any, other: Any, job: str = ""
) -> Iterator[Difference]:
    if one is None or other is None:
        was, now = (None if x is None else _called(x, "") for x in (one, other))
        yield Difference(path, thing, kind, was, now)
        return
    table = {Job: HEAD}.get(type(one)) or (STEPS if isinstance(one, Step) else str(path[0]))
    for key in type(one).model_fields:
        a, b = getattr(one, key), getattr(other, key)
        if key != "operations" and a != b:
            was, now = said(old, job, table, key, a), said(new, job, table, key, b)
            if was != now:
                yield Difference((*path, key), thing, WHAT.get(key, key), was, now)


def _translations(old: Book, new: Book, language: str) -> Iterator[Difference]:
    """What is no longer said in another language, and what is said otherwise; a text that is gone wants none."""
    ours, theirs = old.translations.get(language, {}), new.translations.get(language, {})
    for text in {**ours, **theirs}:
        if ours.get(text) != theirs.get(text):
            path: Path = ("translations", language, text)
            yield Difference(
                path, text, f"in the language “{language}”", ours.get(text), theirs.get(text)
            )
