"""The database itself refuses to change what is kept."""

import pytest
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from django.db import DatabaseError, connection, transaction

from witnessmark.shop import guards, store
from witnessmark.shop.models import Entry

pytestmark = pytest.mark.postgres

KEPT = {
    "shop_bookrevision",
    "shop_clash",
    "shop_documentkept",
    "shop_entry",
    "shop_estimatekept",
    "shop_plankept",
    "shop_receipt",
    "shop_changekept",
    "shop_seal",
}


def refused(statement: str, parameters: list | None = None) -> str:
    """Run a statement that must fail; return what the database said."""
    with pytest.raises(DatabaseError) as error, transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement, parameters)
    return str(error.value)


def check_foreign_keys_now() -> None:
    """PostgreSQL changes no table while foreign keys of this transaction are still to be checked."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")


def test_nobody_meets_a_table_without_its_guards_while_they_are_put_back(transactional_db):
    """Made anew in one step, as at every start: else two that start at once would both make the same one."""
    watcher, seen = connection.copy(), []

    def watched(execute, sql, params, many, context):
        if "CREATE TRIGGER" in sql:
            with watcher.cursor() as cursor:
                cursor.execute(guards._standing(connection))
                seen.append(len(cursor.fetchall()))
        return execute(sql, params, many, context)

    try:
        with connection.execute_wrapper(watched):
            guards.put_back()
    finally:
        watcher.close()
    assert set(seen) == {len(seen)}
    assert len(seen) == 3 * len(KEPT)


def test_every_kept_table_is_guarded():
    assert {model._meta.db_table for model in guards.kept_models()} == KEPT


@pytest.mark.parametrize(
    "change", ["UPDATE shop_{0} SET shop_id = shop_id", "DELETE FROM shop_{0}"]
)
@pytest.mark.parametrize("table", ["entry", "seal", "bookrevision"])
def test_kept_rows_are_neither_changed_nor_deleted(visit, table, change):
    assert guards.REFUSED in refused(change.format(table))


def test_the_models_cannot_get_round_the_guards(visit):
    entry = Entry.objects.first()
    entry.kind = "noted"
    for act in (entry.save, entry.delete, Entry.objects.all().delete,
                lambda: Entry.objects.update(kind="noted")):  # fmt: skip
        with pytest.raises(DatabaseError), transaction.atomic():
            act()


def test_nothing_is_put_in_the_place_of_a_kept_row(visit):
    """INSERT OR REPLACE, or an upsert, over an existing id or any other key is refused."""
    columns = [f.column for f in Entry._meta.concrete_fields]
    names = ", ".join(f'"{c}"' for c in columns)
    same = f"SELECT {names} FROM shop_entry LIMIT 1"
    other_id = same.replace('"id"', "'00000000000070008000000000000000'", 1)
    if connection.vendor == "sqlite":
        for source in (same, other_id):
            assert guards.REFUSED in refused(
                f"INSERT OR REPLACE INTO shop_entry ({names}) {source}"
            )
    else:
        upsert = (
            f"INSERT INTO shop_entry ({names}) {same} ON CONFLICT (id) DO UPDATE SET kind = 'x'"
        )
        assert guards.REFUSED in refused(upsert)
        check_foreign_keys_now()
        assert guards.REFUSED in refused("TRUNCATE shop_entry CASCADE")


def test_a_dropped_guard_is_found_and_put_back(database):
    """The check names the guard; `manage guards` puts it back; after that nothing is missing."""
    on = "" if connection.vendor == "sqlite" else " ON shop_entry"
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER shop_entry_no_delete{on}")

    with pytest.raises(SystemCheckError, match="shop_entry_no_delete"):
        call_command("check", databases=["default"])
    call_command("guards")
    call_command("check", databases=["default"])
    assert guards.missing() == []


def test_migrating_puts_the_guards_back(database):
    on = "" if connection.vendor == "sqlite" else " ON shop_seal"
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER shop_seal_no_update{on}")
    call_command("migrate", verbosity=0, skip_checks=True)

    assert guards.missing() == []


@pytest.mark.parametrize(
    "tampering",
    [
        "UPDATE shop_entry SET body = REPLACE(body, 'worn', 'fine') WHERE kind = 'arrived'",
        "UPDATE shop_entry SET at = REPLACE(at, '20', '19')",
        "UPDATE shop_seal SET number = number + 100 WHERE number = 2",
    ],
)
def test_what_is_changed_behind_dropped_guards_is_found(visit, tampering):
    """Whoever owns the database can drop a guard; the chains tell what he changed."""
    assert list(store.faults()) == []
    with connection.cursor() as cursor:
        for table in ("entry", "seal"):
            on = "" if connection.vendor == "sqlite" else f" ON shop_{table}"
            cursor.execute(f"DROP TRIGGER shop_{table}_no_update{on}")
        cursor.execute(tampering)

    assert list(store.faults())


def test_a_ledger_written_anew_is_found_by_its_anchor(visit, desk, machine, capsys):
    """All chains computed again agree with each other; only what was signed before tells."""
    call_command("anchor")
    call_command("verify")
    assert "every entry is as it was sealed" in capsys.readouterr().out

    with connection.cursor() as cursor:
        on = {
            t: "" if connection.vendor == "sqlite" else f" ON shop_{t}" for t in ("entry", "seal")
        }
        for table, where in on.items():
            cursor.execute(f"DROP TRIGGER shop_{table}_no_delete{where}")
        cursor.execute("DELETE FROM shop_seal")
        cursor.execute("DELETE FROM shop_entry")
    store.record(desk, visit, "arrived", {
        "machine": str(machine.pk), "owner": str(machine.owner_id)})  # fmt: skip
    check_foreign_keys_now()
    call_command("guards")
    assert list(store.faults()) == []
    with pytest.raises(SystemExit):
        call_command("verify")
    assert "visit 1: " in capsys.readouterr().out
