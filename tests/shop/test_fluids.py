"""Bottles and waste at the bench and in the store room: what is allowed, what is refused, where it went."""

import csv
import io

import pytest

from tests.fixtures.shop import new_machine
from tests.shipped_books.planned import book as demo_book
from tests.shop.day import Person
from witnessmark.shop import content_store, store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import StockPack, WasteContainer, WasteMove, WasteRow
from witnessmark.shop.scenario import FILES
from witnessmark.shop.work import waste
from witnessmark.shop.work.paperwork.language_and_heading import Pen
from witnessmark.shop.work.paperwork.service_record import service_record
from witnessmark.shop.work.visit import read

CARD = "engine_oil/fill_first"


@pytest.fixture
def tourer(desk):
    """A visit of the invented tourer with its oil change taken on."""
    text = FILES.joinpath("books", "quandle_t9.toml").read_text(encoding="utf-8")
    stored = content_store.keep_book(desk.shop, demo_book("quandle_t9"), text)
    machine = new_machine(desk.shop, "12-FL-01", "Owner (invented)", stored)
    visit = store.open_visit(desk, machine)
    acts = [
        ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id)}),
        ("book_pinned", {"revision": stored.current.sha256}),
        ("job_taken", {"job": "engine_oil"}),
        ("job_taken", {"job": "front_brake_fluid"}),
    ]
    store.record_all(desk, visit, store.Ticket(str(new_id())), acts)
    return visit


@pytest.fixture
def shelf(shop):
    def pack(name, grade, rating="", family="engine oil"):
        return StockPack.objects.create(
            shop=shop, family=family, name=name, grade=grade, rating=rating, size_ml=4000
        )

    return {
        "car": pack("Car oil", "SAE 5W-40", "API SN"),
        "expected": pack("Right oil", "SAE 5W-40", "JASO MA2"),
        "silicone": pack("Silicone", "DOT 5", family="silicone brake fluid"),
        "dot4": pack("Fluid", "DOT 4", family="glycol brake fluid"),
    }


@pytest.fixture
def drums(shop):
    make = WasteContainer.objects.create
    return {
        "oil": make(shop=shop, name="Oil drum", stream="used oil", capacity_ml=60_000),
        "brake": make(shop=shop, name="Brake can", stream="brake fluid", capacity_ml=5_000),
    }


def tap(client, visit, card, **fields):
    bench = f"/visits/{visit.pk}/bench/"
    if card == "engine_oil/drain":
        fields["reading-oil_plug_look-1"] = "fine paste"
    form = Person(client).form(f"{bench}?card={card}", f"{bench}confirm/")
    return client.post(f"{bench}confirm/", form | {"done": "1"} | fields)


def page(client, visit, card):
    return client.get(f"/visits/{visit.pk}/bench/", {"card": card}).content.decode()


def test_the_card_names_the_allowed_bottle_and_why_the_other_is_refused(
    tourer, shelf, technician, client_of
):
    said = page(client_of(technician), tourer, CARD)
    assert '<p class="lead">Right oil (SAE 5W-40, JASO MA2)</p>' in said
    assert "Refused: no clutch rating on it: the clutch may slip" in said


def test_one_tap_is_enough_and_the_entry_names_the_bottle(tourer, shelf, technician, client_of):
    assert tap(client_of(technician), tourer, CARD).status_code == 303
    poured = read(tourer).state.pours
    assert [(one.bottle, one.refused, one.volume_ml) for one in poured] == [
        ("Right oil (SAE 5W-40, JASO MA2)", (), 3500)
    ]


def test_a_refused_bottle_needs_a_reason_and_the_reason_is_kept(
    tourer, shelf, technician, client_of
):
    client, car = client_of(technician), {"bottle-engine_oil": str(shelf["car"].pk)}
    answer = tap(client, tourer, CARD, **car)
    assert answer.status_code == 422
    assert "Choose another, or give the reason." in answer.content.decode()
    assert read(tourer).state.done == ()

    reason = {"because-engine_oil": "Owner brought it, clutch is dry on this one"}
    assert tap(client, tourer, CARD, **car, **reason).status_code == 303
    poured = read(tourer).state.pours[0]
    assert poured.refused == ("no clutch rating on it: the clutch may slip",)
    assert poured.because == reason["because-engine_oil"]
    assert "used because: Owner brought it" in read(tourer).state.history[-1].words


def test_silicone_never_gets_into_a_glycol_circuit_for_any_reason(
    tourer, shelf, technician, client_of
):
    said = {"bottle-brake_fluid": str(shelf["silicone"].pk), "because-brake_fluid": "all there is"}
    answer = tap(client_of(technician), tourer, "front_brake_fluid/flush", **said)
    assert answer.status_code == 422
    assert (
        "Silicone never mixes with glycol: the brake may fail. It must not be used."
        in answer.content.decode()
    )
    assert read(tourer).state.done == ()


