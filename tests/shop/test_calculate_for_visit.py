"""A calculator opens with the machine's own values, each with where it comes from; what is not known stays empty."""

from uuid import uuid4

import pytest
from playwright.sync_api import expect

from screenshots import SIZES, faults
from tests.fixtures.shop import new_machine
from tests.shipped_books.planned import book as demo_book
from tests.sweep import either_size
from witnessmark.calculators import CALCULATORS
from witnessmark.shop import content_store, store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import ShimStock
from witnessmark.shop.pages.calculate.filling import (
    AT_LEAST,
    FASTENERS,
    FLUIDS,
    READINGS,
)
from witnessmark.shop.pages.calculate.place import CARRIED
from witnessmark.shop.scenario import FILES

TYRE = "120/70 ZR 17 M/C (58W) DOT 2319"


def put(desk, visit, *acts):
    store.record_all(desk, visit, store.Ticket(str(new_id())), list(acts))


def read(reading, step, value, text, index=1):
    return "read", {"reading": reading, "step": step, "index": index, "value": value, "text": text}


@pytest.fixture
def single(desk):
    """The invented single, in with its tyres read off; nothing is read yet."""
    text = FILES.joinpath("books", "bromeck_410.toml").read_text(encoding="utf-8")
    stored = content_store.keep_book(desk.shop, demo_book("bromeck_410"), text)
    machine = new_machine(desk.shop, "12-SH-01", "Owner (invented)", stored)
    visit = store.open_visit(desk, machine)
    put(
        desk, visit,
        ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id), "look": {"tyre_front": TYRE}}),
        ("odometer", {"km": 12000.0, "text": "12000 km"}),
        ("book_pinned", {"revision": stored.current.sha256}),
        *(("job_taken", {"job": job}) for job in ("valves", "battery")),
    )  # fmt: skip
    return visit


@pytest.fixture
def seen(desk, single):
    """With battery and inlet valves read."""
    put(
        desk, single,
        read("battery_rest", "battery/test", 12.41, "12.41 V"),
        read("inlet_clearance", "valves/read", 0.05, "0.05 mm", 1),
        read("inlet_clearance", "valves/read", 0.10, "0.10 mm", 2),
    )  # fmt: skip
    return single


@pytest.fixture
def box(shop):
    for kind, size, count in (("9.48 mm", 2275, 2), ("9.48 mm", 2400, 1), ("9.48 mm", 2500, 0)):
        ShimStock.objects.create(shop=shop, kind=kind, size_um=size, count=count)


def form_at(client, visit, name, **query):
    answer = client.get(f"/visits/{visit.pk}/calculate/{name}/", query)
    assert answer.status_code == 200
    return answer.context["form"]


def filled(form):
    return {name: form[name].value() for name in form.fields if form[name].value()}


def test_what_is_mapped_is_there():
    """The table names calculators and fields that exist; no field is called as the address calls something else."""
    for takes in READINGS:
        fields = {asked.name for asked in CALCULATORS[takes.calculator].asked}
        assert {takes.value, takes.least, takes.resolution} - {""} <= fields
    assert {*FASTENERS, *FLUIDS, *AT_LEAST} <= CALCULATORS.keys()
    for calculator in CALCULATORS.values():
        assert {*CARRIED, "q"} & {asked.name for asked in calculator.asked} == set()


def test_the_voltage_just_read_stands_in_the_field_with_where_it_comes_from(
    seen, technician, client_of
):
    form = form_at(client_of(technician), seen, "battery-charge")
    assert filled(form) == {"voltage": "12.41 V"}
    assert "From the visit of" in form["voltage"].help_text
    assert "Battery at rest, read" in form["voltage"].help_text


def test_a_value_that_was_changed_no_longer_says_where_it_came_from(seen, technician, client_of):
    client, put_in = client_of(technician), {"voltage": "12.41 V", "kind": "flooded"}
    assert "origin" in form_at(client, seen, "battery-charge", **put_in)["voltage"].help_text
    put_in["voltage"] = "12.3 V"
    assert "origin" not in form_at(client, seen, "battery-charge", **put_in)["voltage"].help_text


