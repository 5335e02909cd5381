"""At the bench there is always a way on: in words, and with a tap."""

import re

import pytest
from django.utils.timezone import localdate

from tests.fixtures.shop import new_machine
from tests.shipped_books.planned import book as demo_book
from tests.shop.day import Person
from tests.shop.filled import Forms
from witnessmark.book import steps as book_steps
from witnessmark.ledger import new_entry_id
from witnessmark.shop import content_store, store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import Wrench, WrenchEvent
from witnessmark.shop.work.cards import card_of
from witnessmark.shop.work.plan_followed import plan_progress
from witnessmark.shop.work.visit import read


@pytest.fixture
def tab(technician, client_of):
    return client_of(technician)


@pytest.fixture
def tourer(desk, shop):
    """A demo tourer with its pads to be looked at, the order not yet taken."""
    book = content_store.keep_book(shop, demo_book("quandle_t9"))
    machine = new_machine(shop, "44-QT-09", "Ines Calder", book)
    visit = store.open_visit(desk, machine)
    put(desk, visit,
        ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id), "keys": 1}),
        ("book_pinned", {"revision": book.current.sha256}),
        ("job_taken", {"job": "brake_wear"}))  # fmt: skip
    return visit


@pytest.fixture
def single(desk, shop):
    """`single("chain", …)`: a demo single on its rear stand, with these jobs, the order not yet taken."""
    book = content_store.keep_book(shop, demo_book("bromeck_410"))
    machine = new_machine(shop, "44-BR-55", "Ines Calder", book)

    def taken(*jobs):
        visit = store.open_visit(desk, machine)
        put(desk, visit,
            ("arrived", {"machine": str(machine.pk), "owner": str(machine.owner_id), "keys": 1}),
            ("book_pinned", {"revision": book.current.sha256}),
            *(("job_taken", {"job": job}) for job in jobs))  # fmt: skip
        return visit

    return taken


def put(desk, visit, *acts):
    store.record_all(desk, visit, store.Ticket(str(new_id())), list(acts))


def did(desk, visit, *steps):
    """Each step done, every fastener that it makes tight marked first."""
    book = read(visit).book
    every = book_steps(book)
    for step in steps:
        marks = [
            (
                "tightened",
                {
                    "fastener": name,
                    "index": index,
                    "step": step,
                    "figure": figure,
                    "value_nm": book.figures[figure].in_base("value") or 10.0,
                },
            )
            for name in every[step].tightens
            if (figure := book.fasteners[name].figure)
            for index in range(1, book.fasteners[name].count + 1)
        ]
        put(desk, visit, *marks, ("done", {"step": step}))


def words(page) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.content.decode()))


def bench(visit) -> str:
    return f"/visits/{visit.pk}/bench/"


def test_a_job_is_left_for_later_at_its_card(tab, tourer):
    """It was found on the hand-back page alone, under another name, after fourteen wrong taps."""
    page = tab.get(f"{bench(tourer)}?card=brake_wear/front").content.decode()
    assert "Leave the whole job for later" in page
    form = next(values for _, values in Forms(page).found if "leave-because" in values)
    answer = tab.post(f"{bench(tourer)}leave/", form | {"leave-because": ""})
    assert answer.status_code == 422
    told = tab.post(f"{bench(tourer)}leave/", form | {"leave-because": "part on Tuesday"})
    assert told.status_code == 303
    assert read(tourer).state.taken == ()
    again = tab.post(
        f"{bench(tourer)}leave/", form | {"entry_id": new_entry_id(), "leave-because": "x"}
    )
    assert again.status_code == 409


def test_pads_pressed_back_out_of_order_are_pumped_out_in_the_order_offered(tab, desk, tourer):
    did(
        desk,
        tourer,
        "onto_lift",
        "onto_stand",
        "open_front_reservoir",
        "fill_front_reservoir",
    )
    did(desk, tourer, "brake_wear/front")
    page = tab.get(bench(tourer))
    assert "Best order of what is left" in words(page)
    Person(tab).do(bench(tourer), f"{bench(tourer)}order/")
    left = [step.name for step in plan_progress(read(tourer)).left]
    assert left.index("pump_front_lever") < left.index("close_front_reservoir")


