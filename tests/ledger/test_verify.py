"""Tampering: everything before the newest anchor is found, though the whole chain was made again."""

import pytest

from tests.ledger.bench import BO, VISIT, Bench, name, sealed_at
from witnessmark.ledger.anchor import (
    AnchorError,
    anchor,
    anchor_faults,
    anchored,
    lost,
    public_key,
    read_anchor,
    restored,
)
from witnessmark.ledger.entry import entry_hash
from witnessmark.ledger.seal import Head, seal, seal_hash
from witnessmark.ledger.system import append_anchor, load_key, new_key, read_anchors
from witnessmark.ledger.verify import VisitRow, verify


def sealed(entries):
    seals = []
    for minute, entry in enumerate(entries):
        seals.append(seal(entry, seals[-1] if seals else None, sealed_at(minute)))
    return seals


def rechained(entries):
    """As a forger with the database would: every device chain computed again over what is there."""
    last, forged = {}, []
    for entry in entries:
        before = last.get(entry.device)
        update = {
            "seq": before.seq + 1 if before else 1,
            "prev": entry_hash(before) if before else None,
        }
        last[entry.device] = entry.model_copy(update=update)
        forged.append(last[entry.device])
    return forged


@pytest.fixture
def bench():
    return Bench()


@pytest.fixture
def entries():
    bench = Bench()
    bench.done("wheel_off")
    bench.done("wheel_on", device="phone", author=BO)
    bench.tight_wheel()
    bench.say("walked_round", device="phone", author=BO)
    return bench.entries


def change(entries, n, **update):
    return [e.model_copy(update=update) if i == n else e for i, e in enumerate(entries)]


FORGERIES = {
    "changed": lambda e: change(e, 3, body=e[3].body | {"value_nm": 60.0}),
    "re-authored": lambda e: change(e, 3, author=BO),
    "dropped": lambda e: e[:3] + e[4:],
    "swapped": lambda e: [*e[:3], e[4], e[3], *e[5:]],
    "added": lambda e: [*e[:4], e[3].model_copy(update={"id": e[3].id[:-3] + "fff"}), *e[4:]],
}


def test_an_honest_record_has_no_fault(entries):
    assert verify(entries, sealed(entries)) == []


@pytest.mark.parametrize("forgery", sorted(set(FORGERIES) - {"swapped"}))
def test_a_forgery_under_the_old_seals_is_found(entries, forgery):
    """A swap changes nothing under the old seals: they, not the rows, hold the order."""
    assert verify(FORGERIES[forgery](entries), sealed(entries))


@pytest.mark.parametrize("forgery", sorted(FORGERIES))
def test_a_forgery_with_every_hash_computed_again_is_found_by_the_anchor(
    entries, forgery, tmp_path
):
    key, path = new_key(tmp_path / "key.pem"), tmp_path / "anchors.jsonl"
    append_anchor(path, anchor({VISIT: sealed(entries)[-1]}, [], sealed_at(60), key))
    heads = anchored(read_anchors(path))[VISIT]
    forged = rechained(FORGERIES[forgery](entries))
    remade = sealed(forged)
    assert verify(forged, remade) == [], "without the anchor it looks honest"
    assert verify(entries, sealed(entries), heads) == []
    assert verify(forged, remade, heads)