def test_shims_come_with_clearances_limits_and_the_box_and_ask_for_what_is_fitted(
    seen, box, technician, client_of
):
    form = form_at(client_of(technician), seen, "shims", values="inlet")
    assert filled(form) == {
        "valves": "Inlet 1: 0.05 mm \nInlet 2: 0.10 mm ",
        "least": "0.08 mm", "most": "0.14 mm", "step": "0.025 mm",
        "box": "2.275\n2.275\n2.400",
    }  # fmt: skip
    assert "box of shims: 9.48 mm" in form["box"].help_text


def test_shims_work_out_once_the_fitted_ones_are_typed(seen, box, technician, client_of):
    client = client_of(technician)
    put_in = filled(form_at(client, seen, "shims", values="inlet")) | {
        "valves": "Inlet 1: 0.05 mm 2.350\nInlet 2: 0.10 mm 2.325"
    }
    answer = client.get(f"/visits/{seen.pk}/calculate/shims/", {"values": "inlet", **put_in})
    assert answer.context["answered"].said == "Nothing to buy."


def test_the_shops_own_box_stands_in_the_form_without_a_visit_too(box, technician, client_of, shop):
    client = client_of(technician)
    form = client.get("/calculate/shims/").context["form"]
    assert filled(form) == {"box": "2.275\n2.275\n2.400"}
    ShimStock.objects.create(shop=shop, kind="29 mm", size_um=3000, count=1)
    page = client.get("/calculate/shims/")  # which box is asked, not guessed
    assert filled(page.context["form"]) == {}
    assert [words for words, _key, _address in page.context["others"]] == ["29 mm", "9.48 mm"]


def test_without_a_box_none_is_proposed(technician, client_of):
    assert filled(client_of(technician).get("/calculate/shims/").context["form"]) == {}


def test_a_tyre_is_told_as_it_was_read_off_at_arrival(single, technician, client_of):
    client = client_of(technician)
    assert filled(form_at(client, single, "tyre-marking")) == {"marking": TYRE}
    assert filled(form_at(client, single, "tyre-age")) == {"code": "2319"}


def test_what_was_typed_comes_back_as_text(desk, single, technician, client_of):
    put(desk, single, ("codes_read", {"moment": "before the work", "pasted": "<b>P0301</b>",
                                      "codes": [{"code": "P0301"}]}))  # fmt: skip
    page = client_of(technician).get(f"/visits/{single.pk}/calculate/trouble-codes/").content
    assert b"<b>P0301" not in page
    assert b"&lt;b&gt;P0301" in page


def test_a_figure_of_the_card_in_hand_is_put_in_with_its_source(visit, technician, client_of):
    client = client_of(technician)
    assert filled(form_at(client, visit, "torque-check")) == {}  # no card, no figure
    form = form_at(client, visit, "torque-check", card="wheel_on")
    assert filled(form) == {"torque": "60 N·m", "kind": "bolt"}
    assert "Brannock T9 workshop manual (invented), page 12" in form["torque"].help_text


def test_the_page_of_the_visit_lists_what_can_be_filled(seen, technician, client_of):
    page = client_of(technician).get(f"/visits/{seen.pk}/calculate/")
    known = {(title, about) for title, about, _address in page.context["known"]}
    assert ("Charge of a battery at rest", "Battery at rest") in known
    assert ("Tyre marking", "Front tyre") in known
    assert not [about for _title, about in known if about == "Rear tyre"]


def test_nothing_read_yet_leaves_the_fields_empty(single, technician, client_of):
    assert filled(form_at(client_of(technician), single, "battery-charge")) == {}
    assert filled(form_at(client_of(technician), single, "shims")) == {}


def test_a_machine_without_a_book_fills_what_stands_on_it(desk, technician, client_of, shop):
    machine = new_machine(shop, "99-NB-01", "Owner (invented)")
    visit = store.open_visit(desk, machine)
    put(desk, visit, ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id)}))
    client = client_of(technician)
    assert filled(form_at(client, visit, "identification-number")) == {"number": "INV99-NB-01"}
    assert filled(form_at(client, visit, "battery-charge")) == {}
    assert filled(form_at(client, visit, "torque-check", card="no/such")) == {}


def test_a_visit_handed_back_still_tells_what_was_read(desk, seen, technician, client_of):
    store.record(desk, seen, "returned", {"keys": 1})
    assert filled(form_at(client_of(technician), seen, "battery-charge")) == {"voltage": "12.41 V"}


