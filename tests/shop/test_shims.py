"""Valve shims on a visit: worked out from what was read, written down, measured again before the starter."""

import pytest

from tests.fixtures.shop import new_machine
from tests.shipped_books.planned import book as demo_book
from witnessmark.ledger.gates import gate
from witnessmark.shop import content_store, store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import ShimStock
from witnessmark.shop.scenario import FILES
from witnessmark.shop.work.visit import read

# Invented figures: inlet 0.08 to 0.14, exhaust 0.13 to 0.19 mm.
MEASURED = {"inlet-1": "0.05", "inlet-2": "0.10", "exhaust-1": "0.22", "exhaust-2": "0.09"}
FITTED = {"inlet-1": "2.350", "inlet-2": "2.325", "exhaust-1": "2.250", "exhaust-2": "2.400"}
FIELDS = {f"measured-{v}": text for v, text in MEASURED.items()} | {
    f"fitted-{v}": text for v, text in FITTED.items()
}


@pytest.fixture
def single(desk):
    """A visit of the invented single with its valves taken on and read."""
    text = FILES.joinpath("books", "bromeck_410.toml").read_text(encoding="utf-8")
    stored = content_store.keep_book(desk.shop, demo_book("bromeck_410"), text)
    machine = new_machine(desk.shop, "12-SH-01", "Owner (invented)", stored)
    visit = store.open_visit(desk, machine)
    acts = [
        ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id)}),
        ("book_pinned", {"revision": stored.current.sha256}),
        ("job_taken", {"job": "valves"}),
        ("read", {"reading": "inlet_clearance", "step": "valves/read", "index": 1, "value": 0.05}),
    ]
    store.record_all(desk, visit, store.Ticket(str(new_id())), acts)
    return visit


@pytest.fixture
def box(shop):
    for size, count in ((2275, 1), (2325, 1)):
        ShimStock.objects.create(shop=shop, kind="9.48 mm", size_um=size, count=count)


def sizes():
    return {row.size_um: row.count for row in ShimStock.objects.all()}


def fit(client, visit, **more):
    seen = store.write_seen(store.heads(visit))
    form = {
        "step": "valves/set",
        "work": "1",
        "entry_id": store.ledger.new_entry_id(),
        "seen": seen,
    }
    return client.post(f"/visits/{visit.pk}/shims/fit/", form | FIELDS | more)


def test_what_was_read_on_the_card_stands_in_the_form(single, technician, client_of):
    said = client_of(technician).get(f"/visits/{single.pk}/shims/").content.decode()
    assert 'name="measured-inlet-1" value="0.05 mm"' in said


def test_the_plan_takes_from_the_box_and_from_each_other_before_it_buys(
    single, box, technician, client_of
):
    """Inlet 1 wants 2.26 to 2.32, exhaust 1 2.28 to 2.34, exhaust 2 2.30 to 2.36 mm: nothing is bought."""
    query = {"step": "valves/set", "work": "1"} | FIELDS
    said = client_of(technician).get(f"/visits/{single.pk}/shims/", query).content.decode()
    assert "Nothing to buy" in said
    assert "Exhaust 2: 2.400 out, 2.350 mm in" in said
    assert "It came out of Inlet 1" in said
    assert "Inlet 2: 2.325 mm stays" in said
    assert sizes() == {2275: 1, 2325: 1}


def test_without_a_box_the_sizes_to_buy_are_named(single, technician, client_of):
    query = {"step": "valves/set", "work": "1"} | FIELDS
    said = client_of(technician).get(f"/visits/{single.pk}/shims/", query).content.decode()
    assert "Buy 2.300 mm, 2.300 mm" in said  # for 2.29 and 2.31 mm, in steps of 0.025


def test_fitted_shims_are_an_entry_and_the_box_is_counted_anew(single, box, technician, client_of):
    assert fit(client_of(technician), single).status_code == 303
    fitted = read(single).state.shims["valves/set"].valves
    assert [(one.valve, one.was_mm, one.now_mm, one.source) for one in fitted] == [
        ("Inlet 1", 2.35, 2.275, "box"),
        ("Inlet 2", 2.325, 2.325, "stays"),
        ("Exhaust 1", 2.25, 2.325, "box"),
        ("Exhaust 2", 2.4, 2.35, "came out"),
    ]
    assert sizes() == {2275: 0, 2325: 0, 2250: 1, 2400: 1}


def test_a_double_tap_counts_the_box_once(single, box, technician, client_of):
    client, key = client_of(technician), store.ledger.new_entry_id()
    for _ in range(2):
        assert fit(client, single, entry_id=key).status_code == 303
    assert sizes() == {2275: 0, 2325: 0, 2250: 1, 2400: 1}


@pytest.mark.parametrize(
    ("field", "text", "said"),
    [
        ("fitted-inlet-1", "235", "reads like the stamp of 2.350 mm"),
        ("fitted-inlet-1", "", "Not measured"),
        ("measured-exhaust-2", "9", "cannot be"),
        ("measured-exhaust-2", "x", "does not start with a number"),
    ],
)
def test_what_cannot_be_is_told_at_the_valve_and_nothing_is_written(
    field, text, said, single, technician, client_of
):
    answer = fit(client_of(technician), single, **{field: text})
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert read(single).state.shims == {}


def test_the_starter_waits_until_it_was_turned_by_hand_and_measured_again(single, desk):
    store.record(desk, single, "done", {"step": "valves/set"})
    held = gate("starter", read(single).state)
    assert not held.passes
    assert any("turned twice by hand" in words for words in held.words)

    for reading, value in (("inlet_clearance_set", 0.10), ("exhaust_clearance_set", 0.30)):
        for index in (1, 2):
            body = {"reading": reading, "step": "valves/again", "index": index, "value": value}
            store.record(desk, single, "read", body)
    store.record(desk, single, "done", {"step": "valves/again"})
    held = gate("starter", read(single).state)
    assert any("Exhaust clearance as left" in words for words in held.words)  # 0.30 mm: outside

    for index in (1, 2):
        body = {
            "reading": "exhaust_clearance_set",
            "step": "valves/again",
            "index": index,
            "value": 0.16,
        }
        store.record(desk, single, "read", body)
    waits = [
        words
        for words in gate("starter", read(single).state).words
        if "alve" in words or "learance" in words
    ]
    assert waits == []


def test_the_card_that_starts_the_engine_says_what_it_waits_for(
    single, desk, technician, client_of
):
    """It is held; done all the same for a reason alone, which is kept with what was open."""
    store.record(desk, single, "done", {"step": "valves/set"})
    client = client_of(technician)
    said = client.get(f"/visits/{single.pk}/bench/", {"card": "engine_oil/run"}).content.decode()
    assert "Not to be started: 2 things are open." in said
    assert "Valve gear: turned twice by hand, without a hard stop" in said
