"""A store that is not whole, not closed, or of another version is told before anything touches it."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import connection
from typer.testing import CliRunner

from witnessmark.cli.main import app
from witnessmark.shop import opening, settings
from witnessmark.shop.opening import OpeningError, open_store


@pytest.fixture(autouse=True)
def as_before() -> Iterator[None]:
    """A command changes what holds for its whole process."""
    mask, settings = os.umask(0o022), dict(connection.settings_dict)
    yield
    os.umask(mask)
    connection.settings_dict.update(settings)


def migrations(statement: str, *values: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)


COMMANDS = [["serve"], ["serve", "--no-migrate"], ["verify"], ["rebuild"], ["anchor"], ["manage", "migrate"],
            ["demo", "build"], ["demo", "plan"]]  # fmt: skip


@pytest.mark.postgres
@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_a_database_of_a_newer_version_is_refused_by_every_command(shop, command):
    migrations(
        "INSERT INTO django_migrations (app, name, applied) VALUES ('shop', '9001_tomorrow', %s)",
        "2026-11-28 12:00:00+00:00",
    )
    got = CliRunner().invoke(app, command)

    assert isinstance(got.exception, OpeningError)
    assert "newer version, which took 1 step this one does not know: shop 9001_tomorrow" in str(
        got.exception
    )
    assert got.stdout == ""


@pytest.mark.postgres
def test_a_database_of_an_older_version_is_let_through_to_what_brings_it_up_to_date(shop):
    migrations("DELETE FROM django_migrations WHERE name = %s", "0002_wrenches")
    for command in (["serve", "--no-migrate"], ["rebuild"], ["anchor"], ["verify"]):
        got = CliRunner().invoke(app, command)
        assert "older version: 1 step to go" in str(got.exception), command
        assert "witnessmark manage migrate" in str(got.exception)
    open_store(older=True)


def test_a_restore_that_was_cut_off_is_not_served(shop, tmp_path):
    (tmp_path / opening.UNFINISHED).touch()
    with pytest.raises(OpeningError, match="a restore was cut off here; empty the folder"):
        open_store()


def test_folders_and_files_are_closed_to_other_users(shop, tmp_path, settings, capsys):
    """What stands open is told by check and verify, closed at the next start, and stays closed."""
    for folder in ("keys", "photos", "solved"):
        (tmp_path / folder).mkdir(mode=0o755)
    for name in ("anchors.jsonl", "secret-key", "keys/anchor.pem"):
        (tmp_path / name).touch(mode=0o644)
    settings.SOLVED = tmp_path / "solved"
    tmp_path.chmod(0o755)
    call_command("check")
    assert "keys: other users of this machine can reach it" in capsys.readouterr().err

    open_store()

    assert opening.loose() == []
    assert tmp_path.stat().st_mode & 0o777 == 0o700
    assert (tmp_path / "keys" / "anchor.pem").stat().st_mode & 0o777 == 0o600
    (tmp_path / "new").touch()
    assert (tmp_path / "new").stat().st_mode & 0o777 == 0o600


def test_the_database_of_sqlite_is_closed_with_what_lies_beside_it(desk, visit, transactional_db):
    file = Path(connection.settings_dict["NAME"])
    beside = [Path(f"{file}{end}") for end in ("", "-wal", "-shm")]
    for one in beside:
        one.chmod(0o644)
    assert set(opening.loose()) == set(beside)
    open_store()
    assert [one.stat().st_mode & 0o777 for one in beside] == [0o600] * 3


def test_connections_are_kept_to_a_server_and_never_to_a_file(monkeypatch):
    """A kept connection would go on writing to a file that was moved away; one to a server is tried before its use."""
    monkeypatch.setenv("DATABASE_URL", "postgresql://app@/app")
    kept = settings.database()
    assert (kept["CONN_MAX_AGE"] > 0, kept["CONN_HEALTH_CHECKS"]) == (True, True)
    monkeypatch.delenv("DATABASE_URL")
    assert settings.database()["CONN_MAX_AGE"] == 0
