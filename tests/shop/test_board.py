"""The day's machines together: who does what when, when each is ready; people, hours and lifts set once."""

import re

import pytest

from tests.fixtures.shop import SMALL_BOOK, new_machine
from tests.fixtures.slack import chain_in, slack_file
from witnessmark.book import load_book_text
from witnessmark.shop import content_store, store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import Member, Shop, StockPack
from witnessmark.shop.work.visit import read


def words(page) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.content.decode()))


@pytest.fixture
def tab(technician, client_of):
    return client_of(technician)


@pytest.fixture
def two_machines(desk, shop, small_book, visit):
    """Beside the first one a second machine, wanted back yesterday, its tyre taken on."""
    machine = new_machine(shop, "77-ZB-02", "Odile Marsh", small_book)
    other = store.open_visit(desk, machine)
    store.record_all(desk, other, store.Ticket(str(new_id())), [
        ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id), "keys": 1,
                     "complaint": "tyre", "wanted_by": "2026-11-24"}),
        ("odometer", {"km": 9100.0, "text": "9100 km"}),
        ("book_pinned", {"revision": small_book.current.sha256}),
        ("job_taken", {"job": "tyre"}),
    ])  # fmt: skip
    return visit, other


def test_two_people_do_two_machines_at_once(tab, two_machines, helper):
    """47 and 44 minutes of work: one after the other would be an hour and a half."""
    page = tab.get("/board/sheet/", {"begin": "2026-11-25T09:00"})
    said = words(page)
    over = re.search(r"All ready at (\d\d):(\d\d)", said)
    assert (int(over[1]), int(over[2])) < (10, 0)
    assert re.search(
        r"Brannock T9 · 77-ZB-02 Change the rear tyre Between \d\d:\d\d and \d\d:\d\d in 8 cases of 10",
        said,
    )
    assert "after it is wanted" in said
    assert all(
        re.search(rf"{name} \d Brannock T9 · (77-ZB-02|12-QX-81)", said)
        for name in ("Mara", "Tomas")
    )


def test_hours_and_a_single_lift_shape_the_day(tab, two_machines, technician):
    """Mara alone stops at half past nine and goes on at two; going over takes her the minutes set."""
    technician.hours = [[540, 570], [840, 1080]]
    technician.save()
    alone = {"begin": "2026-11-25T09:00", "with": str(technician.pk)}
    said = words(tab.get("/board/sheet/", alone))
    assert re.search(r"14:0\d–", said)
    assert re.search(r"All ready at 1[45]:\d\d", said)
    assert "No hours are set" not in words(tab.get("/board/", alone))


def test_more_machines_on_lifts_than_there_are_is_said_in_words(tab, visit, desk, shop):
    """Two stand on a lift as they are, and the shop told of one: no plan could begin so."""
    text = SMALL_BOOK.read_text().replace(
        "[conditions.rear_wheel]", "[conditions.rear_wheel]\nholds = { fitted = { lift = 1 } }"
    )
    book = content_store.keep_book(shop, load_book_text(text), text)
    for plate in ("77-ZB-02", "78-ZB-03"):
        machine = new_machine(shop, plate, "Odile Marsh", book)
        other = store.open_visit(desk, machine)
        store.record_all(desk, other, store.Ticket(str(new_id())), [
            ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id), "keys": 1,
                         "complaint": "tyre"}),
            ("odometer", {"km": 9100.0, "text": "9100 km"}),
            ("book_pinned", {"revision": book.current.sha256}),
            ("job_taken", {"job": "tyre"}),
        ])  # fmt: skip
    page = tab.get("/board/sheet/", {"begin": "2026-11-25T09:00"})
    assert "2 taken now, by 2 77-ZB-02, 3 78-ZB-03; the shop has 1; say at Lifts" in words(page)
    shop.lifts = 2
    shop.save()
    assert "All ready at" in words(tab.get("/board/sheet/", {"begin": "2026-11-25T09:00"}))


def test_work_that_was_done_is_not_planned_again(tab, visit, desk):
    for step in ("wheel_off", "tyre/swap"):
        store.record(desk, visit, "done", {"step": step})
    said = words(tab.get("/board/sheet/", {"begin": "2026-11-25T09:00"}))
    assert "All ready at 09:11" in said  # the wheel on, the lights


def missing_part(desk, visit, step, text="ordered for Friday"):
    wont = {"step": step, "what": "part missing", "safe_now": "nothing open", "text": text}
    store.record(desk, visit, "wont", wont)


def test_a_machine_that_waits_for_a_part_is_planned_for_the_rest_and_not_promised(
    tab, two_machines, desk
):
    """Beside the tyre that waits it has lights to look at: these are planned, the tyre is not."""
    missing_part(desk, two_machines[0], "tyre/swap")
    said = words(tab.get("/board/sheet/", {"begin": "2026-11-25T09:00"}))
    why = "Waits for a part for “Change the tyre”: ordered for Friday"
    assert re.search(rf"12-QX-81 Look at the lights {why} not ready the rest done at 09:\d\d", said)
    assert "Planned work done at" in said
    assert "All ready at" not in said
    assert why in words(tab.get("/"))