def test_what_must_never_be_is_said_and_the_step_out_of_it_is_one_tap_away(tab, desk, tourer):
    """Pads pressed back while it stood on the floor."""
    did(desk, tourer, "brake_wear/front")
    page = tab.get(bench(tourer))
    assert "Never together: Front brake lever: soft and Machine: on the floor" in words(page)
    assert f'href="{bench(tourer)}?card=pump_front_lever"' in page.content.decode()
    Person(tab).do(f"{bench(tourer)}?card=pump_front_lever", f"{bench(tourer)}confirm/", done="1")
    assert "Best order of what is left" in words(tab.get(bench(tourer)))


def test_a_state_tapped_by_mistake_is_said_right_with_one_tap(tab, desk, tourer):
    did(desk, tourer, "rear_wheel_out")
    page = tab.get(bench(tourer))
    assert "Is it so now?" in words(page)
    stand = "rear_wheel/tight"
    stands = f"/visits/{tourer.pk}/order/stands/"
    answer = Person(tab).do(
        bench(tourer), stands, holding=f'name="stand" value="{stand}"', stand=stand
    )
    assert answer.url == bench(tourer)
    assert "Best order of what is left" in words(tab.get(bench(tourer)))


def test_a_step_that_would_not_go_leaves_a_bench_that_says_what_waits(tab, desk, tourer):
    """The engine's plug is stripped with the oil out: that page was a 500."""
    put(desk, tourer, ("job_taken", {"job": "engine_oil"}), ("job_taken", {"job": "ride_after"}))
    did(desk, tourer, "onto_lift", "onto_stand", "engine_oil/drain")
    put(
        desk,
        tourer,
        ("wont", {"step": "engine_oil/close_up", "what": "stripped", "safe_now": "tray"}),
    )
    page = tab.get(bench(tourer))
    assert re.search(r"Stays open for it: [^.]*Engine oil: drained", words(page))
    Person(tab).do(bench(tourer), f"{bench(tourer)}order/")
    assert plan_progress(read(tourer)).fits


def test_a_step_reported_as_not_to_be_done_is_not_done_by_a_tap_that_does_not_say_so(tab, tourer):
    """A split pin was reported missing, "do not ride"; one tap on Done closed the pin and the report."""
    here = f"{bench(tourer)}?card=pump_front_lever"
    mara = Person(tab)
    mara.do(here, f"{bench(tourer)}wont/", wont__what="part missing", wont__safe_now="do not ride")
    assert "part missing (safe now: do not ride)" in words(tab.get(here)).partition("Take back")[0]
    form = mara.form(here, f"{bench(tourer)}confirm/") | {"done": "1"}
    answer = mara.post(f"{bench(tourer)}confirm/", form)
    assert answer.status_code == 422
    assert [item for item in read(tourer).state.items.values() if item.kind == "wont"]
    report = re.search(r'name="after-all" value="([^"]+)"', answer.content.decode())[1]
    mara.do(here, f"{bench(tourer)}confirm/", after__all=report, done="1")
    assert not [item for item in read(tourer).state.items.values() if item.kind == "wont"]


def test_what_is_open_is_counted_alike_on_today_the_bench_and_hand_back(tab, desk, single):
    """Today said 8 for safety where hand-back said 7, and 18 were counted where 16 were listed."""
    visit = single("chain")
    did(desk, visit, "onto_lift", "onto_stand", "axle_loose", "axle_tight")
    counted = r"(\d+) open, (\d+) for safety"
    today, back = words(tab.get("/")), tab.get(f"/visits/{visit.pk}/handback/")
    every, grave = map(int, re.search(counted, today).groups())
    assert re.search(counted, words(back)).groups() == (str(every), str(grave))
    listed = re.findall(r"(?:Cards and answers|Second look|last of all): (\d+)", words(back))
    assert sum(map(int, listed)) == every
    page = tab.get(bench(visit)).content.decode()
    assert f"Open now: {every}, {grave} for safety" in page
    shown = page.partition("Open now")[2].partition("</details>")[0]
    assert (shown.count("<li"), shown.count(">safety<")) == (every, grave)