def test_what_does_not_hold_together_is_told_at_its_place(entries):
    """Sealed anew where nothing else is said, so that the seals have nothing to say."""
    seals = sealed(entries)
    third = f"entry {entries[3].id} (tightened)"
    dropped = entries[:3] + entries[4:]
    fourth, added = f"entry {entries[4].id} (tightened)", FORGERIES["added"](entries)
    again = [*seals, seal(entries[3], seals[-1], sealed_at(20))]
    torn = [*seals[:3], seals[3].model_copy(update={"prev": "0" * 64}), *seals[4:]]

    def told(*said, **more):
        return [(fault.place, fault.problem) for fault in verify(*said, **more)]

    assert told(dropped, sealed(dropped)) == [
        (fourth, "follows entry 3 of its device, which is not here")
    ]
    assert told(added, sealed(added)) == [
        (f"entry {added[4].id} (tightened)", "is a second entry 3 of its device")
    ]
    assert told(entries, again) == [(third, "has more than one seal")]
    assert told(entries, torn) == [
        (f"seal {n}", "does not follow the seal before it") for n in (4, 5)
    ]
    assert told(entries, seals[:3] + seals[4:]) == [
        *((f"seal {n}", f"stands where seal {n - 1} should") for n in range(5, 9)),
        (third, "has no seal: changed, or added"),
    ]
    kept_with = {n: entry.id for n, entry in enumerate(entries, 1)}
    assert told(entries, seals, entry_of=kept_with) == told(entries, seals, entry_of={1: "?"}) == []
    assert told(entries, seals, entry_of=kept_with | {4: entries[4].id}) == [
        ("seal 4", f"does not fit its entry {entries[4].id}")
    ]
    bad = change(entries, 7, body={"with": "gloves"})
    (unmade,) = told(bad, sealed(bad))
    assert unmade[0] == f"entry {entries[7].id} (walked_round)"
    assert unmade[1].startswith("could not have been made: walked_round.with: ")
    hashes = {entry.id: entry_hash(entry) for entry in entries}
    assert told(entries, seals, hashes=hashes) == told([], []) == []
    (fault,) = verify(entries, again)
    assert str(fault) == f"{third}: has more than one seal; {fault.expected}"
    assert fault.grave


def test_a_tail_cut_off_after_the_newest_anchor_is_not_found_and_one_before_it_is(
    entries, tmp_path
):
    seals = sealed(entries)
    one = anchor({VISIT: seals[3]}, [], sealed_at(60), new_key(tmp_path / "key.pem"))
    assert verify(entries[:5], seals[:5], anchored([one])[VISIT]) == []
    faults = verify(entries[:3], seals[:3], anchored([one])[VISIT])
    assert [(f.place, f.problem) for f in faults] == [("seal 4", "was anchored and is not here")]


def test_the_last_entry_of_a_device_is_held_by_its_seal_alone(entries):
    seals = sealed(entries)
    changed = verify(change(entries, -1 % len(entries), author=name("somebody")), seals)
    assert [f.problem for f in changed] == [
        "has no seal: changed, or added",
        "seals an entry that is not here as it was",
    ]
    assert [f.problem for f in verify(entries, seals[:-1])] == ["has no seal: changed, or added"]


def test_an_entry_that_follows_another_than_the_one_before_it_is_found(entries):
    """Sealed as it is, so the seals have nothing to say."""
    wrong = change(entries, -1 % len(entries), prev="f" * 64)
    [fault] = verify(wrong, sealed(wrong))
    assert "does not follow the entry before it on its device" in fault.problem


def test_only_a_restore_gives_anything_up(entries, tmp_path):
    """An anchor of another visit alone says nothing of this one."""
    key, seals = new_key(tmp_path / "key.pem"), sealed(entries)
    lines = [anchor({VISIT: seals[-1]}, [], sealed_at(60), key)]
    lines.append(anchor({name("other visit"): seals[0]}, lines, sealed_at(70), key))
    assert list(lost(lines)) == []


def test_an_entry_of_another_visit_is_found(entries):
    strange = change(entries, 0, visit=name("another visit"))
    faults = verify(strange, sealed(strange))
    assert any("belongs to another visit" in f.problem for f in faults)


def test_the_file_of_anchors_follows_line_by_line_and_cannot_be_signed_by_another_key(
    entries, tmp_path
):
    key, seals, path = new_key(tmp_path / "key.pem"), sealed(entries), tmp_path / "anchors.jsonl"
    for number in (2, 4, 4):
        so_far = read_anchors(path)
        if one := anchor({VISIT: seals[number - 1]}, so_far, sealed_at(60 + number), key):
            append_anchor(path, one)
    lines = read_anchors(path)
    assert [a.heads[VISIT].number for a in lines] == [2, 4], "nothing new, nothing signed"
    trusted = [public_key(load_key(tmp_path / "key.pem"))]
    assert list(anchor_faults(lines, trusted)) == []
    (cut,) = anchor_faults(lines[1:], trusted)
    assert (cut.place, cut.problem) == ("anchor 2", "stands where 1 should")
    moved = [lines[0], lines[1].model_copy(update={"prev": "0" * 64})]
    told = [fault.problem for fault in anchor_faults(moved, trusted)]
    assert told == ["does not follow the line before it", "its signature is not of what it says"]
    forger = new_key(tmp_path / "forger.pem")
    forged = anchor({VISIT: seals[0]}, [], sealed_at(62), forger)
    assert "not trusted" in str(list(anchor_faults([forged], trusted)))
    lied = forged.model_copy(update={"key": trusted[0]})
    assert "signature" in str(list(anchor_faults([lied], trusted)))


