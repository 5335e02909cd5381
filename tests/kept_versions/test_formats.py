"""What was kept once is read for ever: a vector of every format there was, made by the version that had it.

A new kind of entry adds a line to the newest `entries-N.jsonl` (`python -m tests.kept_versions.add_entry KIND BODY`);
what stands here is never made anew. A new format adds files, and an upcast.
"""

import hashlib
import json
from pathlib import Path

import pytest
import rfc8785

from witnessmark import book, invoice, money
from witnessmark.kept_versions import KeptError, as_newest
from witnessmark.ledger.anchor import AnchorError, anchor_faults, anchored
from witnessmark.ledger.bodies import BODIES
from witnessmark.ledger.entry import EntryErrors, entry_hash, kept_hash, read_entry
from witnessmark.ledger.system import append_anchor, read_anchors
from witnessmark.shop import content_store
from witnessmark.shop.models import PlanKept
from witnessmark.shop.work import planning

HERE = Path(__file__).parent
LINES = [
    json.loads(line)
    for file in sorted(HERE.glob("entries-*.jsonl"))
    for line in file.read_text(encoding="utf-8").splitlines()
]
READERS = {
    "book": book.from_canonical,
    "document": invoice.from_canonical,
    "estimate": money.from_canonical,
}


def vector(name: str) -> bytes:
    return (HERE / name).read_bytes()


@pytest.mark.parametrize("line", LINES, ids=lambda line: line["entry"]["kind"])
def test_an_entry_kept_once_is_read_and_has_the_hash_it_had(line):
    entry = read_entry(line["entry"])
    assert entry_hash(entry) == line["hash"]
    assert kept_hash(entry, rfc8785.dumps(entry.body).decode()) == line["hash"]
    assert isinstance(entry.said, BODIES[entry.kind])


def test_every_kind_of_entry_has_its_vector():
    assert {line["entry"]["kind"] for line in LINES} == set(BODIES)


@pytest.mark.parametrize("what", READERS)
def test_a_document_kept_once_is_read_and_is_the_same_document(what):
    form = vector(f"{what}-1.json")
    again = READERS[what](form)
    assert (book.canonical(again) if what == "book" else again.canonical()) == form


def test_a_plan_kept_once_is_read_and_is_the_same_plan(shop):
    form = vector("plan-1.json")
    sha256 = content_store.keep(shop, PlanKept, form)
    plan = planning.of_hash(shop, sha256)
    assert (plan.canonical(), plan.hash) == (form, sha256)
    assert sha256 == hashlib.sha256(form).hexdigest()


def test_anchors_of_before_lines_had_a_kind_stay_genuine_and_are_followed(tmp_path):
    """What a line says is what was signed: a key that came later moves no signature."""
    path = tmp_path / "anchors.jsonl"
    path.write_bytes(vector("anchors-1.jsonl"))
    old = read_anchors(path)
    assert "kind" not in json.loads(vector("anchors-1.jsonl").splitlines()[0])
    assert list(anchor_faults(old, [old[0].key])) == []
    assert [head.number for (heads,) in [anchored(old).values()] for head in heads] == [3, 5]
    append_anchor(path, old[0])
    assert path.read_bytes().splitlines()[-1] == vector("anchors-1.jsonl").splitlines()[0]


def test_what_a_newer_version_made_is_refused_in_words(shop, tmp_path):
    """Each names what it is, and what to do; none is read as though it were an older one."""
    for what, read in READERS.items():
        newer = json.dumps(json.loads(vector(f"{what}-1.json")) | {"format": 2}).encode()
        with pytest.raises(KeptError, match=r"made by a newer version.*update") as error:
            read(newer)
        assert what in error.value.place
    plan = json.dumps(json.loads(vector("plan-1.json")) | {"format": 3}).encode()
    with pytest.raises(KeptError, match="made by a newer version"):
        planning.of_hash(shop, content_store.keep(shop, PlanKept, plan))
    with pytest.raises(EntryErrors, match="made by a newer version"):
        read_entry(LINES[0]["entry"] | {"format": 2})
    path = tmp_path / "anchors.jsonl"
    path.write_text('{"format": 2}\n')
    with pytest.raises(AnchorError, match="made by a newer version"):
        read_anchors(path)


def test_an_older_format_is_brought_to_the_newest_step_by_step():
    def named(said):
        return {**said, "format": 2, "name": said["title"]}

    def told(said):
        return {**said, "format": 3, "name": said["name"].upper()}

    old = {"format": 1, "title": "oil"}
    assert as_newest("x", old, [named, told])["name"] == "OIL"
    assert as_newest("x", {"format": 2, "name": "oil"}, [named, told])["name"] == "OIL"
    assert as_newest("x", {"format": 3, "name": "oil"}, [named, told])["name"] == "oil"
    assert old == {"format": 1, "title": "oil"}
    with pytest.raises(KeptError, match="its format is 4, this one reads up to 3"):
        as_newest("x", {"format": 4}, [named, told])


@pytest.mark.parametrize("said", [None, [], {}, {"format": "1"}, {"format": 0}, {"format": True}])
def test_what_does_not_say_its_format_is_refused(said):
    with pytest.raises(KeptError, match="does not say its format"):
        as_newest("x", said)
