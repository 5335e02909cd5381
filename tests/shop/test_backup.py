"""A copy taken while the pages run comes back whole, and what does not come back is said."""

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import urlsplit
from uuid import UUID

import psycopg
import pytest
from django.core.management import call_command
from django.db import connection
from typer.testing import CliRunner

from tests.shop.test_bad_day import no_file_longer_than
from tests.shop.test_photos import picture
from witnessmark.cli.main import app
from witnessmark.shop import photos, store
from witnessmark.shop.backups import backup_folder, keys
from witnessmark.shop.backups.errors import BackupError, NotNowError
from witnessmark.shop.backups.log import Log
from witnessmark.shop.backups.making import back_up
from witnessmark.shop.backups.restoring import restore

ENTRIES = """
SELECT entry.id, kind, body FROM shop_entry entry JOIN shop_seal seal ON seal.entry_id = entry.id ORDER BY number
"""
GO_ON = """
import django; django.setup()
from django.core.management import call_command
from witnessmark.shop import store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import Member, Shop, Visit
from witnessmark.shop.scope import Desk
from django.contrib.sessions.models import Session
assert Session.objects.count() == 0 and Shop.objects.get().restores == 1
desk = Desk(Member.objects.get(user__username="mara"), new_id())
store.record(desk, Visit.objects.get(), "noted", {"text": "after the restore"})
call_command("anchor")
call_command("check", databases=["default"])
call_command("verify")
"""


@pytest.fixture
def stick(tmp_path_factory) -> Path:
    """A medium of its own."""
    return tmp_path_factory.mktemp("stick")


@pytest.fixture
def secret(visit, tmp_path, transactional_db) -> str:
    """The key of the backups, as it was written down."""
    return keys.make_key(tmp_path)


@pytest.fixture
def photo(desk, visit):
    """A photo of the visit."""
    row = photos.keep(desk, picture())
    store.record(desk, visit, "photo", {"sha256": row.sha256, "media_type": row.media_type})
    return row


@pytest.fixture
def elsewhere(tmp_path_factory):
    """Where a backup is restored to: the folder, the environment, and how its rows are read."""
    folder = tmp_path_factory.mktemp("elsewhere") / "home"
    environment = {k: v for k, v in os.environ.items() if k != "DATABASE_URL"}
    environment |= {"WITNESSMARK_HOME": str(folder), "PYTHONPATH": "src",
                    "DJANGO_SETTINGS_MODULE": "witnessmark.shop.settings"}  # fmt: skip
    if connection.vendor == "sqlite":
        yield folder, environment
        return
    name = f"{connection.settings_dict['NAME']}_elsewhere"
    with connection._nodb_cursor() as cursor:
        cursor.execute(f'CREATE DATABASE "{name}"')
    server = urlsplit(os.environ["DATABASE_URL"])
    yield folder, environment | {"DATABASE_URL": server._replace(path=f"/{name}").geturl()}
    with connection._nodb_cursor() as cursor:
        cursor.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def run(environment, *words: str, typed: str = "") -> subprocess.CompletedProcess:
    return subprocess.run([sys.executable, *words], env=environment, input=typed, text=True,
                          capture_output=True, check=False)  # fmt: skip


def restored(elsewhere, stick, secret, *words: str) -> subprocess.CompletedProcess:
    folder, environment = elsewhere
    program = "from witnessmark.cli.main import main; main()"
    return run(environment, "-c", program, "restore", str(stick), str(folder), *words, typed=secret)


def rows_here() -> list[tuple]:
    with connection.cursor() as cursor:
        cursor.execute(ENTRIES)
        return [(UUID(str(key)), *rest) for key, *rest in cursor.fetchall()]


def rows_there(elsewhere) -> list[tuple]:
    folder, environment = elsewhere
    if connection.vendor == "sqlite":
        opened = sqlite3.connect(folder / "witnessmark.sqlite3")
    else:
        opened = psycopg.connect(environment["DATABASE_URL"])
    with closing(opened) as there:
        return [(UUID(str(key)), *rest) for key, *rest in there.execute(ENTRIES).fetchall()]


