"""A full disk, a store that can only be read, one that is locked: said in words, nothing half stored."""

import resource
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection

from tests.shop.test_photos import picture
from witnessmark.ledger.system import append_anchor, read_anchors
from witnessmark.shop import anchors, store
from witnessmark.shop.models import Entry, PhotoKept, Seal, VisitSummary

pytestmark = pytest.mark.postgres

# The real server's own refusal, raised where an entry is written: a full disk cannot be had without root.
REFUSE = """
CREATE FUNCTION refuse() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'could not extend file' USING ERRCODE = 'disk_full'; END $$;
CREATE TRIGGER refuse BEFORE INSERT ON shop_seal FOR EACH ROW EXECUTE FUNCTION refuse()
"""


def run(*statements: str) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


@contextmanager
def disk_full() -> Iterator[None]:
    if connection.vendor == "postgresql":
        run(REFUSE)
        yield
        run("DROP TRIGGER refuse ON shop_seal", "DROP FUNCTION refuse")
        return
    with connection.cursor() as cursor:
        cursor.execute("VACUUM")  # else pages that were freed are taken again
        [pages] = cursor.execute("PRAGMA page_count").fetchone()
        cursor.execute(f"PRAGMA max_page_count={pages}")
        yield
        cursor.execute(f"PRAGMA max_page_count={2**31}")


@contextmanager
def read_only() -> Iterator[None]:
    sqlite = connection.vendor == "sqlite"
    name = "PRAGMA query_only" if sqlite else "SET default_transaction_read_only"
    run(f"{name} = on")
    yield
    run(f"{name} = off")


@contextmanager
def locked() -> Iterator[None]:
    other = connection.copy()
    with other.cursor() as cursor:
        if connection.vendor == "sqlite":
            run("PRAGMA busy_timeout=0")
            cursor.execute("BEGIN IMMEDIATE")
        else:
            run("SET lock_timeout = '1ms'")
            cursor.execute("BEGIN")
            cursor.execute("SELECT * FROM shop_visit FOR UPDATE")
        yield
        cursor.execute("ROLLBACK")
    other.close()


def stored() -> tuple[int, int, list]:
    return Entry.objects.count(), Seal.objects.count(), list(VisitSummary.objects.values())


@pytest.mark.parametrize(
    ("trouble", "status", "words"),
    [
        (disk_full, 507, "The disk is full: nothing of this was stored."),
        (read_only, 503, "The store can only be read: nothing of this was stored."),
        (locked, 503, "The store is busy with something else: nothing of this was stored."),
    ],
)
def test_what_the_database_refuses_is_said_and_the_same_form_works_afterwards(
    visit, technician, client_of, transactional_db, trouble, status, words
):
    client = client_of(technician)
    client.raise_request_exception = False
    form = {"card": "tyre/swap", "note-text": "…" * 1900, "entry_id": store.ledger.new_entry_id(),
            "seen": store.write_seen(store.heads(visit))}  # fmt: skip
    before = stored()
    with trouble():
        answer = client.post(f"/visits/{visit.pk}/bench/note/", form)

    assert answer.status_code == status
    assert words in answer.content.decode()
    assert stored() == before
    assert client.post(f"/visits/{visit.pk}/bench/note/", form).status_code == 303
    assert Entry.objects.filter(kind="noted").count() == 1
    assert list(store.faults()) == []


@contextmanager
def no_file_longer_than(size: int) -> Iterator[None]:
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_a_photo_that_finds_no_room_leaves_nothing_behind(visit, technician, client_of, tmp_path):
    """The kernel refuses the file as it refuses one on a full disk; no draft of it stays."""
    client = client_of(technician)
    client.raise_request_exception = False
    file = SimpleUploadedFile("tyre.jpg", picture(quality=95).read(), "image/jpeg")
    form = {"card": "tyre/swap", "note-text": "cut", "entry_id": store.ledger.new_entry_id(), "note-photo": file,
            "seen": store.write_seen(store.heads(visit))}  # fmt: skip
    with no_file_longer_than(4096):
        answer = client.post(f"/visits/{visit.pk}/bench/note/", form)

    assert (answer.status_code, Entry.objects.filter(kind="photo").count()) == (507, 0)
    assert [path for path in (tmp_path / "photos").rglob("*") if path.is_file()] == []
    assert not PhotoKept.objects.exists()
    file.seek(0)
    assert client.post(f"/visits/{visit.pk}/bench/note/", form).status_code == 303


def test_an_anchor_that_finds_no_room_leaves_the_file_as_it_was(visit, desk, tmp_path):
    places = anchors.Places(tmp_path / "anchors.jsonl", tmp_path / "anchor.pem")
    one = anchors.anchor_now(places)
    assert one
    before = places.file.read_bytes()
    with no_file_longer_than(len(before) + 10), pytest.raises(OSError):
        append_anchor(places.file, one)

    assert places.file.read_bytes() == before
    assert read_anchors(places.file) == [one]
