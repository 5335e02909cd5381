"""Entries: ids, hashes, and what is refused."""

import uuid
from datetime import datetime

import pytest

from tests.ledger.bench import ANN, SHOP, VISIT, ZONE, Bench, name
from witnessmark.ledger import ids
from witnessmark.ledger.bodies import BODIES
from witnessmark.ledger.entry import (
    EntryErrors,
    canonical,
    compose,
    entry_hash,
    read_body,
    read_entry,
)
from witnessmark.ledger.system import new_entry_id

MADE = {
    "shop": SHOP, "visit": VISIT, "device": name("tablet"), "author": ANN,
    "at": datetime(2026, 5, 4, 9, 30, tzinfo=ZONE), "entry_id": "018f0000-0000-7000-8000-000000000001",
}  # fmt: skip


def test_an_entry_id_is_the_published_example_of_version_7():
    """RFC 9562, appendix A.6: the milliseconds and random bits given there make the UUID given there."""
    made = new_entry_id(0x017F22E279B0, 0xCC3 << 62 | 0x18C4DC0C0C07398F)
    assert made == "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"
    assert uuid.UUID(new_entry_id()).version == 7


def test_the_hash_is_that_of_the_form_written_down_here():
    """Hash made by sha256sum from the canonical text, so that no later change can move it unseen."""
    entry = compose("walked_round", {}, **MADE)
    expected = (
        f'{{"at":"2026-05-04T09:30:00.000+02:00","author":"{ANN}","body":{{}},'
        f'"device":"{name("tablet")}","format":1,"id":"018f0000-0000-7000-8000-000000000001",'
        f'"kind":"walked_round","prev":null,"seen":{{}},"seq":1,"shop":"{SHOP}","visit":"{VISIT}"}}'
    )
    assert canonical(entry).decode() == expected
    assert entry_hash(entry) == "6d72df137631b8d5ba604f3dbd2bb4e736fa0cb42a42c92a9c171ba9a49048b4"


def test_an_entry_read_back_from_its_canonical_form_is_the_same_entry():
    bench = Bench()
    bench.done("wheel_off")
    tight = bench.tight("wheel_bolts", 1, value_nm=60.0, set_nm=60)
    again = read_entry(canonical(tight))
    assert again == tight
    assert entry_hash(again) == entry_hash(tight)


def test_nobody_records_an_override_for_somebody_else():
    """Refused for new entries; one that was stored before this rule is read as it stands."""
    said = {"item": "finding/x", "reason": "owner fetches it", "person": name("somebody else")}
    with pytest.raises(EntryErrors) as refused:
        compose("overridden", said, **MADE)
    (error,) = refused.value
    assert (error.place, error.expected) == (
        "overridden.person",
        "whoever signs it off as is records it",
    )

    own = compose("overridden", said | {"person": ANN}, **MADE)
    stored = own.model_dump(mode="json") | {"body": {**own.body, "person": said["person"]}}
    assert read_entry(stored).said.person == said["person"]


ADAPTER = {"reach_mm": 1, "angle_deg": 0, "arm_mm": 1}


