"""Open the database to read alone: also a copy on a medium, or in a folder, that cannot be written."""

import sqlite3
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

from django.core.management.base import CommandError
from django.db import connection


def open_read_only() -> None:
    """Let the connection that is opened next be one that only reads. Raises CommandError in words.

    SQLite reads a database in WAL mode with its -wal and -shm: those that are there are left as they are,
    else it makes them and takes them away again. Where it cannot make them, and there is no -wal to read,
    the file is all there is. On PostgreSQL nothing need be done.
    """
    settings = connection.settings_dict
    if connection.vendor != "sqlite" or connection.connection is not None:
        return
    path = Path(settings["NAME"])
    if not path.is_file():
        raise CommandError(
            f"{path}: there is no database here; WITNESSMARK_HOME names its folder, or DATABASE_URL itself"
        )
    wal = path.with_name(f"{path.name}-wal")
    file = f"file:{quote(str(path.resolve()))}"
    address = f"{file}?mode={'ro' if wal.exists() else 'rw'}"
    if not _opens(address):
        if wal.exists() and wal.stat().st_size:
            raise CommandError(
                f"{path}: its newest entries lie in {wal.name}, which can only be read where the "
                "folder can be written; copy both into such a folder"
            )
        address = f"{file}?mode=ro&immutable=1"
        if not _opens(address):
            raise CommandError(f"{path}: is not a database that can be read; copy it again")
    settings["NAME"] = address
    settings["OPTIONS"] = {"timeout": 20, "init_command": "PRAGMA query_only=ON"}


def _opens(address: str) -> bool:
    try:
        with closing(sqlite3.connect(address, uri=True, timeout=20)) as opened:
            opened.execute("SELECT count(*) FROM sqlite_master")
    except sqlite3.Error:
        return False
    return True