@pytest.mark.postgres
def test_a_store_comes_back_as_it_was_and_goes_on_from_there(
    desk, visit, photo, technician, client_of, stick, secret, elsewhere, tmp_path
):
    """Copied while somebody works; what was anchored after it is told as lost, and is no fault ever after."""

    def work() -> None:
        for number in range(20):
            store.record(desk, visit, "noted", {"text": f"note {number}"})
        connection.close()

    client_of(technician)
    with ThreadPoolExecutor(1) as pool:
        under_way = pool.submit(work)
        made = back_up(stick)
        under_way.result()
    held = made.held[visit.shop_id].entries
    store.record(desk, visit, "noted", {"text": "lost"})
    call_command("anchor")
    got = restored(elsewhere, stick, secret, "--anchors", str(tmp_path / "anchors.jsonl"))

    assert got.returncode == 0, got.stderr
    assert got.stdout.splitlines()[0].endswith(f"1 visit, {held} entries, 1 photo")
    assert f"from the backup {made.name}" in got.stdout
    lost = f"entries {held + 1} to 27 of visit 1, anchored before, were lost by it"
    assert lost in got.stdout
    assert "every photo is there, and is what its name says" in got.stdout
    assert rows_there(elsewhere) == rows_here()[:held]
    folder, environment = elsewhere
    [kept] = (folder / "photos").rglob("*.jpg")
    assert kept.read_bytes() == photos.path_of(photo.sha256).read_bytes()
    assert not (folder / "restore-unfinished").exists()
    on = run(environment, "-c", GO_ON)
    assert on.returncode == 0, on.stdout + on.stderr
    assert lost in on.stdout
    again = restored(elsewhere, stick, secret)
    assert (again.returncode, "is not empty" in again.stderr) == (2, True)


def test_what_does_not_come_back_is_named(visit, photo, stick, secret, elsewhere):
    back_up(stick)
    backup_folder.photo(stick, photo.sha256).unlink()
    got = restored(elsewhere, stick, secret)

    assert got.returncode == 1
    assert f"photo {photo.sha256}: is not in the backup" in got.stdout
    assert len(rows_there(elsewhere)) == 6


def test_nothing_of_the_shop_can_be_read_in_a_backup(visit, photo, stick, secret, tmp_path):
    """Not a name, not a picture, and the secret key lies neither beside it nor in the store."""
    back_up(stick)
    everything = [path for folder in (stick, tmp_path) for path in folder.rglob("*") if path.is_file()]  # fmt: skip
    for path in everything:
        content = path.read_bytes()
        assert secret.encode() not in content
        if stick in path.parents:
            assert b"Ines Calder" not in content
            assert b"JFIF" not in content
    assert list(tmp_path.glob("backup-*")) == [], "no copy in plain is left lying"


