"""Before anything touches the store: is it whole, is it closed to others, does this version know its database?"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core import checks
from django.core.exceptions import ImproperlyConfigured
from django.db import DatabaseError, connection
from django.db.migrations.loader import MigrationLoader

from witnessmark.errors import WitnessError
from witnessmark.shop.home import UNFINISHED
from witnessmark.shop.storage_faults import trouble

PRIVATE = 0o077  # umask: what is made belongs to its owner alone


class OpeningError(WitnessError):
    """A store that must not be opened as it is."""


def open_store(*, older: bool = False, read_only: bool = False) -> None:
    """Refuse a store that this version cannot use, before it is touched; close it to other users.

    older: a database of an older version is let through (who asks brings it up to date). read_only: nothing is closed.
    Raises OpeningError.
    """
    home = Path(settings.HOME)
    if (home / UNFINISHED).exists():
        raise OpeningError(
            str(home),
            "a restore was cut off here",
            "empty the folder (and the database of PostgreSQL), then restore again",
        )
    os.umask(PRIVATE)
    if not read_only:
        tighten()
    newer, missing = _migrations()
    if newer:
        raise OpeningError(
            "database",
            f"was made by a newer version, which took {_count(newer)} this one does not know: {', '.join(newer)}",
            "update Witness Mark; nothing was touched",
        )
    if missing and not older:
        raise OpeningError(
            "database",
            f"is of an older version: {_count(missing)} to go",
            "make a backup with the version you had, then `witnessmark manage migrate` (or `witnessmark serve`)",
        )


def tighten() -> None:
    """Close the store's folders (0700) and files (0600) to other users, where that is ours to do."""
    for path, mode in _loose():
        try:
            path.chmod(mode)
        except OSError:
            continue  # told by the check


def loose() -> list[Path]:
    """What of the store other users of this machine can reach."""
    return [path for path, _ in _loose()]


def check(
    app_configs: object, databases: Sequence[str] | None = None, **options: Any
) -> list[checks.CheckMessage]:
    """System check: nobody else on this machine reads the store."""
    return [
        checks.Warning(
            f"{path}: other users of this machine can reach it",
            hint="Give it to the user that serves the pages: chmod 700 for a folder, 600 for a file.",
            id="shop.W001",
        )
        for path in loose()
    ]


def _loose() -> Iterator[tuple[Path, int]]:
    """What has rights it should not have, with those it should. Photos are closed by their folder."""
    home = Path(settings.HOME)
    folders = [home, home / "keys", Path(settings.PHOTOS), Path(settings.SOLVED)]
    files = [path for folder in folders[:2] if folder.is_dir() for path in folder.iterdir()]
    if connection.vendor == "sqlite":
        name = str(connection.settings_dict["NAME"])
        files += [Path(name + end) for end in ("", "-wal", "-shm")]
    expected = dict.fromkeys(folders, 448) | {path: 0o600 for path in files if path.is_file()}
    for path, mode in expected.items():
        if path.exists() and path.stat().st_mode & PRIVATE:
            yield path, mode


def _migrations() -> tuple[list[str], list[str]]:
    """Migrations the database has and this version does not know, and those it still lacks."""
    try:
        loader = MigrationLoader(connection)
    except (DatabaseError, ImproperlyConfigured) as error:
        found = trouble(error)
        raise OpeningError(
            "database",
            f"cannot be opened: {str(error).strip()}",
            found.expected if found else "is DATABASE_URL right, and does the server run?",
        ) from error
    done = set(loader.applied_migrations)
    replaced = {key for one in loader.disk_migrations.values() for key in one.replaces}
    known = set(loader.disk_migrations) | replaced
    return _names(done - known), _names(set(loader.graph.nodes) - done)


def _names(keys: set[tuple[str, str]]) -> list[str]:
    return [f"{app} {name}" for app, name in sorted(keys)]


def _count(names: Sequence[str]) -> str:
    return "1 step" if len(names) == 1 else f"{len(names)} steps"
