"""The whole database as files, at one instant, while others write; and back into an empty one.

SQLite: its own online copy. PostgreSQL: every table by COPY, in one transaction that sees one instant, so that
neither a program of the server's version nor its superuser is needed. Sessions are left out: after a restore
everybody signs in again.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal
from urllib.parse import quote
from uuid import UUID

from django.apps import apps
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor

from witnessmark.shop.backups.backup_folder import BackupContents
from witnessmark.shop.backups.errors import BackupError

SESSIONS, MIGRATIONS = "django_session", "django_migrations"
SQLITE_FILE, COLUMNS = "witnessmark.sqlite3", "columns.json"


@dataclass(frozen=True)
class Copied:
    """What a copy of the database says, read from the copy itself."""

    migrations: list[tuple[str, str]]
    held: dict[UUID, BackupContents]  # by shop
    photos: list[str]  # SHA-256 of those not erased


def vendor() -> Literal["sqlite", "postgresql"]:
    """Which database this is: a copy goes back into one of its own kind only."""
    return "sqlite" if connection.vendor == "sqlite" else "postgresql"


def copy_out(into: Path) -> Copied:
    """Copy the database into an empty folder."""
    return _sqlite_out(into) if connection.vendor == "sqlite" else _postgresql_out(into)


def copy_in(source: Path, migrations: Iterable[tuple[str, str]]) -> None:
    """Fill an empty database from a folder that `copy_out` made, and bring it up to date.

    Raises BackupError for a database that is not empty.
    """
    if connection.vendor == "sqlite":
        _sqlite_in(source)
    else:
        _postgresql_in(source, list(migrations))


def _sqlite_out(into: Path) -> Copied:
    store = f"file:{quote(str(connection.settings_dict['NAME']))}?mode=rw"  # never makes one
    with (
        closing(sqlite3.connect(store, uri=True, timeout=20)) as source,
        closing(sqlite3.connect(into / SQLITE_FILE)) as copy,
    ):
        source.backup(copy)
        copy.execute(f"DELETE FROM {SESSIONS}")  # noqa: S608 - a name of our own
        copy.commit()
        return _copied(copy.cursor())


def _sqlite_in(source: Path) -> None:
    target = Path(connection.settings_dict["NAME"])
    if target.exists():
        raise BackupError(str(target), "is there already", "restore into an empty folder")
    connection.close()
    shutil.move(source / SQLITE_FILE, target)
    call_command("migrate", verbosity=0, interactive=False, skip_checks=True)


def _postgresql_out(into: Path) -> Copied:
    own = connection.copy()
    try:
        with own.cursor() as cursor:
            cursor.execute("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")
            tables = set(own.introspection.table_names(cursor)) - {SESSIONS, MIGRATIONS}
            columns = {
                table: [c.name for c in own.introspection.get_table_description(cursor, table)]
                for table in sorted(tables & set(own.introspection.django_table_names()))
            }
            (into / COLUMNS).write_text(json.dumps(columns))
            for table, names in columns.items():
                out = _copy(table, names, "TO STDOUT")
                with (into / table).open("wb") as file, cursor.copy(out) as rows:
                    file.writelines(rows)
            return _copied(cursor)
    finally:
        own.close()


def _postgresql_in(source: Path, migrations: list[tuple[str, str]]) -> None:
    columns = json.loads((source / COLUMNS).read_text())
    with transaction.atomic(), connection.cursor() as cursor:
        if connection.introspection.table_names(cursor):
            problem = "the database that DATABASE_URL names is not empty"
            raise BackupError("DATABASE_URL", problem, "make an empty one, and name it")
        MigrationExecutor(connection).migrate(_last(migrations))
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        names = ", ".join(map(connection.ops.quote_name, columns))
        cursor.execute(f"TRUNCATE {names}")  # what migrations put in, the copy has, too
        cursor.execute("SET CONSTRAINTS ALL DEFERRED")
        for table in columns:
            back = _copy(table, columns[table], "FROM STDIN")
            with (source / table).open("rb") as file, cursor.copy(back) as rows:
                while chunk := file.read(1 << 20):
                    rows.write(chunk)
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        models = apps.get_models(include_auto_created=True)
        for statement in connection.ops.sequence_reset_sql(no_style(), models):
            cursor.execute(statement)
        call_command("migrate", verbosity=0, interactive=False, skip_checks=True)


def _copy(table: str, columns: list[str], way: str) -> str:
    quoted = ", ".join(map(connection.ops.quote_name, columns))
    return f"COPY {connection.ops.quote_name(table)} ({quoted}) {way}"


def _last(migrations: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """The last migration of each app: those before it come along."""
    return list({app: (app, name) for app, name in sorted(migrations)}.values())


def _copied(cursor: Any) -> Copied:
    def rows(query: str) -> list[tuple[Any, ...]]:
        cursor.execute(query)
        return list(cursor.fetchall())

    def by_shop(table: str, which: str = "") -> dict[UUID, int]:
        counted = rows(f"SELECT shop_id, COUNT(*) FROM {table} {which} GROUP BY shop_id")  # noqa: S608
        return {UUID(str(shop)): count for shop, count in counted}

    kept = "WHERE erased_on IS NULL"
    visits, entries = by_shop("shop_visit"), by_shop("shop_entry")
    photos = by_shop("shop_photokept", kept)
    return Copied(
        migrations=rows(f"SELECT app, name FROM {MIGRATIONS} ORDER BY app, name"),  # noqa: S608
        held={
            shop: BackupContents(visits=visits.get(shop, 0), entries=entries.get(shop, 0), photos=photos.get(shop, 0))
            for shop in (UUID(str(key)) for (key,) in rows("SELECT id FROM shop_shop"))
        },
        photos=[sha for (sha,) in rows(f"SELECT DISTINCT sha256 FROM shop_photokept {kept} ORDER BY sha256")],  # noqa: S608
    )  # fmt: skip
