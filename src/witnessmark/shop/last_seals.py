"""The newest seals that somebody was told of, in a file beside the database: ``last_seals.jsonl``.

A line per entry, written when its transaction is committed: visit, number and hash of its seal. Copying a
running store's database without what is beside it (-wal) leaves entries behind, and nothing inside it tells;
the heads do. They are not signed and not forced to the disk: they tell of accidents, and of tampering by
somebody who can write the database alone. An anchor names the same heads and more, so it begins them anew.
"""

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from uuid import UUID

from django.conf import settings
from pydantic import ValidationError

from witnessmark.ledger.body import Uuid
from witnessmark.ledger.seal import Head, Seal, seal_hash
from witnessmark.ledger.verify import VerifyFault
from witnessmark.shop.ids import new_id

LONGEST = 4096  # bytes of a line
RIGHT = "if there was no power cut, somebody wrote here; `witnessmark anchor` begins the file anew"


class Acknowledged(Head):
    """A line of the file."""

    visit: Uuid


def file() -> Path:
    """Where they are written."""
    return Path(settings.HOME) / "last_seals.jsonl"


def acknowledge(visit: UUID, seal: Seal) -> None:
    """Add a line; to be called when the seal is committed. Several processes may write at once."""
    line = {"visit": str(visit), "number": seal.number, "seal": seal_hash(seal)}
    with suppress(OSError):  # a full disk: the entry itself is stored, and said to be
        handle = os.open(file(), os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
        try:
            os.write(handle, json.dumps(line).encode() + b"\n")
        finally:
            os.close(handle)


@contextmanager
def known_elsewhere() -> Iterator[None]:
    """Begin the file anew where what follows writes down the newest seals elsewhere; kept where it fails.

    What was set aside is of transactions committed before, so reading the seals now reads them all.
    """
    if file().exists():
        file().replace(file().with_name(f"last_seals-{new_id()}.jsonl"))
    file().touch(mode=0o600)
    aside = [path for path in files() if path != file()]
    yield
    for path in aside:
        path.unlink()


def files() -> list[Path]:
    """The file, and what was set aside and is not yet known elsewhere; none where there never was one."""
    return sorted(file().parent.glob("last_seals*.jsonl"))


def read() -> tuple[dict[str, Head], list[VerifyFault]]:
    """Per visit the newest head, and the lines that are none, as a power cut may leave."""
    heads: dict[str, Head] = {}
    faults = []
    for place, line in _lines():
        try:
            one = Acknowledged.model_validate_json(line)
        except ValidationError:
            faults.append(
                VerifyFault(place=place, problem="is not a head", expected=RIGHT, grave=False)
            )
            continue
        if one.visit not in heads or heads[one.visit].number < one.number:
            heads[one.visit] = Head(number=one.number, seal=one.seal)
    return heads, faults


def _lines() -> Iterator[tuple[str, bytes]]:
    for path in files():
        with path.open("rb") as lines:
            for number, line in enumerate(iter(lambda: lines.readline(LONGEST), b""), 1):
                yield f"{path}:{number}", line
