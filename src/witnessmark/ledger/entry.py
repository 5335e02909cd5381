"""Entries: made where the work is, hashed over their canonical form, chained per device and visit.

A device numbers its entries of one visit 1, 2, 3 …; each names the hash of the one before (``prev``) and the
newest entries of other devices it had seen (``seen``). That, and no clock, says what came before what.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from datetime import datetime
from difflib import get_close_matches
from functools import cached_property
from typing import Annotated, Any

import rfc8785
from pydantic import (
    AfterValidator,
    Field,
    StringConstraints,
    ValidationError,
)
from pydantic_core import from_json

from witnessmark.errors import WitnessError
from witnessmark.frozen import FrozenModel
from witnessmark.kept_versions import Upcast, as_newest
from witnessmark.ledger.bodies import BODIES, Overridden
from witnessmark.ledger.body import Body, BodyError, Hash, Uuid

Sequence = Annotated[int, Field(ge=1, lt=2**53)]
LocalTime = Annotated[
    str,
    StringConstraints(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?[+-]\d\d:\d\d$"),
]
EntryId = Annotated[
    str,
    StringConstraints(
        pattern=r"^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$"
    ),
]


UPCASTS: tuple[Upcast, ...] = ()  # each takes format, kind and body of an entry one format further
FORMAT = len(UPCASTS) + 1


def _known(number: int) -> int:
    as_newest("entry", {"format": number}, UPCASTS)
    return number


Format = Annotated[int, AfterValidator(_known)]


class EntryError(WitnessError):
    """One field of an entry that cannot be used: place is ``kind.field``."""


class EntryErrors(ValueError):  # noqa: N818  it holds several
    """All that is wrong with an entry, field by field; what was entered is not touched."""

    def __init__(self, errors: list[EntryError]) -> None:
        self.errors = errors

    def __iter__(self) -> Iterator[EntryError]:
        return iter(self.errors)

    def __str__(self) -> str:
        return "\n".join(map(str, self.errors))


class Entry(FrozenModel):
    """One thing that happened in a visit. ``body`` is kept as it was written: its hash never moves."""

    format: Format = FORMAT
    id: EntryId
    shop: Uuid
    visit: Uuid
    kind: str
    device: Uuid
    seq: Sequence
    prev: Hash | None  # None for a device's first entry of the visit
    seen: dict[Uuid, Sequence] = {}
    author: Uuid
    at: LocalTime  # local time with its offset; told to people, never used to order entries
    body: dict[str, Any]

    @cached_property
    def said(self) -> Body:
        """The body, typed by its kind, brought to the newest format."""
        kept = {"format": self.format, "kind": self.kind, "body": self.body}
        newest = as_newest(f"entry {self.id}", kept, UPCASTS)
        return BODIES[newest["kind"]].model_validate(newest["body"])

    @property
    def instant(self) -> datetime:
        """The local time as an aware datetime."""
        return datetime.fromisoformat(self.at)


def canonical(entry: Entry) -> bytes:
    """The entry as RFC 8785 canonical JSON, UTF-8: what is hashed and what is kept."""
    return rfc8785.dumps(entry.model_dump(mode="json"))


def entry_hash(entry: Entry) -> str:
    """SHA-256 of the canonical form, 64 hex digits."""
    return hashlib.sha256(canonical(entry)).hexdigest()


def kept_hash(entry: Entry, body: str) -> str:
    """As `entry_hash`, with the body in the canonical text it is kept in: many times as fast.

    A text that is not the canonical one gives another hash, as any other change does. What lies round it is
    plain text and whole numbers, which Python's own JSON writes as RFC 8785 does.
    """
    before = _plain_json({"at": entry.at, "author": entry.author})
    after = _plain_json(
        {
            "device": entry.device,
            "format": entry.format,
            "id": entry.id,
            "kind": entry.kind,
            "prev": entry.prev,
            "seen": entry.seen,
            "seq": entry.seq,
            "shop": entry.shop,
            "visit": entry.visit,
        }
    )
    return hashlib.sha256(f'{before[:-1]},"body":{body},{after[1:]}'.encode()).hexdigest()


def _plain_json(said: Mapping[str, Any]) -> str:
    return json.dumps(said, ensure_ascii=False, separators=(",", ":"), sort_keys=True)


def compose(
    kind: str,
    body: Mapping[str, Any],
    *,
    shop: str,
    visit: str,
    device: str,
    author: str,
    at: datetime,
    entry_id: str,
    previous: Entry | None = None,
    seen: Mapping[str, int] | None = None,
) -> Entry:
    """Make the entry that follows ``previous``, the device's last one of this visit.

    ``at`` is aware local time; ``seen`` the newest sequence number seen of each other device.
    Raises `EntryErrors`, one `EntryError` per field.
    """
    if at.tzinfo is None:
        raise EntryErrors(
            [EntryError(f"{kind}.at", "has no offset", "give local time with offset")]
        )
    said = read_body(kind, body)
    if (
        isinstance(said, Overridden) and said.person != author
    ):  # entries from before this rule are still read
        problem = "names another person than who records it"
        raise EntryErrors(
            [EntryError(f"{kind}.person", problem, "whoever signs it off as is records it")]
        )
    raw = {
        "id": entry_id,
        "shop": shop,
        "visit": visit,
        "kind": kind,
        "device": device,
        "seq": previous.seq + 1 if previous else 1,
        "prev": entry_hash(previous) if previous else None,
        "seen": {d: n for d, n in (seen or {}).items() if d != device and n > 0},
        "author": author,
        "at": at.isoformat(timespec="milliseconds"),
        "body": said.model_dump(mode="json"),
    }
    return read_entry(raw)


def read_body(kind: str, body: Mapping[str, Any]) -> Body:
    """Check a body against its kind. Raises `EntryErrors`."""
    if kind not in BODIES:
        raise EntryErrors([_no_such_kind(kind)])
    try:
        return BODIES[kind].model_validate(dict(body))
    except ValidationError as error:
        raise EntryErrors(_plain(kind, error)) from None


def _no_such_kind(kind: str) -> EntryError:
    near = get_close_matches(kind, BODIES, 1)
    expected = f'did you mean "{near[0]}"?' if near else "kinds: " + ", ".join(BODIES)
    return EntryError("kind", f'no kind of entry is called "{kind}"', expected)


def read_entry(raw: Mapping[str, Any] | str | bytes) -> Entry:
    """Read an entry that came from outside (mapping, or JSON), its body checked. Raises `EntryErrors`."""
    try:
        entry = Entry.model_validate(from_json(raw) if isinstance(raw, str | bytes) else raw)
    except ValidationError as error:
        raise EntryErrors(_plain("entry", error)) from None
    except ValueError as error:
        raise EntryErrors(
            [EntryError("entry", f"is not JSON: {error}", "one JSON object")]
        ) from None
    problem = [*misfits(entry), *_not_canonical(entry)]
    if problem:
        raise EntryErrors(problem)
    return entry


def misfits(entry: Entry) -> Iterator[EntryError]:
    """Why an entry of this form could not have been made: its body, and rules between fields."""
    if entry.kind in BODIES:
        try:
            _ = entry.said
        except ValidationError as error:
            yield from _plain(entry.kind, error)
    else:
        yield _no_such_kind(entry.kind)
    if (entry.seq == 1) != (entry.prev is None):
        yield EntryError(
            "entry.prev",
            f"entry {entry.seq} of its device {'names' if entry.prev else 'lacks'} one before it",
            "the first has none, every other the hash of the one before",
        )
    if entry.device in entry.seen:
        yield EntryError("entry.seen", "names its own device", "only other devices")
    try:
        datetime.fromisoformat(entry.at)
    except ValueError as error:
        yield EntryError("entry.at", str(error), "a day and time that exist, with offset")


def _not_canonical(entry: Entry) -> Iterator[EntryError]:
    try:
        canonical(entry)
    except ValueError as error:  # of the library, or of the encoder for a key that is no text
        yield EntryError(
            "entry.body", f"has no canonical form: {error}", "finite numbers, valid text"
        )


_RIGHT = {  # by pydantic's error type: what would be right
    "missing": "it is needed here",
    "extra_forbidden": "leave it out, or look at how it is spelled",
    "string_pattern_mismatch": "its form is {pattern}",
    "string_too_short": "write something",
    "string_too_long": "at most {max_length} characters",
    "too_short": "at least {min_length}",
    "literal_error": "one of {expected}",
    "greater_than": "more than {gt}",
    "greater_than_equal": "at least {ge}",
    "less_than": "less than {lt}",
    "less_than_equal": "at most {le}",
    "finite_number": "a finite number",
}


def _plain(kind: str, error: ValidationError) -> list[EntryError]:
    """Pydantic's faults as ours: place, what is wrong, what would be right."""
    faults = []
    for fault in error.errors():
        place = ".".join([kind, *map(str, fault["loc"])])
        ours = fault.get("ctx", {}).get("error")
        if isinstance(ours, BodyError):
            faults.append(EntryError(place, ours.problem, ours.expected))
            continue
        problem = fault["msg"]
        expected = _RIGHT.get(fault["type"], "").format(**fault.get("ctx", {}))
        faults.append(EntryError(place, problem[0].lower() + problem[1:], expected))
    return faults
