"""What goes in once stays, in order, whoever sends it however often."""

import random
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.core.exceptions import BadRequest
from django.db import connection, transaction

from witnessmark.kept_versions import KeptError
from witnessmark.ledger.entry import EntryErrors
from witnessmark.ledger.system import new_entry_id
from witnessmark.shop import content_store, folded, projections, store
from witnessmark.shop.models import (
    Clash,
    Entry,
    EstimateKept,
    OpenItemRow,
    Seal,
    Visit,
    VisitSummary,
)

pytestmark = pytest.mark.postgres

WHEEL_OFF = {"step": "wheel_off"}


def rows() -> list[dict]:
    """Every row of every projection."""
    return [
        {"table": model.__name__, **row}
        for model in projections.PROJECTIONS
        for row in model.objects.order_by("pk").values()
    ]


def test_an_entry_is_sealed_and_projected_in_one_go(desk, visit):
    """After one entry the visit has one more seal, and the wheel's bolts stand open."""
    before = Seal.objects.filter(visit=visit).count()

    stored = store.record(desk, visit, "done", WHEEL_OFF)

    assert Seal.objects.filter(visit=visit).count() == before + 1
    assert stored.entry.kind == "done"
    open_now = set(OpenItemRow.objects.values_list("item", flat=True))
    assert {"fastener/wheel_bolts/1", "fastener/wheel_bolts/2", "condition/rear_wheel"} <= open_now
    assert VisitSummary.objects.get(visit=visit).open_items == len(open_now) - 1 == 4


def test_each_shop_keeps_its_own_and_reads_no_other_ones(shop, shop_next_door):
    """The same bytes have the same hash next door; kept once in each shop, and there for that shop alone."""
    sha256 = content_store.keep(shop, EstimateKept, b"{}")
    with pytest.raises(KeptError):
        content_store.content(shop_next_door.pk, EstimateKept, sha256)
    for _ in range(2):
        assert content_store.keep(shop_next_door, EstimateKept, b"{}") == sha256
    assert content_store.content(shop_next_door.pk, EstimateKept, sha256) == b"{}"
    assert set(EstimateKept.objects.values_list("shop")) == {(shop.pk,), (shop_next_door.pk,)}
    assert EstimateKept.objects.count() == 2


def test_the_same_form_twice_is_one_entry(desk, visit):
    ticket = store.Ticket(new_entry_id(), store.heads(visit))
    acts = [("done", WHEEL_OFF), ("noted", {"text": "bolt 2 was loose"})]
    first = store.record_all(desk, visit, ticket, acts)
    again = store.record_all(desk, visit, ticket, acts)

    assert [one.again for one in first + again] == [False, False, True, True]
    assert [one.entry for one in again] == [one.entry for one in first]
    assert Entry.objects.filter(visit=visit, kind__in=["done", "noted"]).count() == 2


def test_the_same_form_with_other_content_is_kept_apart(desk, visit):
    ticket = store.Ticket(new_entry_id(), store.heads(visit))
    store.record_all(desk, visit, ticket, [("noted", {"text": "pads 4 mm"})])
    before = store.state(visit)

    (answer,) = store.record_all(desk, visit, ticket, [("noted", {"text": "pads 3 mm"})])
    store.record_all(desk, visit, ticket, [("noted", {"text": "pads 3 mm"})])

    assert answer.entry.body["text"] == "pads 4 mm"
    assert [clash.body for clash in store.clashes(visit)] == ['{"step":null,"text":"pads 3 mm"}']
    assert store.state(visit) == before


def test_an_id_taken_in_another_visit_is_refused(desk, visit, machine):
    other = store.open_visit(desk, machine)
    taken = str(Entry.objects.filter(visit=visit).first().pk)

    with pytest.raises(BadRequest):
        store.record(desk, other, "noted", {"text": "x"}, entry_id=taken)


def test_one_wrong_entry_of_a_form_stores_none(desk, visit):
    ticket = store.Ticket(new_entry_id(), store.heads(visit))
    before = Entry.objects.count()

    with pytest.raises(EntryErrors):
        store.record_all(desk, visit, ticket, [("done", WHEEL_OFF), ("done", {"step": ""})])

    assert Entry.objects.count() == before


def test_two_people_on_one_card_both_stay_and_the_item_is_open_until_confirmed(
    desk, helper_desk, visit
):
    """Neither overwrites the other: both entries are kept, and the conflict is an open item."""
    store.record(desk, visit, "done", WHEEL_OFF)
    seen = store.heads(visit)
    tight = {"fastener": "wheel_bolts", "index": 1, "step": "wheel_on", "figure": "wheel_bolts"}
    store.record(desk, visit, "tightened", tight | {"value_nm": 60.0}, seen=seen)
    store.record(helper_desk, visit, "tightened", tight | {"value_nm": 60.0}, seen=seen)

    assert Entry.objects.filter(visit=visit, kind="tightened").count() == 2
    assert "fastener/wheel_bolts/1" in store.state(visit).items

    store.record(desk, visit, "confirmed", {"items": ["fastener/wheel_bolts/1"]})
    assert "fastener/wheel_bolts/1" not in store.state(visit).items


