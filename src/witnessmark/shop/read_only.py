"""Open the database to read alone: also a copy on a medium, or in a folder, that cannot be written."""

import sqlite3
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

from django.db import connection

from witnessmark.errors import WitnessError


class UnreadableError(WitnessError):
    """A file that cannot be read as the database."""


def open_read_only() -> None:
    """Let the connection, which is not open yet, be one that only reads. Raises UnreadableError.

    SQLite reads a database in WAL mode with its -wal and -shm: those that are there are left as they are,
    else it makes them and takes them away again. Where it cannot make them, and there is no -wal to read,
    the file is all there is. On PostgreSQL nothing need be done.
    """
    settings = connection.settings_dict
    if connection.vendor != "sqlite":
        return
    path = Path(settings["NAME"])
    if not path.is_file():
        expected = "WITNESSMARK_HOME names its folder, or DATABASE_URL itself"
        raise UnreadableError(str(path), "there is no database here", expected)
    wal = path.with_name(f"{path.name}-wal")
    file = f"file:{quote(str(path.resolve()))}"
    address = f"{file}?mode={'ro' if wal.exists() else 'rw'}"
    if not _opens(address):
        if wal.exists() and wal.stat().st_size:
            problem = f"its newest entries lie in {wal.name}, which is only read where the folder can be written"
            raise UnreadableError(str(path), problem, "copy both into such a folder")
        address = f"{file}?mode=ro&immutable=1"
        if not _opens(address):
            raise UnreadableError(str(path), "is not a database that can be read", "copy it again")
    settings["NAME"] = address
    settings["OPTIONS"] = {"timeout": 20, "init_command": "PRAGMA query_only=ON"}


def _opens(address: str) -> bool:
    try:
        with closing(sqlite3.connect(address, uri=True, timeout=20)) as opened:
            opened.execute("SELECT count(*) FROM sqlite_master")
    except sqlite3.Error:
        return False
    return True