def test_what_a_reading_decides_is_planned_as_likeliest_and_its_price_told(tab, desk, tmp_path):
    """By pencil: 2 + 4 + 2 minutes; outside in four of ten 30 more, and in one of five of those 15 more."""
    visit = chain_in(desk, slack_file(tmp_path))
    said = words(tab.get("/board/sheet/", {"begin": "2026-11-25T09:00"}))
    assert "All ready at 09:08" in said
    assert (
        "Planned by the likeliest answers. If a reading says otherwise: Chain slack outside its"
        " limits (40 %): labour 30 min more"
    ) in said
    for place in (1, 2):
        body = {"reading": "slack", "step": "chain/measure", "value": 45, "text": "45 mm"}
        store.record(desk, visit, "read", {**body, "index": place})
    store.record(desk, visit, "done", {"step": "chain/measure"})
    assert "All ready at 09:36" in words(tab.get("/board/sheet/", {"begin": "2026-11-25T09:00"}))


def test_a_machine_of_which_all_waits_is_left_out_of_the_day_with_what_it_waits_for(
    tab, two_machines, desk
):
    missing_part(desk, two_machines[1], "tyre/swap", text="")
    said = words(tab.get("/board/"))
    assert "Not on the sheet Brannock T9 · 77-ZB-02 waits for a part for “Change the tyre”" in said
    assert "77-ZB-02" not in words(tab.get("/board/sheet/", {"begin": "2026-11-25T09:00"}))
    (wont,) = store.state(two_machines[1]).findings
    store.record(desk, two_machines[1], "settled", {"entry": wont.entry, "how": "put right"})
    assert "Not on the sheet" not in words(tab.get("/board/"))
    assert "Waits for a part" not in words(tab.get("/"))


def test_what_the_shelf_lacks_is_said_with_the_time_it_rests_on(tab, desk, tour):
    """Drive oil of which the shop lists no bottle, then one bottle on the shelf."""
    begin = {"begin": "2026-11-25T09:00"}
    lacks = "Only if it is here by then: "
    family = read(tour).book.fluids["gear_oil"].family
    assert f"{lacks}gear oil: 180 mL needed, and no bottle or can of it is listed" in words(
        tab.get("/board/sheet/", begin)
    )
    shelf = {"shop": desk.shop, "family": family, "name": "Gear oil", "size_ml": 500}
    pack = StockPack.objects.create(**shelf, in_stock=0)
    assert f"{lacks}Gear oil: 1 × 500 mL missing" in words(tab.get("/board/sheet/", begin))
    pack.in_stock = 1
    pack.save()
    assert lacks not in words(tab.get("/board/sheet/", begin))


def test_a_shop_without_work_says_so(tab, desk):
    assert "No machine has work to be done." in words(tab.get("/board/"))


def test_skills_and_hours_are_kept_as_typed_and_read_back(tab, helper):
    address = f"/shop/people/{helper.pk}/"
    page = tab.post(address, {
        "first_name": "Tomas", "role": "helper", "at_the_bench": "on", "initial-does_everything": "True",
        "skills": "wheel_building, welding", "hours": "8:00-12:30, 13.15–17:00",
        "weekdays": ["0", "1", "4"],
    })  # fmt: skip
    assert page.status_code == 303
    kept = Member.objects.get(pk=helper.pk)
    assert (kept.does_everything, kept.skills) == (False, ["wheel_building", "welding"])
    assert (kept.hours, kept.weekdays) == ([[480, 750], [795, 1020]], [0, 1, 4])
    assert "08:00–12:30, 13:15–17:00" in tab.get(address).content.decode()


@pytest.mark.parametrize(
    "hours", ["8-12", "12:00-08:00", "08:00-12:00, 11:00-17:00", "08:00-25:00"]
)
def test_hours_that_cannot_be_say_what_would_be_right(tab, helper, hours):
    page = tab.post(f"/shop/people/{helper.pk}/", {
        "first_name": "Tomas", "role": "helper", "hours": hours, "weekdays": ["0"]})  # fmt: skip
    assert page.status_code == 422
    assert hours in page.content.decode()
    assert Member.objects.get(pk=helper.pk).hours == []


def test_lifts_and_other_things_in_short_supply_are_kept(tab, shop):
    said = {"lifts": "2", "resources": "press 1, stand 3", "change_minutes": "4"}
    assert tab.post("/shop/room/", said).status_code == 303
    kept = Shop.objects.get(pk=shop.pk)
    assert (kept.lifts, kept.resources, kept.change_minutes) == (2, {"press": 1, "stand": 3}, 4)
    assert tab.post("/shop/room/", said | {"lifts": "0"}).status_code == 422
