"""Seals: the store's own chain over the entries of a visit, in the order they came in."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime
from typing import Annotated

from pydantic import StringConstraints

from witnessmark.frozen import FrozenModel
from witnessmark.ledger.body import Hash
from witnessmark.ledger.entry import Entry, Sequence, entry_hash

Instant = Annotated[
    str, StringConstraints(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}\+00:00$")
]


class Seal(FrozenModel):
    """Made on receipt: number in the visit, server time (UTC), the entry's hash, the seal before it."""

    number: Sequence
    at: Instant
    entry_hash: Hash
    prev: Hash | None  # None for the first of the visit


class Head(FrozenModel):
    """The newest seal of a visit at some moment, as an anchor signs it."""

    number: Sequence
    seal: Hash


def seal(entry: Entry, previous: Seal | None, at: datetime) -> Seal:
    """Seal an entry after ``previous``, the newest seal of its visit; ``at`` is aware."""
    if at.tzinfo is None:
        raise ValueError("a seal's time has no zone; give aware time")
    return Seal(
        number=previous.number + 1 if previous else 1,
        at=at.astimezone(UTC).isoformat(timespec="milliseconds"),
        entry_hash=entry_hash(entry),
        prev=seal_hash(previous) if previous else None,
    )


def seal_hash(sealed: Seal) -> str:
    """SHA-256 of the seal's RFC 8785 form, 64 hex digits.

    A seal has ASCII texts and a whole number only; Python's own JSON writes them as RFC 8785 does.
    """
    said = {
        "at": sealed.at,
        "entry_hash": sealed.entry_hash,
        "number": sealed.number,
        "prev": sealed.prev,
    }
    return hashlib.sha256(json.dumps(said, separators=(",", ":")).encode()).hexdigest()
