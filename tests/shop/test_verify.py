"""Verification finds what was changed behind the program, and says where, what, and what to do."""

import json
import shutil
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import connection

from tests.shop.test_guards import check_foreign_keys_now
from tests.shop.test_photos import picture
from witnessmark.ledger.system import read_anchors
from witnessmark.shop import anchors, content_store, folded, guards, last_seals, photos, store
from witnessmark.shop.models import (
    BookRevision,
    Entry,
    EstimateKept,
    Machine,
    OpenItemRow,
    PhotoKept,
    PlanKept,
    ReadingRow,
    Seal,
    Visit,
    VisitSummary,
)

KEPT = {EstimateKept: b'{"format":1,"gross_minor":41250}', PlanKept: b'{"format":1,"minutes":95}'}


@pytest.fixture
def full(desk, visit, django_capture_on_commit_callbacks) -> Visit:
    """A visit with an estimate, a plan, a photo and open items; acknowledged, and anchored."""
    estimate, plan = (
        content_store.keep(desk.shop, model, content) for model, content in KEPT.items()
    )
    photo = photos.keep(desk, picture(60, 40))
    with django_capture_on_commit_callbacks(execute=True):
        for kind, body in (
            ("offered", {"estimate": estimate, "lines": ["tyre"]}),
            ("plan_taken", {"plan": plan}),
            ("photo", {"sha256": photo.sha256, "media_type": "image/jpeg"}),
            ("done", {"step": "wheel_off"}),
            ("read", {"reading": "tread", "step": "tyre/swap", "value": 1.2, "text": "1.2 mm"}),
        ):
            store.record(desk, visit, kind, body)
    return visit


def verify(**options) -> tuple[int, str]:
    """Exit code, and what was said."""
    said = StringIO()
    try:
        call_command("verify", stdout=said, **options)
    except SystemExit as end:
        return int(str(end.code)), said.getvalue()
    return 0, said.getvalue()


@contextmanager
def behind_the_guards() -> Iterator[None]:
    """As somebody does who owns the database: no guard stands in the way, and all stand again after."""
    check_foreign_keys_now()
    with connection.cursor() as cursor:
        for model in guards.kept_models():
            table = model._meta.db_table
            for act in ("update", "delete"):
                on = "" if connection.vendor == "sqlite" else f" ON {table}"
                cursor.execute(f"DROP TRIGGER {table}_no_{act}{on}")
    yield
    check_foreign_keys_now()
    guards.put_back()


def changed(model, **fields):
    return lambda: model.objects.update(**fields)


def digit(model, old: bytes, new: bytes):
    def change() -> None:
        row = model.objects.get()
        content = bytes(row.content)
        assert content.count(old), "or this test changes nothing"
        model.objects.filter(pk=row.pk).update(content=content.replace(old, new, 1))

    return change


def moved() -> None:
    visit = Visit.objects.get()
    other = Machine(shop=visit.shop, maker="Brannock", model="T8")
    other.save()
    Visit.objects.update(machine=other)


def tail_cut_off() -> None:
    last = Seal.objects.order_by("number").last()
    Seal.objects.filter(pk=last.pk).delete()
    Entry.objects.filter(pk=last.entry_id).delete()
    store.rebuild()  # so that nothing else tells


def photo_file(act):
    return lambda: act(photos.path_of(PhotoKept.objects.get().sha256))


def arrival(body: str):
    return lambda: Entry.objects.filter(kind="arrived").update(body=body)