def test_a_card_and_its_step_in_the_order_have_one_number_and_name_the_torque(tab, axle):
    visit, _here = axle
    order = words(tab.get(f"/visits/{visit.pk}/order/"))
    page = tab.get(bench(visit)).content.decode()
    number = re.search(r"Step (\d+) of \d+", page)[1]
    assert re.search(rf" {number} Rear axle made tight .{{0,120}}? 95 N·m", order)
    for nr, name, _rest in re.findall(
        r'class="nr">(\d+)</span><a class="what" href="[^"]*card=[^"]*"><span class="words">([^<]*)</span>(.*?)</li>',
        page.partition('id="others"')[2].partition("</details>")[0],
    ):
        assert f" {nr} {name} " in order


@pytest.fixture
def axle(tab, desk, shop, single):
    """The single at its axle, which several jobs wait for: the visit and the card's address."""
    row = Wrench(shop=shop, name="Large click", low_nm=20, high_nm=200)
    row.save()
    WrenchEvent(shop=shop, wrench=row, kind="laboratory", on=localdate(), certificate="C-1").save()
    visit = single("chain", "rear_tyre")
    Person(tab).do(bench(visit), f"{bench(visit)}order/")
    order = [step.name for step in plan_progress(read(visit)).left]
    did(desk, visit, *order[: order.index("axle_tight")])
    assert plan_progress(read(visit)).misfits == ()
    return visit, f"{bench(visit)}?card=axle_tight"


def in_hand(tab, visit) -> str:
    page = tab.get(bench(visit)).content.decode()
    return (re.findall(r'name="card" value="([^"]+)"', page.partition("card-form")[2]) or [""])[0]


FAILED = {"wont__what": "stuck", "wont__safe_now": "axle loose"}


def test_a_shared_step_that_cannot_be_done_asks_which_job_stops_and_the_rest_goes_on(tab, axle):
    """The same card stood there again with its torque, and no job could be left from it."""
    visit, here = axle
    mara, wont = Person(tab), f"{bench(visit)}wont/"
    assert in_hand(tab, visit) == "axle_tight"
    form = mara.form(here, wont) | {"wont-what": "stuck", "wont-safe_now": "axle loose"}
    answer = mara.post(wont, form)
    assert answer.status_code == 422
    assert "Say which job stops" in words(answer)
    jobs = re.findall(r'name="wont-stops" value="([^"]+)"', answer.content.decode())
    assert len(jobs) > 1
    mara.do(here, wont, wont__stops=jobs, **FAILED)
    assert in_hand(tab, visit) != "axle_tight"
    page = words(tab.get(bench(visit)))
    assert "“Rear axle made tight” cannot be done: stuck." in page
    assert "; not as “" not in page
    assert not any(s.name.startswith("chain/") for s in plan_progress(read(visit)).left)


def test_what_is_tightened_on_a_card_reported_stands_and_the_step_is_said_not_to_be_recorded(
    tab, axle
):
    visit, here = axle
    mara, confirm = Person(tab), f"{bench(visit)}confirm/"
    jobs = re.findall(r'name="wont-stops" value="([^"]+)"', tab.get(here).content.decode())
    mara.do(here, f"{bench(visit)}wont/", wont__stops=jobs, **FAILED)
    said = words(tab.get(here))
    for way in ("is not recorded as done until", "Take the report back", "Leave the job for later"):
        assert way in said
    mara.do(here, confirm, tight="rear_axle/1/0")
    assert "Recorded. The step itself is not" in words(tab.get(here))
    work = read(visit)
    assert work.state.tallies["rear_axle"].tight == (1,)
    assert "axle_tight" not in work.state.done
    assert mara.post(confirm, mara.form(here, confirm) | {"done": "1"}).status_code == 422
    mara.do(here, f"{bench(visit)}undo/", holding='form id="report-')
    assert "Reported:" not in words(tab.get(here))
    assert read(visit).state.tallies["rear_axle"].tight == (1,)