@pytest.mark.parametrize(
    ("kind", "body", "place", "expected"),
    [
        ("donee", {}, "kind", 'did you mean "done"?'),
        ("done", {}, "done.step", "it is needed here"),
        ("done", {"step": "wheel_off", "stepp": 1}, "done.stepp", "how it is spelled"),
        ("tightened", {"fastener": "bolt", "value_nm": -3}, "tightened.value_nm", "more than 0"),
        ("tightened", {"fastener": "bolt", "clicked": True}, "tightened", "give set_nm"),
        ("tightened", {"fastener": "b", "wrench_proven": True}, "tightened", "give wrench"),
        ("read", {"reading": "pad", "step": "a/b"}, "read", "give value or words"),
        ("read", {"reading": "pad", "step": "a/b", "value": float("nan")}, "read.value", "finite"),
        ("answered", {"estimate": "b" * 64, "line": "brake", "verdict": "yes", "by": "Ann Smith",
                      "how": "in person"}, "answered.by", "its form is"),
        ("looked", {"items": ["second look/step/a"], "fallback":
                    {"apart": "break", "minutes": 10, "other_order": True, "looked_again": True}},
         "looked.fallback.minutes", "at least 15"),
        ("overridden", {"item": "x", "reason": "y", "person": ANN, "paper": "not to be ridden"},
         "overridden", "give signature"),
        ("figure_set", {"figure": "f", "source": "p. 3"}, "figure_set", "give value"),
        ("figure_set", {"figure": "f", "low": "1 mm"}, "figure_set", "give value"),
        ("figure_set", {"figure": "f", "high": "1 mm"}, "figure_set", "give value"),
        ("overridden", {"item": "x", "reason": "y", "person": ANN, "paper": "defect told and declined"},
         "overridden", "give signature"),
        ("read", {"reading": "pad", "step": "a/b", "value": 1, "words": "x"}, "read", "give value or words"),
        ("tightened", {"fastener": "b", "adapter": ADAPTER, "set_nm": 1}, "tightened", "give set_nm and value_nm"),
        ("tightened", {"fastener": "b", "adapter": ADAPTER, "value_nm": 1}, "tightened", "give set_nm and value_nm"),
        ("added", {"what": "pipe", "words": "x", "torque": "9 Nm"}, "added", "leave grade and torque out"),
        ("added", {"what": "pipe", "words": "x", "grade": "proven"}, "added", "leave grade and torque out"),
        ("added", {"what": "pipe", "words": "x", "bleed": True}, "added", "leave bleed out"),
        ("added", {"what": "fastener", "words": "x", "torque": "nine"}, "added", "write for instance"),
        ("complaint_answered", {"complaint": "x", "how": "nothing found", "lines": ["a"]},
         "complaint_answered", "or no lines"),
        ("complaint_answered", {"complaint": "x", "how": "put right"}, "complaint_answered", "give lines or text"),
    ],
)  # fmt: skip
def test_a_body_that_cannot_be_used_says_where_and_what_is_right(kind, body, place, expected):
    with pytest.raises(EntryErrors) as caught:
        compose(kind, body, **MADE)
    fault = next(e for e in caught.value.errors if e.place == place)
    assert expected in fault.expected


def test_a_fault_of_a_field_is_told_as_a_sentence_goes_on():
    with pytest.raises(EntryErrors) as told:
        read_body("done", {"stepp": 1})
    assert [str(one) for one in told.value] == [
        "done.step: field required; it is needed here",
        "done.stepp: extra inputs are not permitted; leave it out, or look at how it is spelled",
    ]


def test_an_entry_from_outside_that_has_no_canonical_form_is_refused():
    """Half a surrogate pair: text that no UTF-8 can hold, and so no hash either."""
    said = Bench().say("noted", text="x").model_dump(mode="json")
    assert read_entry(said).body["text"] == "x"
    with pytest.raises(EntryErrors, match=r"entry\.body: has no canonical form"):
        read_entry(said | {"body": {"text": "\ud800"}})


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"kind": "xyzzy"}, "kind"),
        ({"body": {"words": "x"}}, "noted.text"),
        ({"prev": "a" * 64}, "entry.prev"),
        ({"at": "yesterday"}, "entry.at"),
        ({"seen": {name("tablet"): 1}}, "entry.seen"),
        ({"id": "1"}, "entry.id"),
    ],
)
def test_an_entry_from_outside_that_could_not_have_been_made_says_where(change, place):
    said = compose("noted", {"text": "x"}, **MADE).model_dump(mode="json")
    with pytest.raises(EntryErrors) as told:
        read_entry(said | change)
    assert place in [error.place for error in told.value]


def test_an_entry_of_a_later_format_is_refused():
    said = compose("noted", {"text": "x"}, **MADE).model_dump(mode="json")
    with pytest.raises(EntryErrors, match="made by a newer version"):
        read_entry(said | {"format": said["format"] + 1})