def test_wear_takes_the_reading_before_and_says_of_which_visit(desk, visit, technician, client_of):
    """From 4 mm to 2.8 mm in 3000 km, least 1.6 mm: another 3000 km."""
    put(desk, visit, read("tread", "tyre/swap", 4.0, "4 mm"))
    store.record(desk, visit, "returned", {"keys": 2})
    machine = visit.machine
    later = store.open_visit(desk, machine)
    put(
        desk, later,
        ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id)}),
        ("odometer", {"km": 51210.0, "text": "51210 km"}),
        ("book_pinned", {"revision": machine.book.current.sha256}),
        ("job_taken", {"job": "tyre"}),
        read("tread", "tyre/swap", 2.8, "2.8 mm"),
    )  # fmt: skip
    client = client_of(technician)
    form = form_at(client, later, "wear-forecast")
    assert "From visit 1, read on" in form["then"].help_text
    assert "From visit 2, read on" in form["now"].help_text
    answer = client.get(f"/visits/{later.pk}/calculate/wear-forecast/", filled(form))
    assert answer.context["answered"].said == "About 3000 km until the limit."
    assert (
        filled(form_at(client, visit, "wear-forecast")) == {}
    )  # the later one had not been read then


@pytest.mark.parametrize("path", ["", "battery-charge/"])
def test_another_shops_visit_and_one_that_is_not_there_are_not_found(
    path, seen, stranger, client_of
):
    client = client_of(stranger)
    assert client.get(f"/visits/{seen.pk}/calculate/{path}").status_code == 404
    assert client.get(f"/visits/{uuid4()}/calculate/{path}").status_code == 404


def test_a_helper_may_calculate_and_nothing_is_written(
    seen, helper, client_of, django_assert_max_num_queries
):
    client = client_of(helper)
    with django_assert_max_num_queries(40) as asked:
        client.get(
            f"/visits/{seen.pk}/calculate/battery-charge/",
            {"voltage": "12.41 V", "kind": "flooded"},
        )
    assert [q["sql"] for q in asked.captured_queries if not q["sql"].startswith("SELECT")] == []


def test_the_way_back_leads_to_where_one_was_and_to_no_other_site(seen, technician, client_of):
    client, here = client_of(technician), f"/visits/{seen.pk}/calculate/battery-charge/"
    back = f"/visits/{seen.pk}/needs/?x=1"
    assert client.get(here, {"back": back}).context["place"].back == back
    bench = f"/visits/{seen.pk}/bench/"
    for other in ("https://elsewhere.example/", "//elsewhere.example/", ""):
        assert client.get(here, {"back": other}).context["place"].back == bench
    form = client.get(here, {"back": back, "card": "valves/read"})
    assert form.context["hidden"]["back"] == back  # goes along with the form
    assert form.context["hidden"]["card"] == "valves/read"


def test_the_menu_of_a_visits_page_leads_to_its_machine(seen, technician, client_of):
    page = client_of(technician).get(f"/visits/{seen.pk}/needs/").content.decode()
    assert f'href="/visits/{seen.pk}/calculate/?back=' in page


@pytest.mark.browser
@either_size
def test_a_person_calculates_at_the_bench_with_what_was_read_and_goes_back(
    size, page, live_server, sign_in, technician, seen
):
    """Bench, More, Calculate, the battery; the value stands there, says why, and the answer comes; back to the card."""
    page.set_viewport_size(SIZES[size])
    sign_in(page, technician)
    page.goto(f"{live_server.url}/visits/{seen.pk}/bench/?card=battery%2Ftest")
    page.locator("details.all > summary").click()
    page.locator("p.beyond").get_by_role("link", name="Calculate", exact=True).click()
    page.wait_for_url("**/calculate/*")
    assert faults(page) == []
    page.get_by_role("link", name="Charge of a battery at rest").first.click()
    expect(page.get_by_label("Voltage at rest", exact=True)).to_have_value("12.41 V")
    expect(page.get_by_text("Battery at rest, read")).to_be_visible()
    assert faults(page) == []
    page.get_by_label("flooded", exact=True).check()
    page.get_by_role("button", name="Calculate").click()
    expect(page.locator(".said")).to_be_in_viewport()
    assert faults(page) == []
    page.get_by_role("link", name="Back", exact=True).click()
    expect(page).to_have_url(f"{live_server.url}/visits/{seen.pk}/bench/?card=battery%2Ftest")
