"""A folder of backups: which are whole, what each holds, which may go. Knows no database."""

import fcntl
import hashlib
import os
import shutil
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Literal
from uuid import UUID

from pydantic import ValidationError

from witnessmark.frozen import FrozenModel
from witnessmark.shop.backups.errors import BackupError, NotNowError
from witnessmark.shop.home import UNFINISHED

ARCHIVE, CONTENTS, PHOTOS = "store.tar.gz.age", "contents.json", "photos"
PART = ".part"
DAYS, MONTHS = 14, 12  # kept: the newest backup of each of so many days, and of so many months


def counted(word: str, number: int) -> str:
    """A word as it follows a number: 1 entry, 2 entries."""
    if number == 1:
        return word
    return f"{word[:-1]}ies" if word.endswith("y") else f"{word}s"


class BackupContents(FrozenModel):
    """What a backup holds of one shop, counted."""

    visits: int = 0
    entries: int = 0
    photos: int = 0

    def __str__(self) -> str:
        named = [("visit", self.visits), ("entry", self.entries), ("photo", self.photos)]
        return ", ".join(f"{n} {counted(one, n)}" for one, n in named)


class Contents(FrozenModel):
    """What a backup says of itself, in plain."""

    format: Literal[1] = 1
    at: datetime
    vendor: Literal["sqlite", "postgresql"]
    migrations: list[tuple[str, str]]
    held: dict[UUID, BackupContents]  # by shop
    photos: list[str]  # SHA-256
    missing: list[str]  # of the photos: gone or altered when it was made
    bytes: int  # of the archive
    sha256: str  # of the archive


def total(held: Mapping[UUID, BackupContents]) -> BackupContents:
    """The counts of all shops together."""
    each = held.values()
    return BackupContents(
        visits=sum(one.visits for one in each),
        entries=sum(one.entries for one in each),
        photos=sum(one.photos for one in each),
    )


def backups(folder: Path) -> dict[str, Contents]:
    """The whole backups of a folder by name, oldest first."""
    found = {}
    for one in sorted(folder.iterdir()):
        if one.is_dir() and not one.name.endswith(PART) and (one / CONTENTS).exists():
            try:
                found[one.name] = read(one)
            except BackupError:
                continue  # another program's, or damaged: never counted, never dropped
    return found


def read(backup: Path) -> Contents:
    """What one backup says of itself. Raises BackupError."""
    try:
        return Contents.model_validate_json((backup / CONTENTS).read_bytes())
    except OSError as error:
        problem = f"is no backup: {error.strerror}"
        raise BackupError(str(backup), problem, "name one of the folders beside it") from None
    except ValidationError as error:
        newer = any(one["loc"] == ("format",) for one in error.errors())
        raise BackupError(
            str(backup / CONTENTS),
            "was made by a newer version" if newer else "is damaged",
            "update Witness Mark" if newer else "take another backup",
        ) from None


def chosen(folder: Path, name: str | None = None) -> Path:
    """The backup with a name, else the newest that is whole. Raises BackupError."""
    if not folder.is_dir():
        raise BackupError(str(folder), "is not there", "put the medium in")
    every = list(backups(folder))
    if name is None and not every:
        raise BackupError(str(folder), "holds no whole backup", "name the folder that they lie in")
    return folder / (name or every[-1])


@contextmanager
def empty(into: Path) -> Iterator[None]:
    """The folder to fill, marked while it is filled, and empty again after a failure. Raises BackupError."""
    if into.exists() and (not into.is_dir() or any(into.iterdir())):
        raise BackupError(str(into), "is not empty", "name a folder that is not there yet")
    into.mkdir(mode=0o700, parents=True, exist_ok=True)
    (into / UNFINISHED).touch()
    try:
        yield
    except BaseException:
        for one in into.iterdir():
            shutil.rmtree(one) if one.is_dir() else one.unlink()
        raise
    (into / UNFINISHED).unlink()


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Nobody else makes a backup into the folder meanwhile. Raises NotNowError."""
    with (folder / ".lock").open("a") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise NotNowError(
                str(folder), "a backup is being made just now", "look again in a minute"
            ) from None
        yield


def photo(folder: Path, sha256: str) -> Path:
    """Where the pool has a photo."""
    return folder / PHOTOS / sha256[:2] / f"{sha256}.age"


def sha256_of(file: Path) -> str:
    """The SHA-256 of a file's bytes."""
    with file.open("rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()


def to_disk(folder: Path) -> None:
    """Have the names in a folder on the disk."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def write(file: Path, content: bytes) -> None:
    """Write a small file, to the disk."""
    with file.open("wb") as opened:
        opened.write(content)
        opened.flush()
        os.fsync(opened.fileno())


def clear(folder: Path) -> None:
    """Delete backups that were cut off."""
    for one in folder.glob(f"*{PART}"):
        shutil.rmtree(one)


def tidy(folder: Path, shops: Collection[UUID]) -> None:
    """Delete backups of these shops by the rule of DAYS and MONTHS, then photos that no backup names any more."""
    every = backups(folder)
    mine = [name for name, contents in every.items() if not contents.held.keys().isdisjoint(shops)]
    stay = {*_newest(mine, len("YYYYMMDD"), DAYS), *_newest(mine, len("YYYYMM"), MONTHS)}
    for name in set(mine) - stay:
        shutil.rmtree(folder / name)
        del every[name]
    if all(one.parent.name in every for one in folder.glob(f"*/{ARCHIVE}")):  # each can be read
        named = {sha256 for contents in every.values() for sha256 in contents.photos}
        for file in (folder / PHOTOS).glob("*/*"):
            if file.name.removesuffix(".age") not in named:
                file.unlink()


def _newest(names: Iterable[str], length: int, most: int) -> list[str]:
    """The newest name of each beginning of so many characters, for the newest beginnings."""
    return list({name[:length]: name for name in sorted(names)}.values())[-most:]