def test_what_a_restore_gave_up_is_told_and_what_it_kept_is_still_held(entries, tmp_path):
    """Anchored at 4 and 6, restored to 5, gone on to 8: only seal 6 as it was is no longer asked for."""
    key, seals = new_key(tmp_path / "key.pem"), sealed(entries)
    lines = []
    for number in (4, 6):
        lines.append(anchor({VISIT: seals[number - 1]}, lines, sealed_at(60 + number), key))
    other = [*entries[:5], *change(entries, 5, body={"text": "after"})[5:]]
    again = seals[:5]
    for minute, entry in enumerate(other[5:]):
        again.append(seal(entry, again[-1], sealed_at(90 + minute)))
    held = anchored(lines)[VISIT]
    assert [h.number for h in held] == [4, 6]
    lines.append(restored({VISIT: seals[4]}, lines, sealed_at(80), key, "monday"))
    lines.append(anchor({VISIT: again[-1]}, lines, sealed_at(120), key))
    for line in lines:
        append_anchor(tmp_path / "anchors.jsonl", line)
    lines = read_anchors(tmp_path / "anchors.jsonl")

    assert [h.number for h in anchored(lines)[VISIT]] == [4, 5, len(again)]
    told = [(one.source, one.visit, one.first, one.last) for one in lost(lines)]
    assert told == [("monday", VISIT, 6, 6)]
    trusted = [public_key(key)]
    assert list(anchor_faults(lines, trusted)) == []
    assert [
        f for f in verify(other, again, anchored(lines)[VISIT]) if "anchored" in f.problem
    ] == []
    assert any("anchored" in f.problem for f in verify(other, again, held)), "without the line"
    forged = restored({}, lines[:2], sealed_at(80), new_key(tmp_path / "forger.pem"), "monday")
    assert "not trusted" in str(list(anchor_faults([*lines[:2], forged], trusted)))
    lied = lines[2].model_copy(update={"heads": {}})
    assert "signature" in str(list(anchor_faults([*lines[:2], lied], trusted)))


def test_a_visit_that_a_backup_did_not_hold_is_lost_from_its_first_seal(entries, tmp_path):
    """Nothing of it is asked for any more; sealed anew afterwards, that is asked for."""
    key, seals, other = new_key(tmp_path / "key.pem"), sealed(entries), name("other visit")
    kept = name("kept visit")
    newest = {VISIT: seals[3], other: seals[1], kept: seals[2]}
    lines = [anchor(newest, [], sealed_at(60), key)]
    lines.append(restored({other: seals[0], kept: seals[2]}, lines, sealed_at(70), key, "sunday"))
    assert {visit: [h.number for h in heads] for visit, heads in anchored(lines).items()} == {
        other: [1],
        kept: [3, 3],
    }
    told = [(one.visit, one.first, one.last, one.source, one.at) for one in lost(lines)]
    at = sealed_at(70).isoformat(timespec="milliseconds")
    assert sorted(told) == sorted([(VISIT, 1, 4, "sunday", at), (other, 2, 2, "sunday", at)])
    lines.append(anchor({VISIT: seals[0]}, lines, sealed_at(80), key))
    assert [h.number for h in anchored(lines)[VISIT]] == [1]