def test_what_is_drained_goes_into_the_container_of_its_family_by_itself(
    tourer, drums, technician, client_of
):
    client = client_of(technician)
    tap(client, tourer, "engine_oil/drain")
    flushed = {"drained-brake_fluid": "230 ml", "loose-because": "bleeders wait for their caps"}
    tap(client, tourer, "front_brake_fluid/flush", **flushed)
    rows = {row.family: (row.container, row.volume_ml) for row in WasteRow.objects.all()}
    assert rows == {
        "engine oil": (drums["oil"].pk, 4500),
        "glycol brake fluid": (drums["brake"].pk, 230),
    }


def test_brake_fluid_into_the_oil_drum_is_refused_in_words_and_nothing_is_lost(
    tourer, drums, technician, client_of
):
    said = {"into-brake_fluid": str(drums["oil"].pk), "drained-brake_fluid": "230 ml"}
    answer = tap(client_of(technician), tourer, "front_brake_fluid/flush", **said)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "never goes into used oil" in text
    assert 'value="230 ml"' in text
    assert not WasteRow.objects.exists()


def test_taken_back_at_the_bench_it_is_out_of_the_container_again(
    tourer, drums, technician, client_of
):
    client = client_of(technician)
    tap(client, tourer, "engine_oil/drain")
    assert waste.level_of(drums["oil"]) == 4500
    entry = [one.entry for one in read(tourer).state.history[-2:]]  # reading and drained
    seen = store.write_seen(store.heads(tourer))
    form = {"entry": entry, "entry_id": store.ledger.new_entry_id(), "seen": seen}
    client.post(f"/visits/{tourer.pk}/bench/undo/", form)
    assert waste.level_of(drums["oil"]) == 0


def test_the_level_is_the_sum_of_what_went_in_less_what_was_collected(
    tourer, drums, technician, client_of
):
    """From the bench and by hand; the same after every projection is made again."""
    client, drum = client_of(technician), f"/shop/waste/{drums['oil'].pk}"
    tap(client, tourer, "engine_oil/drain")
    put = {"family": "gear oil", "volume": "0.7 L", "on": "2026-01-10", "note": "tray"}
    assert client.post(f"{drum}/put-in/", put).status_code == 303
    took = {"collector": "Collector (invented)", "volume": "5 L", "on": "2026-01-11"}
    assert client.post(f"{drum}/collected/", took).status_code == 303
    assert waste.level_of(drums["oil"]) == 200
    list(store.rebuild())
    assert waste.level_of(drums["oil"]) == 200
    table = csv.DictReader(io.StringIO(client.get("/shop/waste/log.csv").content.decode()))
    assert sum(float(line["millilitres"]) for line in table) == 200


@pytest.mark.parametrize("family", ["glycol brake fluid", "coolant"])
def test_by_hand_neither_is_put_into_used_oil(family, drums, technician, client_of):
    put = {"family": family, "volume": "1 L", "on": "2026-01-10"}
    answer = client_of(technician).post(f"/shop/waste/{drums['oil'].pk}/put-in/", put)
    assert answer.status_code == 422
    assert "never goes into used oil" in answer.content.decode()
    assert not WasteMove.objects.exists()


def test_no_more_is_collected_than_ever_went_in(drums, technician, client_of):
    took = {"collector": "Collector", "volume": "5 L", "on": "2026-01-11"}
    answer = client_of(technician).post(f"/shop/waste/{drums['oil'].pk}/collected/", took)
    assert answer.status_code == 422
    assert "0 L went in" in answer.content.decode()


def test_a_pack_with_a_grade_that_does_not_exist_is_told_with_those_that_do(
    tourer, technician, client_of
):
    pack = {
        "holds": "engine oil/",
        "name": "Odd",
        "grade": "SAE 10W-45",
        "rating": "",
        "size_ml": "1 L",
    }
    answer = client_of(technician).post("/shop/packs/new/", pack)
    assert answer.status_code == 422
    assert "grades of SAE J300 are" in answer.content.decode()
    assert not StockPack.objects.filter(name="Odd").exists()


def test_the_service_record_names_bottle_reason_and_container(
    tourer, shelf, drums, technician, client_of, desk
):
    client = client_of(technician)
    tap(client, tourer, "engine_oil/drain")
    tap(client, tourer, "engine_oil/drain", **{"short-wait": "no drop for a minute"})
    said = {"bottle-engine_oil": str(shelf["car"].pk), "because-engine_oil": "owner insists"}
    tap(client, tourer, CARD, **said)
    record = service_record(Pen(desk, read(tourer), {}))
    lines = next(one.lines for one in record.done if one.lines)
    assert "Drained: engine oil into Oil drum, amount not measured" in lines
    assert any("from Car oil (SAE 5W-40, API SN)" in line for line in lines)
    assert any(line.endswith("the clutch may slip). Used because: owner insists") for line in lines)