PLANTED = {
    "a digit of the estimate": (
        digit(EstimateKept, b"41250", b"31250"),
        ["estimate ", "was changed since it was kept", "restore it", "visit 1: ", "(offered): names"],
    ),
    "a digit of the plan": (digit(PlanKept, b"95", b"96"), ["plan ", "was changed", "(plan_taken)"]),
    "a torque in the book": (
        digit(BookRevision, b'"60 N\xc2\xb7m"', b'"140 N\xc2\xb7m"'),
        ["service book ", "was changed", "(book_pinned)"],
    ),
    "an estimate gone": (EstimateKept.objects.all().delete, ["(offered): names the kept estimate"]),
    "a plan of a newer version": (
        lambda: (content_store.keep(Visit.objects.get().shop, PlanKept, b'{"format":7}')),
        ["plan ", "made by a newer version", "update"],
    ),
    "the visit on another machine": (moved, ["visit 1: its row: says machine", "(arrived) says"]),
    "its rule": (
        changed(Visit, refuse_unproven_wrench=True),
        ["its row: says rule for unproven wrenches True", "says False", "the entry counts"],
    ),
    "its number": (changed(Visit, number=12), ["visit 12: its row: says number 12", "says 1;"]),
    "the summary gone": (VisitSummary.objects.all().delete, ["shop_visitsummary: 1 missing", "rebuild"]),
    "open items emptied": (OpenItemRow.objects.all().delete, ["visit 1: its rows in shop_openitemrow"]),
    "a reading changed": (changed(ReadingRow, value=3.2), ["shop_readingrow: one differs in value"]),
    "the summary changed": (changed(VisitSummary, open_safety=0), ["one differs in open_safety"]),
    "a photo gone": (photo_file(Path.unlink), ["photo ", "is not in the folder", "(photo): names"]),
    "a photo altered": (
        photo_file(lambda file: file.write_bytes(file.read_bytes() + b"x")),
        ["photo ", "was changed since it was kept"],
    ),
    "a photo struck from the list": (PhotoKept.objects.all().delete, ["(photo): names photo"]),
    "a lone surrogate": (arrival('{"complaint":"\\ud800"}'), ["visit 1: ", "(arrived)"]),
    "brackets without end": (arrival("[" * 100_000), ["(arrived): cannot be read"]),
    "no object": (arrival("7"), ["(arrived): cannot be read"]),
    "not a number": (arrival('{"keys":NaN}'), ["(arrived)", "keys"]),
    "another spelling of the same": (
        lambda: Entry.objects.filter(kind="done").update(body='{ "step": "wheel_off" }'),
        ["(done)", "changed, or added"],
    ),
    "an entry of a newer version": (changed(Entry, format=2), ["made by a newer version", "update"]),
    "another author": (
        lambda: Entry.objects.filter(kind="done").update(author=_somebody()),
        ["(done): has no seal"],
    ),
    "the newest entry cut off": (
        tail_cut_off,
        ["visit 1: seal 10: was acknowledged and is not here: the last is 9", "-wal"],
    ),
}  # fmt: skip


def _somebody():
    from tests.fixtures.shop import new_member

    return new_member(Visit.objects.get().shop, "piet")


@pytest.mark.postgres
@pytest.mark.parametrize("fault", PLANTED)
def test_what_was_changed_behind_the_program_is_found(full, fault):
    code, said = verify()
    assert code == 0, said
    plant, words = PLANTED[fault]
    with behind_the_guards():
        plant()

    code, said = verify()

    assert code == 1
    assert [word for word in words if word not in said] == [], said
    assert "every entry is as it was sealed" not in said


def test_it_ends_with_what_it_looked_at_in_numbers(full):
    call_command("anchor", stdout=StringIO())
    code, said = verify()
    assert code == 0
    sound, checked = said.splitlines()[-2:]
    assert sound == "every entry is as it was sealed"
    assert checked == (
        "checked: visits: 1, entries: 10, seals: 10, kept documents: 3, photos: 1, "
        "rows that follow from them: 8, anchors: 1, acknowledged heads: 0"
    )
    told = json.loads(verify(json=True)[1])
    assert (told["faults"], told["checked"]["entries"]) == ([], 10)