def test_a_row_that_says_otherwise_than_the_arrival_is_found(bench):
    """Machine, number and rule of a visit stand in a row that may be changed, and in its arrival."""
    machine = name("machine")
    bench.say(
        "arrived", machine=machine, owner=name("owner"), number=7, refuse_unproven_wrench=True
    )
    row = VisitRow(bench.entries[0].shop, VISIT, 7, machine, refuse_unproven_wrench=True)
    entries = bench.entries
    assert verify(entries, sealed(entries), row=row) == []
    for field, other in {
        "machine": name("another"), "number": 8, "refuse_unproven_wrench": False,
        "shop": name("another shop"), "visit": name("another visit"),
    }.items():  # fmt: skip
        (fault,) = verify(entries, sealed(entries), row=row._replace(**{field: other}))
        assert fault.place == "its row", field
    old = Bench()
    old.say("arrived", machine=machine, owner=name("owner"))
    assert verify(old.entries, sealed(old.entries), row=row._replace(number=9)) == []


def test_a_seal_made_before_the_one_before_it_is_told_and_is_no_fault_by_itself(entries):
    """A server's clock may be put right; somebody who makes seals anew may slip there."""
    seals = []
    for minute, entry in zip((9, 3, 3, 4, 5, 6, 7, 8, 9, 10), entries, strict=False):
        seals.append(seal(entry, seals[-1] if seals else None, sealed_at(minute)))
    told = verify(entries[: len(seals)], seals)
    assert [(one.place, one.grave) for one in told] == [("seal 2", False)]
    assert "before seal 1" in told[0].problem


def test_a_seal_is_made_at_a_time_that_has_a_zone_and_kept_in_utc(entries):
    at = sealed_at(0)
    assert seal(entries[0], None, at.astimezone(entries[0].instant.tzinfo)) == seal(
        entries[0], None, at
    )
    with pytest.raises(ValueError, match="has no zone"):
        seal(entries[0], None, at.replace(tzinfo=None))


def test_an_entry_that_has_no_canonical_form_is_told_like_any_other(entries):
    spoilt = change(entries, 0, body={"step": "\ud800"})
    assert any("has no canonical form" in f.problem for f in verify(spoilt, sealed(entries)))


def test_what_was_acknowledged_and_is_cut_off_is_found(entries):
    seals = sealed(entries)
    newest = Head(number=len(seals), seal=seal_hash(seals[-1]))
    assert verify(entries, seals, acknowledged=newest) == []
    (cut,) = verify(entries[:-1], seals[:-1], acknowledged=newest)
    assert "was acknowledged and is not here: the last is" in cut.problem
    other = newest.model_copy(update={"seal": "0" * 64})
    (changed,) = verify(entries, seals, acknowledged=other)
    assert "is not the one that was acknowledged" in changed.problem


def test_a_line_that_the_disk_did_not_take_leaves_the_file_as_it_was(
    entries, tmp_path, monkeypatch
):
    key, path = new_key(tmp_path / "key.pem"), tmp_path / "anchors.jsonl"
    first = anchor({VISIT: sealed(entries)[0]}, [], sealed_at(60), key)
    append_anchor(path, first)
    before = path.read_bytes()

    def full(_file):
        raise OSError("no space left")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(OSError, match="no space left"):
        append_anchor(path, anchor({VISIT: sealed(entries)[1]}, [first], sealed_at(61), key))
    assert path.read_bytes() == before


def test_a_line_of_anchors_stays_below_64_megabytes():
    """Judged by us: the heads of 20,000 visits take 4."""
    longest = b" " * (64 * 1024 * 1024 - 1)
    for line, longer in ((longest, False), (longest + b" ", True)):
        with pytest.raises(AnchorError) as told:
            read_anchor(line, "a:1")
        assert ("64 MB or more" in told.value.problem) is longer


def test_a_key_is_read_by_its_owner_only_and_never_written_over(tmp_path):
    path = tmp_path / "key.pem"
    new_key(path)
    assert path.stat().st_mode & 0o777 == 0o600
    with pytest.raises(AnchorError, match="is there already"):
        new_key(path)
    path.write_text("nonsense")
    with pytest.raises(AnchorError, match="Ed25519 key in PEM"):
        load_key(path)
    (tmp_path / "anchors.jsonl").write_text("{}\n")
    with pytest.raises(AnchorError, match=r"anchors\.jsonl:1"):
        read_anchors(tmp_path / "anchors.jsonl")
