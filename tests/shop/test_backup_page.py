"""The page of the backup, and the line on Today that leads to it."""

import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.shop.filled import send
from witnessmark.shop.backups import keys
from witnessmark.shop.backups.log import Log, Run
from witnessmark.shop.backups.making import back_up

PAGE = "/shop/backup/"


@pytest.fixture
def client(technician, client_of, transactional_db):
    return client_of(technician)


@pytest.fixture
def stick(tmp_path, tmp_path_factory) -> Path:
    keys.make_key(tmp_path)
    return tmp_path_factory.mktemp("stick")


def words(client, page: str = PAGE) -> str:
    return " ".join(client.get(page).content.decode().split())


def test_before_the_first_the_page_says_how_and_one_made_too_early_says_why(client, shop):
    assert "No backup was made yet" in words(client, "/")
    page = words(client)
    assert "witnessmark backup-key" in page
    assert "Back up now" not in page
    assert client.post(f"{PAGE}now/").status_code == 303
    assert "No backup was made. folder: none was ever used" in words(client)


def test_the_page_says_what_the_last_one_held_and_makes_another(client, visit, stick):
    first = back_up(stick)
    page = words(client)
    assert "1 visit, 5 entries, 0 photos" in page
    assert f"{stick}/{first.name}" in page
    assert "No backup" not in words(client, "/")
    answer = client.post(f"{PAGE}now/", follow=True).content.decode()
    assert "The backup is made." in answer
    assert first.name not in answer


def test_a_try_that_failed_is_told_beside_the_last_that_did_not(client, visit, stick):
    first = back_up(stick)
    shutil.rmtree(stick)
    client.post(f"{PAGE}now/")
    page = words(client)
    assert f"failed: {stick}: is not there; put the medium in" in page
    assert first.name in page


def test_one_that_is_too_old_is_told_on_today_as_the_shop_wants_it(client, shop, tmp_path):
    def made(days: int) -> None:
        at = datetime.now(UTC) - timedelta(days=days)
        Log(tmp_path).add(Run(at=at, folder="/somewhere", name="one"))

    made(8)
    assert "The last backup is 8 days old" in words(client, "/")
    assert send(client, PAGE, {"backup_days": "9"}).status_code == 303
    assert "days old" not in words(client, "/")
    assert send(client, PAGE, {"backup_days": "-1"}).status_code == 422
    assert send(client, PAGE, {"backup_days": "0"}).status_code == 303
    (tmp_path / "backups.jsonl").write_text("no run\n")
    assert "backup" not in words(client, "/").lower().replace("/shop/backup/", "")