def test_what_is_no_entry_at_all_is_refused_as_that():
    for raw in ("{", b"\xff", "[1]"):
        with pytest.raises(EntryErrors) as told:
            read_entry(raw)
        assert {one.place for one in told.value} == {"entry"}
    with pytest.raises(EntryErrors, match="is not JSON"):
        read_entry("{")


def test_an_id_is_taken_apart_as_it_was_put_together():
    """By kind, and by what it is about; a group shares all but the place."""
    told = {
        one: (one.kind, one.name, one.group)
        for one in (
            ids.fastener("nut", 3), ids.round("head", 2, 1), ids.circuit("brake", "firm"), ids.outside("pad", 2),
            ids.reading("brake/push_back", "pad"), ids.look("step", "brake/pump"), ids.conflict("answer", "brake"),
            ids.still("chain"), ids.job("brake"), ids.WALK,
        )
    }  # fmt: skip
    assert told == {
        "fastener/nut/3": ("fastener", "nut", ("fastener", "nut")),
        "round/head/2/1": ("round", "head", ("round", "head", "1")),
        "circuit/brake/firm": ("circuit", "brake", ("circuit/brake/firm",)),
        "outside/pad/2": ("outside", "pad", ("outside/pad/2",)),
        "reading/brake/push_back/pad": ("reading", "pad", ("reading/brake/push_back/pad",)),
        "second look/step/brake/pump": (
            "second look",
            "brake/pump",
            ("second look/step/brake/pump",),
        ),
        "conflict/answer/brake": ("conflict", "brake", ("conflict/answer/brake",)),
        "still/chain": ("still", "chain", ("still/chain",)),
        "job/brake": ("job", "brake", ("job/brake",)),
        "walk round": ("walk round", "", ("walk round",)),
    }
    assert (ids.fastener("nut", 3).place, ids.outside("pad", 2).place) == (3, 2)
    assert (ids.round("head", 2, 1).place, ids.round("head", 2, 1).round) == (2, 1)
    assert ids.circuit("brake", "firm").requirement == "firm"
    assert (ids.look("step", "a/b").about, ids.conflict("answer", "a").about) == ("step", "answer")
    step, access = ids.StepId("brake/pump"), ids.StepId("wheel_off")
    assert (step.job, step.operation, access.job, access.operation) == ("brake", "pump", "", "")


def test_a_kind_that_is_none_names_the_nearest_or_all_of_them():
    for kind, right in (("don", 'did you mean "done"?'), ("xyzzy", "kinds: ")):
        with pytest.raises(EntryErrors) as told:
            read_body(kind, {})
        assert f'"{kind}"' in str(told.value)
        assert right in str(told.value)


def test_time_without_offset_and_a_broken_chain_are_refused():
    with pytest.raises(EntryErrors, match="give local time with offset"):
        compose("noted", {"text": "x"}, **(MADE | {"at": datetime(2026, 5, 4)}))  # noqa: DTZ001
    good = compose("noted", {"text": "x"}, **MADE).model_dump(mode="json")
    with pytest.raises(EntryErrors, match="lacks one before it"):
        read_entry(good | {"seq": 2})
    with pytest.raises(EntryErrors, match="only other devices"):
        read_entry(good | {"seen": {good["device"]: 1}})
    with pytest.raises(EntryErrors, match="day and time that exist"):
        read_entry(good | {"at": "2026-02-30T09:00:00+02:00"})


def test_no_body_has_room_for_a_name():
    """People appear by id only: every field that means a person has the form of an id."""
    people = {"owner", "by", "person"}
    found = {
        (kind, field)
        for kind, body in BODIES.items()
        for field in body.model_json_schema().get("properties", {})
        if field in people
    }
    assert found == {
        ("arrived", "owner"),
        ("answered", "by"),
        ("limit_given", "by"),
        ("overridden", "person"),
        ("paid", "by"),  # by what: cash, card, transfer
    }
    for kind, field in found - {("paid", "by")}:
        assert "0-9a-f" in BODIES[kind].model_json_schema()["properties"][field]["pattern"]