@pytest.mark.postgres
def test_since_the_newest_anchor_only_what_is_new_is_read(full, desk):
    """It says what it left out; a visit that went on since is read whole."""
    call_command("anchor", stdout=StringIO())
    code, said = verify(since_anchor=True)
    assert code == 0
    assert "visits as the last anchor has them, not read: 1" in said
    assert "kept before the last anchor, not read: 4" in said
    assert "visits: 0, entries: 0, seals: 0, kept documents: 0, photos: 0," in said
    store.record(desk, full, "noted", {"text": "x"})
    assert "visits: 1, entries: 11" in verify(since_anchor=True)[1]
    with behind_the_guards():
        Seal.objects.filter(number=2).update(prev="0" * 64)
    assert "seal 2: does not follow" in verify(since_anchor=True)[1]


@pytest.mark.postgres
def test_what_is_written_meanwhile_is_no_fault(transactional_db, desk, visit):
    """Every hundred visits are read in one view of the database, and what lies beside it before that."""

    def work() -> None:
        for number in range(25):
            store.record(desk, visit, "noted", {"text": f"note {number}"})
        connection.close()

    with ThreadPoolExecutor(1) as pool:
        working = pool.submit(work)
        while True:
            at_its_end = working.done()
            code, said = verify()
            assert code == 0, said
            if at_its_end:
                break
        working.result()
    assert "entries: 30, seals: 30" in said


def test_a_store_without_its_heads_or_with_a_torn_line_is_told(full):
    """Where nothing beside the database says how far it had come, it cannot be called whole."""
    with last_seals.file().open("ab") as file:
        file.write(b"\xff\0torn")
    code, said = verify()
    assert code == 0
    assert (
        "last_seals.jsonl:6: is not a head; if there was no power cut, somebody wrote here" in said
    )
    last_seals.file().unlink()
    code, said = verify()
    assert code == 1
    assert "last_seals.jsonl: is not there" in said
    call_command("anchor", stdout=StringIO())
    assert verify()[0] == 0


@pytest.mark.postgres
def test_what_a_restore_gave_up_is_told_and_is_no_fault_ever_after(full, desk):
    """Cut off without a word it is a fault; signed as a restore it is told, and work goes on."""
    call_command("anchor", stdout=StringIO())
    with behind_the_guards():
        tail_cut_off()
    assert verify()[0] == 1
    anchors.record_restore(anchors.Places.usual(), "monday")
    store.record(desk, full, "noted", {"text": "after it"})
    call_command("anchor", stdout=StringIO())
    code, said = verify()
    assert code == 0, said
    assert "UTC from the backup monday" in said
    assert "entries 10 to 10 of visit 1, anchored before, were lost by it" in said


def test_an_anchor_that_fails_forgets_no_head(full):
    """The heads are begun anew only where the anchor that knows them stands."""
    at = last_seals.file().with_name("anchors.jsonl")
    at.write_bytes(b"\xff\xfe no text\n")
    with pytest.raises(ValueError, match="is not an anchor"):
        call_command("anchor", stdout=StringIO())
    assert len(last_seals.read()[0]) == 1
    at.unlink()
    call_command("anchor", stdout=StringIO())
    assert last_seals.read() == ({}, [])
    assert last_seals.files() == [last_seals.file()]


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (Path.unlink, "the file of anchors is not there"),
        (lambda file: file.write_bytes(b""), "holds no anchor"),
        (lambda file: file.write_bytes(b"\xff\xfe\x00\n"), "anchors.jsonl:1: is not an anchor"),
        (lambda file: file.write_bytes(b"[" * 200_000), "anchors.jsonl:1: is not an anchor"),
        (lambda file: file.write_bytes(file.read_bytes()[:-9]), "anchors.jsonl:1: is not an anchor"),
        (lambda file: (file.unlink(), file.mkdir()), "anchors.jsonl: cannot be read"),
    ],
)  # fmt: skip
def test_a_file_of_anchors_that_is_gone_empty_or_no_text_is_a_fault(full, spoil, words):
    """Also where the key to be trusted was given; and the rest is looked at all the same."""
    call_command("anchor", stdout=StringIO())
    file = last_seals.file().with_name("anchors.jsonl")
    key = read_anchors(file)[0].key
    assert verify(trusted=[key])[0] == 0
    spoil(file)
    for options in ({}, {"trusted": [key]}, {"trusted": [key], "since_anchor": True}):
        code, said = verify(**options)
        assert (code, words in said, "entries: 10" in said) == (1, True, True), said


