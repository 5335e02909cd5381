"""Make a backup while the pages run."""

from __future__ import annotations

import sqlite3
import tarfile
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

import psycopg
from django.conf import settings
from django.db import DatabaseError

from witnessmark.days import day
from witnessmark.errors import WitnessError
from witnessmark.shop import anchors, photos
from witnessmark.shop.backups import backup_folder, dump, keys
from witnessmark.shop.backups.backup_folder import Contents
from witnessmark.shop.backups.errors import BackupError, NotNowError
from witnessmark.shop.backups.log import Log, Run
from witnessmark.shop.storage_faults import trouble


def back_up(folder: Path | None = None, *, fresh: bool = False) -> Run:
    """Make a backup into a folder, by default that of the last one; write down what became of it.

    fresh: into a folder that held backups of this store and holds none now (else it is taken for a medium that is not
    there). Raises BackupError; then no backup was made, and those from before still stand.
    """
    log, at = Log(Path(settings.HOME)), datetime.now(UTC)
    folder = folder or _usual(log)
    try:
        run = _made(folder.resolve(), at, fresh=fresh)
    except WitnessError as error:
        log.add(Run(at=at, folder=str(folder.resolve()), failed=str(error)))
        raise
    log.add(run)
    return run


def _usual(log: Log) -> Path:
    last = log.newest()
    if last is None:
        raise BackupError("folder", "none was ever used", "name one: `witnessmark backup FOLDER`")
    return Path(last.folder)


def _made(folder: Path, at: datetime, *, fresh: bool) -> Run:
    try:
        _look(folder, fresh=fresh)
        with backup_folder.alone(folder):
            return _written(folder, at)
    except OSError as error:
        known = trouble(error)
        problem = f"no backup was made: {error.strerror or error}"
        expected = (
            "make room there"
            if known and known.status == 507
            else "look at the disk, then try again"
        )
        raise NotNowError(str(error.filename or folder), problem, expected) from error
    except (DatabaseError, psycopg.Error, sqlite3.Error) as error:
        problem = f"no backup was made, the database refused: {str(error).strip()}"
        raise NotNowError("database", problem, "try again") from error


def _look(folder: Path, *, fresh: bool) -> None:
    """Refuse what is not there, and the bare folder under a medium that was taken out."""
    home = Path(settings.HOME).resolve()
    if not folder.is_dir():
        raise NotNowError(
            str(folder), "is not there", "put the medium in; it is tried again next time"
        )
    if folder == home or home in folder.parents:
        problem = "lies in the folder of the store, and would be lost with it"
        raise BackupError(str(folder), problem, "name a folder on another disk")
    before = Log(home).newest_good(str(folder))
    if before and not fresh and not backup_folder.backups(folder):
        raise NotNowError(
            str(folder),
            f"held a backup of {day(before.at)} and holds none now",
            "put the medium in; or begin anew with --fresh",
        )


def _written(folder: Path, at: datetime) -> Run:
    home = Path(settings.HOME)
    public = keys.recipient(home)
    if public is None:
        raise BackupError("key", "there is none yet", "make it: `witnessmark backup-key`")
    _sign()
    name = f"{at:%Y%m%dT%H%M%S}.{at.microsecond // 1000:03d}Z"
    part = folder / (name + backup_folder.PART)
    backup_folder.clear(folder)
    part.mkdir(mode=0o700)
    with TemporaryDirectory(dir=home, prefix="backup-") as work:
        database, archive = Path(work) / "database", Path(work) / "store.tar.gz"
        database.mkdir()
        copied = dump.copy_out(database)
        with tarfile.open(archive, "w:gz", compresslevel=3) as tar:
            tar.add(database, "database")
            for kept in _beside(home):
                tar.add(kept, kept.relative_to(home).as_posix())
        keys.encrypt(archive, part / backup_folder.ARCHIVE, public)
    missing = [sha256 for sha256 in copied.photos if not _photo(folder, sha256, public)]
    contents = Contents(
        at=at,
        vendor=dump.vendor(),
        migrations=copied.migrations,
        held=copied.held,
        photos=copied.photos,
        missing=missing,
        bytes=(part / backup_folder.ARCHIVE).stat().st_size,
        sha256=backup_folder.sha256_of(part / backup_folder.ARCHIVE),
    )
    backup_folder.write(part / backup_folder.CONTENTS, contents.model_dump_json(indent=1).encode())
    backup_folder.to_disk(part)
    part.rename(folder / name)
    backup_folder.to_disk(folder)
    with suppress(OSError):  # what could not go now goes next time
        backup_folder.tidy(folder, copied.held)
    return Run(
        at=at, folder=str(folder), name=name, held=contents.held, bytes=contents.bytes, missing=len(missing)
    )  # fmt: skip


def _sign() -> None:
    """Sign what the ledger holds, where its key lies here."""
    at = anchors.Places.usual()
    if at.key.exists() or not at.file.exists():
        anchors.anchor_now(at)


def _beside(home: Path) -> list[Path]:
    """What belongs to the store beside database and photos. Not the key of cookies: all sign in again."""
    return [
        path
        for path in (home / "anchors.jsonl", *sorted((home / "keys").glob("*")))
        if path.is_file()
    ]


def _photo(folder: Path, sha256: str, public: str) -> bool:
    """Have a photo in the pool; false where the store has it no more, or not as it was."""
    source, target = photos.path_of(sha256), backup_folder.photo(folder, sha256)
    there = target.exists()
    if not source.exists():
        return there
    if (
        there and target.stat().st_size > source.stat().st_size
    ):  # shorter: torn by a medium pulled out
        return True
    if backup_folder.sha256_of(source) != sha256:
        return False
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    draft = target.with_suffix(backup_folder.PART)
    keys.encrypt(source, draft, public)
    draft.replace(target)
    return True
