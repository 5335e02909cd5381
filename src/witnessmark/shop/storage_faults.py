"""What the disk or the database refused, in words: nothing of an act that met it was stored."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import psycopg
from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True)
class Trouble:
    """An answer's status, what is wrong, and the way on."""

    status: int
    problem: Any  # translated where it is read
    expected: Any

    def __str__(self) -> str:
        return f"{self.problem} {self.expected}"


DISK_FULL = Trouble(
    507,
    _("The disk is full: nothing of this was stored."),
    _(
        "Go back: what you typed is still there. Make room on the disk of the store, then send it again."
    ),
)
CANNOT_WRITE = Trouble(
    503,
    _("The store can only be read: nothing of this was stored."),
    _(
        "Go back: what you typed is still there. "
        "Whoever runs the store must give it the right to write its files again; then send it again."
    ),
)
LOCKED = Trouble(
    503,
    _("The store is busy with something else: nothing of this was stored."),
    _("Go back: what you typed is still there. Send it again in a minute."),
)
UNREACHABLE = Trouble(
    503,
    _("The database does not answer: nothing of this was stored."),
    _(
        "Go back: what you typed is still there. Once the database and its disk work again, send it again."
    ),
)

OF_THE_SYSTEM = {
    errno.ENOSPC: DISK_FULL,
    errno.EDQUOT: DISK_FULL,
    errno.EFBIG: DISK_FULL,  # no larger file is allowed here
    errno.EROFS: CANNOT_WRITE,
    errno.EACCES: CANNOT_WRITE,
    errno.EPERM: CANNOT_WRITE,
    errno.EIO: UNREACHABLE,
}
OF_SQLITE = {  # https://sqlite.org/rescode.html; the low byte is the primary code
    sqlite3.SQLITE_FULL: DISK_FULL,
    sqlite3.SQLITE_READONLY: CANNOT_WRITE,
    sqlite3.SQLITE_PERM: CANNOT_WRITE,
    sqlite3.SQLITE_BUSY: LOCKED,
    sqlite3.SQLITE_LOCKED: LOCKED,
    sqlite3.SQLITE_IOERR: UNREACHABLE,
    sqlite3.SQLITE_CANTOPEN: UNREACHABLE,
}
OF_POSTGRESQL = {  # https://www.postgresql.org/docs/current/errcodes-appendix.html
    "53100": DISK_FULL,
    "25006": CANNOT_WRITE,
    "42501": CANNOT_WRITE,
    "55P03": LOCKED,
    "40P01": LOCKED,
    "53300": LOCKED,
}


def trouble(error: BaseException | None) -> Trouble | None:
    """What the disk or the database refused, if that is what an exception comes from."""
    return next((found for cause in _causes(error) if (found := _known(cause))), None)


def _causes(error: BaseException | None) -> Iterator[BaseException]:
    while error is not None:
        yield error
        error = error.__cause__ or error.__context__


def _known(error: BaseException) -> Trouble | None:
    if isinstance(error, sqlite3.Error):
        return OF_SQLITE.get(getattr(error, "sqlite_errorcode", 0) & 0xFF)
    if isinstance(error, psycopg.Error):
        lost = isinstance(error, psycopg.OperationalError) and error.sqlstate is None
        return UNREACHABLE if lost else OF_POSTGRESQL.get(error.sqlstate or "")
    if isinstance(error, OSError):
        return OF_THE_SYSTEM.get(error.errno or 0)
    return None