def test_a_name_of_the_file_that_was_mistyped_is_a_fault(full, tmp_path):
    code, said = verify(file=tmp_path / "anchor.jsonl")
    assert code == 1
    assert "anchor.jsonl: the file of anchors is not there; look for it under another name" in said


def test_a_store_never_anchored_is_told_so_and_is_no_fault(full):
    code, said = verify()
    assert code == 0
    assert "nothing was anchored" in said


def test_a_changed_book_is_refused_at_the_bench_in_words(full, technician, client_of):
    """A torque of 60 N·m changed to 140 N·m is not shown, whatever the page."""
    with behind_the_guards():
        PLANTED["a torque in the book"][0]()
    content_store._book.cache_clear()  # as any process that has not read the book before
    folded._book_of.cache_clear()
    folded._table.cache_clear()
    folded._kept.clear()
    for page in ("bench", "order", "handback"):
        answer = client_of(technician).get(f"/visits/{full.pk}/{page}/")
        assert answer.status_code == 409, page
        assert "The kept service book was changed since it was kept." in answer.text
        assert "140" not in answer.text
    folded._book_of.cache_clear()
    folded._table.cache_clear()
    content_store._book.cache_clear()


def test_a_photo_that_was_altered_is_not_shown(full, technician, client_of):
    row = PhotoKept.objects.get()
    address = f"/photos/{row.pk}/"
    assert client_of(technician).get(address).status_code == 200
    photos.path_of(row.sha256).write_bytes(picture(61, 40).getvalue())
    answer = client_of(technician).get(address)
    assert (answer.status_code, "was changed since it was kept" in answer.text) == (409, True)


def test_the_rule_is_the_one_the_arrival_names(desk, full, wrench):
    """Changed in the row, it opens nothing and closes nothing."""
    before = store.state(full)
    Visit.objects.update(refuse_unproven_wrench=True)
    full.refresh_from_db()
    store.record(desk, full, "tightened", {"fastener": "wheel_bolts", "index": 1, "value_nm": 60.0})
    assert "fastener/wheel_bolts/1" in before.items
    assert "fastener/wheel_bolts/1" not in store.state(full).items


@pytest.mark.skipif(connection.vendor != "sqlite", reason="a database in one file")
def test_the_file_of_a_running_store_copied_alone_is_told(transactional_db, desk, visit, tmp_path):
    """Also where the copy cannot be written: SQLite can make no -shm beside it."""
    store.record(desk, visit, "noted", {"text": "acknowledged, and in the -wal only"})
    running = Path(connection.settings_dict["NAME"])
    assert running.with_name(f"{running.name}-wal").stat().st_size
    whole, alone = tmp_path / "whole", tmp_path / "alone"
    for folder in (whole, alone):
        folder.mkdir()
        shutil.copy(last_seals.file(), folder)
        shutil.copy(running, folder / "witnessmark.sqlite3")
    shutil.copy(f"{running}-wal", whole / "witnessmark.sqlite3-wal")
    (alone / "witnessmark.sqlite3-shm").mkdir()  # stands in the way, as a medium to read only does

    code, said = _run(whole)
    assert (code, "entries: 6, seals: 6" in said) == (0, True), said
    code, said = _run(alone)
    assert code == 1
    assert "is not here" in said or "not in the database" in said
    assert "-wal file?" in said


def _run(home: Path) -> tuple[int, str]:
    """`witnessmark verify` as it is run by hand, in a home folder."""
    code = "from witnessmark.cli.main import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, "verify"], capture_output=True, text=True, check=False,
        env={"WITNESSMARK_HOME": str(home), "PYTHONPATH": "src"},
    )  # fmt: skip
    return done.returncode, done.stdout + done.stderr