def test_a_form_cannot_claim_to_have_seen_what_is_not_stored(desk, helper_desk, visit):
    claimed = {str(desk.device): 9999, str(helper_desk.device): 7}
    stored = store.record(helper_desk, visit, "noted", {"text": "x"}, seen=claimed)

    assert stored.entry.seen == {str(desk.device): 5}
    assert store.state(visit).unreported == {}


def test_visits_are_numbered_without_gaps_and_a_repeated_arrival_is_one_visit(desk, machine):
    first = store.open_visit(desk, machine)
    again = store.open_visit(desk, machine, first.pk)
    second = store.open_visit(desk, machine)

    assert (first, first.number, second.number) == (again, 1, 2)


def test_rebuild_makes_every_row_again_identically(desk, helper_desk, visit, undecided):
    """All rows of all projections, of an open and of a returned visit, are equal before and after."""
    store.record(desk, visit, "book_pinned", {"revision": undecided.current.sha256})
    drained = {"fluid": "oil", "family": "engine oil", "volume_ml": 900.0, "into": "Oil drum"}
    store.record(desk, visit, "done", WHEEL_OFF | {"drained": [drained]})
    store.record(desk, visit, "tightened", {
        "fastener": "wheel_bolts", "index": 1, "set_nm": 60.0, "clicked": True, "wrench": new_entry_id()})  # fmt: skip
    store.record(helper_desk, visit, "read", {
        "reading": "tread", "step": "round/tread", "value": 1.2, "text": "1.2 mm"})  # fmt: skip
    store.record(desk, visit, "offered", {"estimate": "a" * 64, "lines": ["tyre", "lights"]})
    for line, verdict in (("tyre", "no"), ("lights", "yes")):
        store.record(desk, visit, "answered", {
            "estimate": "a" * 64, "line": line, "verdict": verdict,
            "by": str(visit.machine.owner_id), "how": "by telephone"})  # fmt: skip
    store.record(desk, visit, "paid", {
        "minor": 500, "currency": "EUR", "by": "cash", "on": "2026-11-30"})  # fmt: skip
    gone = store.open_visit(desk, visit.machine)
    store.record(desk, gone, "arrived", {
        "machine": str(visit.machine_id), "owner": str(visit.machine.owner_id)})  # fmt: skip
    store.record(desk, gone, "book_pinned", {"revision": store.state(visit).book})
    store.record(desk, gone, "job_taken", {"job": "lights"})
    store.record(desk, gone, "done", {"step": "lights/look"})
    store.record(desk, gone, "returned", {"keys": 2})
    before = rows()

    assert {row["table"] for row in before} == {m.__name__ for m in projections.PROJECTIONS}
    for table in projections.PROJECTIONS:
        table.objects.all().delete()
    first, second = store.rebuild()
    assert rows() == before
    assert list(store.rebuild(desk.shop, first)) == [second]
    assert rows() == before


def test_an_act_is_stored_while_a_rebuild_is_under_way(desk, helper_desk, visit, transactional_db):
    """Between two visits, and on the one just read, another connection stores without waiting."""

    def note() -> None:
        with connection.cursor() as cursor:  # refuse to wait
            cursor.execute("PRAGMA busy_timeout=0" if connection.vendor == "sqlite" else
                           "SET lock_timeout = '1ms'")  # fmt: skip
        for one in (visit, second):
            store.record(helper_desk, one, "noted", {"text": "meanwhile"})
        connection.close()

    second = store.open_visit(desk, visit.machine)
    store.record(desk, second, "noted", {"text": "before"})
    with ThreadPoolExecutor(1) as pool:
        under_way = store.rebuild()
        done = [next(under_way)]
        pool.submit(note).result()
        done += under_way
    before = rows()

    assert done == sorted([visit.pk, second.pk])
    assert VisitSummary.objects.get(visit=second).entries == 2
    assert list(store.rebuild()) == done
    assert rows() == before


