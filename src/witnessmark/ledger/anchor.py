"""Anchors: signed heads of the seal chains, kept outside the database.

One anchor is one line of JSON in a file that is only ever appended to and leaves the machine with each
backup. It names, per visit, the newest seal, and the hash of the anchor before it; it is signed with an
Ed25519 key (RFC 8032) that the database never holds. Whoever rewrites entries before the newest anchor
can compute every hash again, but cannot sign. What is signed is what the line says, key by key, so a key
that a later version adds moves no signature.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator, Mapping
from collections.abc import Sequence as Several
from datetime import UTC, datetime
from typing import Annotated, Any, Literal, NamedTuple

import rfc8785
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from pydantic import StringConstraints, ValidationError
from pydantic_core import from_json

from witnessmark.errors import WitnessError
from witnessmark.frozen import FrozenModel
from witnessmark.kept_versions import KeptError, as_newest
from witnessmark.ledger.body import Hash, Uuid
from witnessmark.ledger.entry import Sequence
from witnessmark.ledger.seal import Head, Instant, Seal, seal_hash

AnchorKind = Literal["anchor", "restored"]
TOO_LONG = 64 * 1024 * 1024  # bytes; the heads of 20,000 visits take 4 MB
Signature = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{128}$")]


class AnchorError(WitnessError):
    """A file of anchors, or a key, that cannot be used."""


class Anchor(FrozenModel):
    """One line of the file."""

    format: Literal[1] = 1
    kind: AnchorKind = "anchor"  # lines of the first version do not say it
    number: Sequence
    at: Instant
    heads: dict[Uuid, Head]  # by visit: those with a new seal since the anchor before
    source: str | None = None  # of a restore: the backup it came from
    prev: Hash | None  # of the anchor before, signature included
    key: Hash  # the public key, 32 bytes in hex
    signature: Signature

    @property
    def digest(self) -> str:
        """SHA-256 of the whole line's RFC 8785 form: what the next one names, and papers print."""
        return hashlib.sha256(line_of(self)).hexdigest()


class Lost(NamedTuple):
    """Seals of a visit, from first to last, that were anchored and that a restore gave up."""

    at: str  # of the restore
    source: str  # the backup it came from
    visit: str
    first: int
    last: int


def anchor(
    newest: Mapping[str, Seal], previous: Collection[Anchor], at: datetime, key: Ed25519PrivateKey
) -> Anchor | None:
    """Sign the visits' newest seals; None when nothing is new since ``previous``, all so far."""
    known = anchored(previous)
    heads = _heads(newest)
    fresh = {visit: head for visit, head in heads.items() if known.get(visit, [])[-1:] != [head]}
    return _next(previous, at, key, kind="anchor", heads=fresh) if fresh else None


def restored(
    newest: Mapping[str, Seal],
    previous: Collection[Anchor],
    at: datetime,
    key: Ed25519PrivateKey,
    source: str,
) -> Anchor:
    """Sign that the store was restored from a backup to these newest seals of every visit it has."""
    return _next(previous, at, key, kind="restored", heads=_heads(newest), source=source)


def _heads(newest: Mapping[str, Seal]) -> dict[str, Head]:
    return {v: Head(number=s.number, seal=seal_hash(s)) for v, s in newest.items()}


def _next(
    previous: Collection[Anchor], at: datetime, key: Ed25519PrivateKey, **said: Any
) -> Anchor:
    """The line that follows ``previous``, signed."""
    last = list(previous)[-1] if previous else None
    unsigned = Anchor(
        format=1,
        number=last.number + 1 if last else 1,
        at=at.astimezone(UTC).isoformat(timespec="milliseconds"),
        prev=last.digest if last else None,
        key=public_key(key),
        signature="0" * 128,
        **said,
    )
    return unsigned.model_copy(update={"signature": key.sign(_signed(unsigned)).hex()})


def anchored(anchors: Collection[Anchor]) -> dict[str, list[Head]]:
    """Per visit every head that was signed and must still be there, oldest first.

    A line "restored" names the newest seal of every visit that the backup held; what was signed beyond
    is lost, and not asked for any more (`lost`).
    """
    heads: dict[str, list[Head]] = {}
    for one in anchors:
        if one.kind == "restored":
            heads = {
                visit: [head for head in known if head.number <= one.heads[visit].number]
                for visit, known in heads.items()
                if visit in one.heads
            }
        for visit, head in one.heads.items():
            heads.setdefault(visit, []).append(head)
    return heads


def lost(anchors: Several[Anchor]) -> Iterator[Lost]:
    """What had been signed and was given up by a restore, in the order of the restores."""
    for place, one in enumerate(anchors):
        if one.kind == "restored":
            for visit, heads in anchored(anchors[:place]).items():
                left = one.heads[visit].number if visit in one.heads else 0
                if heads[-1].number > left:
                    yield Lost(one.at, one.source or "", visit, left + 1, heads[-1].number)


def anchor_faults(anchors: Collection[Anchor], trusted: Collection[str]) -> Iterator[AnchorError]:
    """What is wrong with the file itself; ``trusted`` are public keys in hex, known from elsewhere."""
    expected = "hold it against the copy that left with a backup, and the key that was written down"
    last: Anchor | None = None
    for one in anchors:
        place = f"anchor {one.number}"
        if one.number != (last.number + 1 if last else 1):
            problem = f"stands where {last.number + 1 if last else 1} should"
            yield AnchorError(place, problem, expected)
        elif one.prev != (last.digest if last else None):
            yield AnchorError(place, "does not follow the line before it", expected)
        if one.key not in trusted:
            problem = f"signed with a key that is not trusted, {one.key[:16]}"
            yield AnchorError(place, problem, expected)
        elif not _genuine(one):
            yield AnchorError(place, "its signature is not of what it says", expected)
        last = one


def line_of(one: Anchor) -> bytes:
    """The line as it is kept, RFC 8785."""
    return rfc8785.dumps(one.model_dump(mode="json", exclude_unset=True))


def _signed(one: Anchor) -> bytes:
    return rfc8785.dumps(one.model_dump(mode="json", exclude={"signature"}, exclude_unset=True))


def _genuine(one: Anchor) -> bool:
    try:
        Ed25519PublicKey.from_public_bytes(bytes.fromhex(one.key)).verify(
            bytes.fromhex(one.signature), _signed(one)
        )
    except InvalidSignature:
        return False
    return True


def read_anchor(line: bytes, place: str) -> Anchor:
    """The anchor of one line. Raises AnchorError."""
    expected = "restore it from a backup"
    if len(line) >= TOO_LONG:
        raise AnchorError(place, "is not an anchor: the line has 64 MB or more", expected)
    try:
        return Anchor.model_validate(as_newest(place, from_json(line)))
    except ValidationError as error:
        problem = f"is not an anchor: {error.errors()[0]['msg']}"
        raise AnchorError(place, problem, expected) from None
    except KeptError as error:
        problem = f"is not an anchor for this version: it {error.problem}"
        raise AnchorError(place, problem, error.expected) from None
    except ValueError as error:
        raise AnchorError(place, f"is not an anchor: {error}", expected) from None


def public_key(key: Ed25519PrivateKey) -> str:
    """The public key, 32 bytes in hex."""
    return key.public_key().public_bytes_raw().hex()