def test_a_job_left_from_a_shared_card_is_asked_for_by_no_card_before_a_new_order(tab, axle):
    visit, here = axle
    mara, leave = Person(tab), f"{bench(visit)}leave/"
    mara.do(here, leave, leave__job="chain", leave__because="no time")
    assert read(visit).state.jobs["chain"] == "left"
    page = tab.get(bench(visit))
    assert "is in this order and is no longer to be done" in words(page)
    listed = page.content.decode().partition('id="others"')[2].partition("</details>")[0]
    assert "chain/" not in in_hand(tab, visit)
    assert "card=chain/" not in listed
    answer = mara.post(leave, mara.form(here, leave) | {"leave-job": "chain"})
    assert answer.status_code == 422, "it was left already"


def test_what_a_job_left_for_later_leaves_loose_is_said_with_its_card(tab, desk, single):
    """The order offered was "ready in 24 min" with the front sprocket nut loose, and had no card for it."""
    visit = single("chain_kit", "chain", "look_over", "ride_after")
    Person(tab).do(bench(visit), f"{bench(visit)}order/")
    did(desk, visit, "chain_kit/sprocket_nut")
    here = f"{bench(visit)}?card=chain_kit/sprocket_tight"
    asked = words(tab.get(here)).partition("Leave the whole job for later")[2]
    assert "Chain and sprockets" in asked.rpartition("Leave for later")[0]
    assert "Front sprocket nut: loosened" in asked.rpartition("Leave for later")[0]
    Person(tab).do(here, f"{bench(visit)}leave/", leave__because="no tab washer")

    page = tab.get(bench(visit))
    assert "ready in" not in words(page)
    assert "Not ready then" in words(page)
    closes = f'<a class="btn" href="{bench(visit)}?card=chain_kit/sprocket_tight">'
    assert closes in page.content.decode()
    Person(tab).do(bench(visit), f"{bench(visit)}order/")
    page = tab.get(bench(visit))
    assert "Front sprocket nut: loosened" in words(page).partition("Take back")[0]
    assert closes in page.content.decode()
    assert tab.get(here).status_code == 200


def test_slack_out_of_limits_with_the_axle_tight_is_set_again_before_the_pin(tab, desk, single):
    """50 mm was read, at most 40: the next card was the split pin."""
    visit = single("chain", "ride_after")
    Person(tab).do(bench(visit), f"{bench(visit)}order/")
    order = [step.name for step in plan_progress(read(visit)).left]
    upto = order.index("chain/read_again")
    did(desk, visit, *order[: upto + 1])
    loosen = next(name for name in order if "rear_axle" in read(visit).steps[name].loosens)
    slack = {"reading": "chain_slack", "step": "chain/read_again", "index": 1, "text": "50 mm"}
    put(desk, visit, ("read", slack | {"value": 50.0}))

    def in_hand() -> str:
        page = tab.get(bench(visit)).content.decode()
        return re.search(r'name="card" value="([^"]+)"', page.partition("card-form")[2])[1]

    assert "Loosen it and set it again; secure nothing before." in words(tab.get(bench(visit)))
    assert read(visit).steps[in_hand()].loosens
    did(desk, visit, in_hand())
    assert in_hand() == "chain/adjust"
    did(desk, visit, "chain/adjust")
    Person(tab).do(bench(visit), f"{bench(visit)}order/")
    left = [step.name for step in plan_progress(read(visit)).left]
    assert "chain/read_again" in left
    assert loosen not in left