def test_what_is_kept_of_a_visit_is_what_its_entries_say(desk, helper_desk, visit):
    """Step by step, from pages old and new, taken back and rolled back; and so are its rows."""
    chance, made = random.Random(7), []
    steps = ["wheel_off", "wheel_on", "tyre/swap", "lights/look"]
    for n in range(30):
        act = chance.choice([
            ("done", {"step": chance.choice(steps)}),
            ("tightened", {"fastener": "wheel_bolts", "index": chance.randint(1, 2), "set_nm": 60.0}),
            ("wont", {"step": chance.choice(steps), "what": "stuck", "safe_now": "yes"}),
            ("found", {"text": "a nick", "safety": True}),
            ("corrected", {"entry": chance.choice(made)} if made else None),
        ])  # fmt: skip
        kind, body = act if act[1] else ("noted", {"text": "nothing yet"})
        seen = chance.choice([None, {str(desk.device): 5}])
        with transaction.atomic():
            stored = store.record(chance.choice([desk, helper_desk]), visit, kind, body, seen=seen)
            transaction.set_rollback(n % 7 == 3)
        made += [] if n % 7 == 3 else [stored.entry.id]
        kept, afresh = folded.folded(visit), folded.afresh(visit)
        assert (kept.entries, kept.newest, kept.state) == (
            afresh.entries,
            afresh.newest,
            afresh.state,
        )
        assert folded.folded(visit) is kept  # nothing is read anew
    before = rows()
    assert list(store.rebuild())
    assert rows() == before


@pytest.mark.parametrize("meanwhile", ["nothing", "another entry", "the same form", "another row"])
def test_what_was_worked_out_ahead_is_stored_only_where_it_still_holds(
    desk, helper_desk, visit, meanwhile
):
    """An entry composed before the lock is stored as under it: behind all that came in, with the rows that follow."""
    store.reading(visit)
    ticket = store.Ticket(new_entry_id(), store.heads(visit))
    acts = [("done", WHEEL_OFF), ("noted", {"text": "bolt 2 was loose"})]
    made = store.ahead(desk, visit, ticket, acts)
    assert made is not None
    expected = len(folded.folded(visit).entries) + 2
    if meanwhile == "another entry":
        store.record(helper_desk, visit, "noted", {"text": "the left one too"})
        expected += 1
    elif meanwhile == "the same form":
        store.record_all(desk, visit, ticket, acts[:1])
    elif meanwhile == "another row":
        type(visit).objects.filter(pk=visit.pk).update(number=99)

    with transaction.atomic():
        locked = store.lock(desk, visit)
        before = folded.folded(locked)
        stored = store.record_onto(desk, locked, before, ticket, acts, made)

    assert (stored[0].entry is made.entries[0]) == (meanwhile == "nothing")
    kept, fresh = folded.folded(locked), folded.afresh(locked)
    assert (kept.entries, kept.newest, kept.state) == (fresh.entries, fresh.newest, fresh.state)
    assert len(kept.entries) == expected
    # a row changed behind its entries is a fault; what is kept follows from the entries all the same
    assert bool(list(store.faults())) == (meanwhile == "another row")
    wanted = rows()
    list(store.rebuild())
    assert rows() == wanted


def test_what_cannot_be_worked_out_ahead_is_told_under_the_lock(desk, visit):
    store.reading(visit)
    ticket = store.Ticket(new_entry_id(), store.heads(visit))
    assert store.ahead(desk, visit, ticket, [("done", {"step": 1})]) is None
    with pytest.raises(EntryErrors):
        store.record_all(desk, visit, ticket, [("done", {"step": 1})])


def test_a_visit_moves_through_its_stages(desk, visit):
    """Each page is the next one exactly when the one before has done its part."""

    def stage() -> str:
        return VisitSummary.objects.get(visit=visit).stage

    assert stage() == "price"
    store.record(desk, visit, "offered", {"estimate": "b" * 64, "lines": ["lights"]})
    assert stage() == "price"
    store.record(desk, visit, "answered", {
        "estimate": "b" * 64, "line": "lights", "verdict": "yes",
        "by": str(visit.machine.owner_id), "how": "in person"})  # fmt: skip
    store.record(desk, visit, "job_left", {"job": "tyre"})
    assert stage() == "order"
    store.record(desk, visit, "plan_taken", {"plan": "c" * 64})
    assert stage() == "bench"
    store.record(desk, visit, "done", {"step": "lights/look"})
    assert stage() == "handback"
    store.record(desk, visit, "returned", {})
    assert stage() == "papers"


def test_verify_finds_nothing_in_what_the_store_wrote(desk, helper_desk, visit):
    store.record(helper_desk, visit, "noted", {"text": "as found: 60.50 mm"})

    assert list(store.faults()) == []
    assert Visit.objects.count() == 1
    assert Clash.objects.count() == 0


def test_many_at_once_lose_nothing(desk, helper_desk, visit, transactional_db):
    """Two devices, eight threads, each its own connection: every entry is stored and sealed once."""

    def note(number: int) -> None:
        who = desk if number % 2 else helper_desk
        store.record(who, visit, "noted", {"text": f"note {number}"})
        connection.close()

    before = Entry.objects.count()
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(note, range(24)))

    assert Entry.objects.count() == before + 24
    assert list(store.faults()) == []
    seals = Seal.objects.filter(visit=visit).order_by("number").values_list("number", flat=True)
    assert list(seals) == list(range(1, before + 25))
    assert len(store.state(visit).remarks) == 24