@pytest.mark.postgres
def test_a_wrong_key_a_damaged_or_foreign_backup_are_refused_before_anything_is_made(
    visit, stick, secret, tmp_path
):
    name = back_up(stick).name
    backup, into = stick / name, tmp_path / "into"
    other = keys.identity(keys.make_key(tmp_path / "other"))
    for what, key in (("cannot be read with this key", other), ("damaged", keys.identity(secret))):
        with pytest.raises(BackupError, match=what), backup_folder.empty(into):
            keys.decrypt(backup / backup_folder.ARCHIVE, into / "plain", key)
        assert list(into.iterdir()) == []
        content = bytearray((backup / backup_folder.ARCHIVE).read_bytes())
        content[len(content) // 2] ^= 1
        (backup / backup_folder.ARCHIVE).write_bytes(content)
    with pytest.raises(BackupError, match="not the secret key"):
        keys.identity(secret[:-1])
    assert str(keys.identity(f" {secret[:30].lower()} {secret[30:]}\n")) == secret

    said = json.loads((backup / backup_folder.CONTENTS).read_text())
    other_kind = {"sqlite": "postgresql", "postgresql": "sqlite"}[said["vendor"]]
    for change, problem in (
        ({"vendor": other_kind}, f"the backup is of {other_kind}"),
        ({"migrations": [*said["migrations"], ["shop", "9001_tomorrow"]]}, "is of a newer version"),
        ({"format": 2}, "was made by a newer version"),
        ({"held": 3}, "is damaged"),
    ):
        (backup / backup_folder.CONTENTS).write_text(json.dumps(said | change))
        with pytest.raises(BackupError, match=problem):
            restore(backup, keys.identity(secret))


def test_a_medium_that_comes_and_goes(visit, stick, secret, tmp_path):
    """Taken out, or its bare folder left: nothing is written there, it is said, and the next time it works."""
    first = back_up(stick)
    away = stick.with_name("away")
    stick.rename(away)
    got = CliRunner().invoke(app, ["backup"])
    assert (got.exit_code, "is not there; put the medium in" in got.stderr) == (1, True)
    stick.mkdir()
    with pytest.raises(NotNowError, match=r"held a backup of \d+ \w{3} \d{4} and holds none now"):
        back_up()
    assert list(stick.iterdir()) == []
    assert "holds none now" in Log(tmp_path).newest().failed
    assert Log(tmp_path).newest_good() == first
    stick.rmdir()
    away.rename(stick)
    second = back_up()
    assert list(backup_folder.backups(stick)) == [second.name]
    shutil.rmtree(stick)
    stick.mkdir()
    anew = back_up(fresh=True)
    assert list(backup_folder.backups(stick)) == [anew.name]


def test_a_backup_that_was_cut_off_never_counts(visit, photo, stick, secret, tmp_path):
    """No room in the middle: those from before stand, the next run takes away what was begun."""
    good = back_up(stick)
    with no_file_longer_than(2000), pytest.raises(NotNowError, match="no backup was made"):
        back_up(stick)
    (stick / "20991231T000000.000Z.part").mkdir()
    shutil.copytree(stick / good.name, stick / "20991231T000001.000Z")
    (stick / "20991231T000001.000Z" / backup_folder.CONTENTS).unlink()

    assert list(backup_folder.backups(stick)) == [good.name]
    assert backup_folder.chosen(stick) == stick / good.name
    again = back_up(stick)
    assert not any(stick.glob("*.part"))
    assert backup_folder.chosen(stick) == stick / again.name


def test_only_one_at_a_time(visit, stick, secret):
    with backup_folder.alone(stick), pytest.raises(NotNowError, match="is being made just now"):
        back_up(stick)


def test_it_is_not_kept_where_it_would_be_lost_with_the_store_nor_without_a_key(
    visit, stick, tmp_path, transactional_db
):
    with pytest.raises(BackupError, match="there is none yet; make it: `witnessmark backup-key`"):
        back_up(stick)
    keys.make_key(tmp_path)
    (tmp_path / "photos").mkdir()
    with pytest.raises(BackupError, match="would be lost with it"):
        back_up(tmp_path / "photos")
    with pytest.raises(BackupError, match="there is a key already"):
        keys.make_key(tmp_path)


def test_a_photo_is_copied_once_and_each_that_is_not_as_it_was_is_counted(
    desk, visit, photo, stick, secret
):
    assert back_up(stick).missing == 0
    pooled = backup_folder.photo(stick, photo.sha256)
    first = pooled.stat().st_ino
    back_up(stick)
    assert pooled.stat().st_ino == first
    pooled.write_bytes(pooled.read_bytes()[:100])  # a medium pulled out
    back_up(stick)
    assert pooled.stat().st_size > photos.path_of(photo.sha256).stat().st_size
    second = photos.keep(desk, picture(40, 30))
    photos.path_of(second.sha256).write_bytes(b"altered")
    got = CliRunner().invoke(app, ["backup", str(stick)])
    assert (got.exit_code, "1 photos are gone" in got.stderr) == (1, True)
    photos.erase(second, "owner asked")
    photos.erase(photo, "owner asked")
    last = back_up(stick)
    assert last.missing == 0
    for name in list(backup_folder.backups(stick))[:-1]:
        shutil.rmtree(stick / name)
    back_up(stick)
    assert not pooled.exists(), "no backup names it any more"


def test_of_old_backups_the_last_of_a_day_and_of_a_month_stay(tmp_path):
    mine, other = UUID(int=1), UUID(int=2)

    def made(at: datetime, of: UUID) -> None:
        folder = tmp_path / f"{at:%Y%m%dT%H%M%S}.000Z"
        folder.mkdir()
        (folder / backup_folder.ARCHIVE).touch()
        said = backup_folder.Contents(at=at, vendor="sqlite", migrations=[], held={of: backup_folder.BackupContents()},
                              photos=[], missing=[], bytes=0, sha256="")  # fmt: skip
        (folder / backup_folder.CONTENTS).write_text(said.model_dump_json())

    for month in range(1, 13):
        for day in range(1 if month == 12 else 27, 29):
            made(datetime(2025, month, day, 9, tzinfo=UTC), mine)
    made(datetime(2025, 12, 28, 17, tzinfo=UTC), mine)
    made(datetime(2020, 1, 1, tzinfo=UTC), other)
    backup_folder.tidy(tmp_path, [mine])

    stay = list(backup_folder.backups(tmp_path))
    months = [f"2025{month:02d}28" for month in range(1, 12)]
    days = [f"202512{day:02d}" for day in range(15, 29)]
    assert [name[:8] for name in stay] == ["20200101", *months, *days]
    assert stay[-1].startswith("20251228T17")


@pytest.mark.postgres
def test_the_shops_of_an_installation_are_counted_apart(visit, shop_next_door, stick, secret):
    held = back_up(stick).held
    assert str(held[visit.shop_id]) == "1 visit, 5 entries, 0 photos"
    assert str(held[shop_next_door.pk]) == "0 visits, 0 entries, 0 photos"
    [contents] = backup_folder.backups(stick).values()
    assert contents.held == held