def test_what_done_confirms_tight_has_its_wrench_and_setting_too(tab, shop, single):
    """Cover screws, 6 N·m: a big figure, no wrench, and nothing to tap."""
    row = Wrench(shop=shop, name="Small click", low_nm=4, high_nm=20)
    row.save()
    WrenchEvent(shop=shop, wrench=row, kind="laboratory", on=localdate(), certificate="C-1").save()
    visit = single("chain_kit")
    page = words(tab.get(f"{bench(visit)}?card=chain_kit/sprocket_tight"))
    assert "Set Small click to 6 N·m" in page
    assert re.search(r"The button below confirms (it|all \d) tight\.", page)


def test_every_line_of_a_split_pin_not_in_is_marked_safety(tab, desk, single):
    """The state was not marked, though its part and its report were."""
    visit = single("chain")
    axle = {
        "fastener": "rear_axle",
        "index": 1,
        "step": "axle_tight",
        "set_nm": 95.0,
        "clicked": True,
    }
    did(desk, visit, "onto_lift", "onto_stand", "axle_loose")
    put(
        desk,
        visit,
        ("tightened", axle | {"figure": read(visit).book.fasteners["rear_axle"].figure}),
    )
    did(desk, visit, "axle_tight")
    put(desk, visit, ("wont", {"step": "pin_in", "what": "part missing", "safe_now": "not ridden"}))
    page = tab.get(bench(visit)).content.decode()
    listed = page.partition("Open now")[2].partition("</details>")[0]
    pin = [row for row in re.findall(r"<li.*?</li>", listed) if "plit pin" in row]
    assert any("split pin not yet in" in row for row in pin)
    assert any("part missing" in row for row in pin)
    assert all('<span class="state">safety</span>' in row for row in pin)


def test_what_was_left_out_comes_back_where_nothing_else_leads_on(tab, desk, tourer):
    put(desk, tourer, ("job_taken", {"job": "engine_oil"}))
    did(desk, tourer, "onto_lift", "onto_stand", "engine_oil/drain")
    put(desk, tourer, ("skipped", {"step": "engine_oil/close_up", "reason": "no ring"}))
    page = tab.get(bench(tourer))
    assert "was left out, and the work cannot go on without it" in words(page)
    Person(tab).do(bench(tourer), f"{bench(tourer)}order/")
    course = plan_progress(read(tourer))
    assert course.fits
    assert "engine_oil/close_up" in [step.name for step in course.left]
    did(desk, tourer, "engine_oil/close_up")
    assert "engine_oil/close_up" not in [step.name for step in plan_progress(read(tourer)).left]


def test_single_steps_list_what_changes_what_stands_in_the_way(tab, desk, tourer):
    did(desk, tourer, "onto_lift", "onto_stand", "brake_wear/front")
    said = words(tab.get(bench(tourer)))
    assert "Pump the front lever firm" in said.partition("Single steps, and what is done")[2]


@pytest.fixture
def flushed(tourer, desk):
    """Its brakes flushed, bled and held; a ride is to come."""
    put(
        desk,
        tourer,
        *(
            ("job_taken", {"job": job})
            for job in ("front_brake_fluid", "rear_brake_fluid", "ride_after")
        ),
    )
    did(desk, tourer, *FLUSH, "rear_brake_fluid/hold")
    return tourer


FLUSH = [
    f"{end}_brake_fluid/{step}" for end in ("front", "rear") for step in ("flush", "cycle", "bleed")
]


def test_what_was_left_out_and_the_ride_waits_for_is_done_after_all_or_it_is_ridden_later(
    tab, desk, flushed
):
    put(desk, flushed, ("skipped", {"step": "front_brake_fluid/hold", "reason": "no strap"}))
    ride = f"{bench(flushed)}?card=ride_after/ride"
    page = tab.get(ride)
    assert "was left out: no strap. No ride before it is done." in words(page)
    assert f'href="/visits/{flushed.pk}/order/?later=ride_after"' in page.content.decode()
    Person(tab).do(ride, f"{bench(flushed)}undo/", holding="Do it after all")
    Person(tab).do(bench(flushed), f"{bench(flushed)}order/")
    left = [step.name for step in plan_progress(read(flushed)).left]
    assert left.index("front_brake_fluid/hold") < left.index("ride_after/ride")


