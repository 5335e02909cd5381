"""Guards in the database: what is kept cannot be changed, replaced or deleted, by anyone who uses it.

Triggers on every table of a KeptRow, on SQLite and PostgreSQL. A table that a migration builds anew
loses its triggers without a word, so they are put back after every migration, and a system check
asserts them. Who owns the database can still drop a guard: `witnessmark verify` finds what was
changed behind it, and on PostgreSQL the application should not own its tables (docs/database.md).
"""

from collections.abc import Iterator, Sequence
from typing import Any

from django.apps import apps
from django.core import checks
from django.db import connections, models, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from witnessmark.shop.models import KeptRow

REFUSED = "kept rows are never changed, replaced or deleted"
FUNCTION = "shop_refuse_change"


def kept_models() -> list[type[KeptRow]]:
    """The models whose rows are written once."""
    return [m for m in apps.get_app_config("shop").get_models() if issubclass(m, KeptRow)]


def put_back(using: str = "default", **signal: Any) -> None:
    """Create every guard anew, all in one step, where its table exists. Receiver of post_migrate."""
    connection = connections[using]
    with transaction.atomic(using), connection.cursor() as cursor:
        tables = set(connection.introspection.table_names(cursor))
        for statement in _preparation(connection):
            cursor.execute(statement)
        for model in kept_models():
            if model._meta.db_table in tables:
                for statement in _statements(connection, model):
                    cursor.execute(statement)


def missing(using: str = "default") -> list[str]:
    """Names of the guards that should stand and do not, for tables that exist."""
    connection = connections[using]
    with connection.cursor() as cursor:
        tables = set(connection.introspection.table_names(cursor))
        cursor.execute(_standing(connection))
        standing = {name for (name,) in cursor.fetchall()}
    wanted = [
        name
        for model in kept_models()
        if model._meta.db_table in tables
        for name in _names(connection, model)
    ]
    return sorted(set(wanted) - standing)


def check(
    app_configs: object, databases: Sequence[str] | None = None, **options: Any
) -> list[checks.CheckMessage]:
    """System check: every guard stands. Run by `check --database default` and before migrations."""
    return [
        checks.Error(
            f"{name}: this guard of the ledger is not in the database {using}",
            hint="Find out who dropped it; `witnessmark manage guards` puts it back, "
            "`witnessmark verify` tells whether anything was changed meanwhile.",
            id="shop.E001",
        )
        for using in databases or []
        for name in missing(using)
    ]


def _statements(connection: BaseDatabaseWrapper, model: type[KeptRow]) -> Iterator[str]:
    dialect = _sqlite if connection.vendor == "sqlite" else _postgresql
    return dialect(model)


def _names(connection: BaseDatabaseWrapper, model: type[KeptRow]) -> list[str]:
    table = model._meta.db_table
    last = "insert" if connection.vendor == "sqlite" else "truncate"
    return [f"{table}_no_{act}" for act in ("update", "delete", last)]


def _standing(connection: BaseDatabaseWrapper) -> str:
    if connection.vendor == "sqlite":
        return "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    return "SELECT tgname FROM pg_trigger WHERE tgenabled = 'A'"  # A: always, also for replicas


def _sqlite(model: type[KeptRow]) -> Iterator[str]:
    table = model._meta.db_table
    taken = " OR ".join(_taken(table, key) for key in _keys(model))
    for act, when in (("update", ""), ("delete", ""), ("insert", f"WHEN {taken} ")):
        yield f'DROP TRIGGER IF EXISTS "{table}_no_{act}"'
        yield (
            f'CREATE TRIGGER "{table}_no_{act}" BEFORE {act.upper()} ON "{table}" {when}'
            f"BEGIN SELECT RAISE(ABORT, '{table}: {REFUSED}'); END"
        )


def _taken(table: str, key: list[str]) -> str:
    same = " AND ".join(f'"{column}" = NEW."{column}"' for column in key)
    return f'EXISTS (SELECT 1 FROM "{table}" WHERE {same})'  # noqa: S608 - names of our own tables


def _keys(model: type[KeptRow]) -> list[list[str]]:
    """Columns of each key: INSERT OR REPLACE would delete the row that has any of them."""
    columns = {field.name: str(field.column) for field in model._meta.concrete_fields}
    single = [[str(field.column)] for field in model._meta.concrete_fields if field.unique]
    several = [
        [columns[name] for name in constraint.fields]
        for constraint in model._meta.constraints
        if isinstance(constraint, models.UniqueConstraint)
    ]
    return single + several


def _preparation(connection: BaseDatabaseWrapper) -> Iterator[str]:
    if connection.vendor == "postgresql":
        yield (
            f"CREATE OR REPLACE FUNCTION {FUNCTION}() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '%: {REFUSED}', TG_TABLE_NAME "
            f"USING ERRCODE = 'integrity_constraint_violation'; END $$"
        )


def _postgresql(model: type[KeptRow]) -> Iterator[str]:
    table = model._meta.db_table
    for act, each in (("update", "ROW"), ("delete", "ROW"), ("truncate", "STATEMENT")):
        name = f"{table}_no_{act}"
        yield f'DROP TRIGGER IF EXISTS "{name}" ON "{table}"'
        yield (
            f'CREATE TRIGGER "{name}" BEFORE {act.upper()} ON "{table}" '
            f"FOR EACH {each} EXECUTE FUNCTION {FUNCTION}()"
        )
        yield f'ALTER TABLE "{table}" ENABLE ALWAYS TRIGGER "{name}"'
