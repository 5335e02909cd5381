"""What the ledger has from the system: the clock and chance for a new id, the files of anchors and of the key."""

from __future__ import annotations

import os
import secrets
import time
import uuid
from collections.abc import Iterator
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)

from witnessmark.ledger.anchor import TOO_LONG, Anchor, AnchorError, line_of, read_anchor


def new_entry_id(unix_ms: int | None = None, random: int | None = None) -> str:
    """A UUID of version 7 (RFC 9562 §5.7): 48 bits of Unix milliseconds, then 74 random bits."""
    ms = time.time_ns() // 1_000_000 if unix_ms is None else unix_ms
    bits = secrets.randbits(74) if random is None else random
    high, low = bits >> 62, bits & (1 << 62) - 1
    return str(uuid.UUID(int=ms << 80 | 0x7 << 76 | high << 64 | 0b10 << 62 | low))


def read_anchors(path: Path) -> list[Anchor]:
    """Every anchor of the file; none when there is no file yet. Raises AnchorError."""
    return list(each_anchor(path)) if path.exists() else []


def each_anchor(path: Path) -> Iterator[Anchor]:
    """One anchor after the other. Raises AnchorError at the first line that is none, or for no file."""
    try:
        with path.open("rb") as file:
            for number, line in enumerate(iter(lambda: file.readline(TOO_LONG), b""), 1):
                yield read_anchor(line, f"{path}:{number}")
    except OSError as error:
        problem = f"cannot be read: {error.strerror}"
        raise AnchorError(str(path), problem, "restore it from a backup, or name another") from None


def append_anchor(path: Path, one: Anchor) -> None:
    """Add a line, and have it on the disk before going on; on a full disk none of it."""
    with path.open("ab", buffering=0) as file:
        before = file.tell()
        line = line_of(one) + b"\n"
        try:
            while line:
                line = line[file.write(line) :]
            os.fsync(file.fileno())
        except OSError:
            file.truncate(before)
            raise


def new_key(path: Path) -> Ed25519PrivateKey:
    """Make a key and keep it in a new file that only its owner reads."""
    key = Ed25519PrivateKey.generate()
    pem = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        raise AnchorError(str(path), "is there already", "use it, or name another") from None
    with os.fdopen(handle, "wb") as file:
        file.write(pem)
    return key


def load_key(path: Path) -> Ed25519PrivateKey:
    """The key kept in a file."""
    try:
        key = load_pem_private_key(path.read_bytes(), password=None)
    except (OSError, ValueError, TypeError) as error:
        raise AnchorError(str(path), f"holds no key: {error}", "an Ed25519 key in PEM") from None
    if not isinstance(key, Ed25519PrivateKey):
        raise AnchorError(str(path), "holds a key of another kind", "an Ed25519 key in PEM")
    return key