def test_what_was_opened_again_before_a_ride_comes_back_in_the_order_offered(tab, desk, flushed):
    did(desk, flushed, "front_brake_fluid/hold")
    Person(tab).do(bench(flushed), f"{bench(flushed)}order/")
    did(desk, flushed, "onto_lift", "onto_stand", "open_front_reservoir")
    did(desk, flushed, "fill_front_reservoir", "front_brake_fluid/flush")
    page = tab.get(bench(flushed))
    asked = (
        "The ride waits for “Front lever held under pressure; level and leaks”, which is to be done"
    )
    assert asked in words(page)
    Person(tab).do(bench(flushed), f"{bench(flushed)}order/")
    course = plan_progress(read(flushed))
    assert course.fits
    left = [step.name for step in course.left]
    assert left.index("front_brake_fluid/hold") < left.index("ride_after/ride")
    assert "rear_brake_fluid/bleed" not in left


def test_a_card_done_before_says_that_its_tap_begins_a_wait(tab, desk, flushed):
    did(desk, flushed, "front_brake_fluid/hold")
    assert "Start the wait again" in words(tab.get(f"{bench(flushed)}?card=front_brake_fluid/hold"))


def test_what_a_step_loosens_itself_is_made_tight_on_its_card_once_more(desk, tourer):
    """Bleeders, tight since the flush, are opened to bleed again after the tester's cycle."""
    put(desk, tourer, ("job_taken", {"job": "front_brake_fluid"}))
    did(desk, tourer, "front_brake_fluid/flush")
    work = read(tourer)
    [bleeders] = card_of(work, "front_brake_fluid/flush").fasteners
    assert bleeders.left == ()
    [again] = card_of(work, "front_brake_fluid/bleed").fasteners
    assert again.left == bleeders.order
    did(desk, tourer, "front_brake_fluid/bleed")
    work = read(tourer)
    assert work.state.tallies[again.id].open == ()
    assert card_of(work, "front_brake_fluid/bleed").fasteners[0].left == ()


def test_the_axle_stays_loose_while_the_chain_waits_and_is_closed_when_its_job_is_left(
    tab, desk, single
):
    """The chain would not rivet: the next cards were the axle's torque, its split pin, and off the lift."""
    visit = single("chain", "chain_kit")
    mara, here, fit = Person(tab), bench(visit), "chain_kit/fit_chain"
    mara.do(here, f"{here}order/")
    torque = r'card=[^"]+">next torque: [A-Z][^<]+, [\d.]+\xa0N·m, step \d+</a>'
    assert re.search(torque, tab.get(here).content.decode())
    order = [step.name for step in plan_progress(read(visit)).left]
    did(desk, visit, *order[: order.index(fit)])
    mara.do(f"{here}?card={fit}", f"{here}wont/", **FAILED)
    closing = {"axle_tight", "pin_in", "off_stand", "off_lift"}
    stays = r"Stays open for it: [^.]*on the lift[^.]*axle loose"
    for page in (here, f"/visits/{visit.pk}/order/"):
        assert re.search(stays, words(tab.get(page)))
    page = words(tab.get(here)).partition("Open now")[0]
    assert closing.isdisjoint(step.name for step in plan_progress(read(visit)).left)
    assert in_hand(tab, visit) not in closing
    assert "put it right, or leave the job for later" in page
    assert "Card: Front sprocket nut tight" not in page
    assert "things wait with it" in page
    open_now = tab.get(f"/visits/{visit.pk}/handback/").content.decode()
    cards = re.findall(r'/bench/\?card=([^"]+)', open_now)
    assert len(cards) == len(set(cards)), "a card stands once for all that it closes"
    assert "The same card closes it." in open_now
    mara.do(f"{here}?card={fit}", f"{here}leave/", leave__because="new link on order")
    mara.do(f"{here}?card=chain/adjust", f"{here}leave/", leave__because="with the chain")
    mara.do(here, f"{here}order/")
    assert closing <= {step.name for step in plan_progress(read(visit)).left}
