"""Gates at the bench, and the evidence they rest on: readings, waits, rides."""

import re

import pytest

from tests.fixtures.tour import done, put
from tests.shop.day import form_to
from tests.shop.filled import faults_of
from tests.shop.test_papers import text_of
from witnessmark.shop import store
from witnessmark.shop.tickets import write_seen
from witnessmark.shop.work import planning
from witnessmark.shop.work.plan_followed import new_order, plan_progress
from witnessmark.shop.work.visit import read


@pytest.fixture
def tab(technician, client_of):
    return client_of(technician)


def form(client, visit, act, holding="", here="bench/"):
    """A form of the bench as its page has it."""
    path = f"/visits/{visit.pk}/{here}"
    return form_to(client.get(path).content.decode(), path, f"/visits/{visit.pk}/{act}", holding)


def tap(client, visit, card, **typed):
    """Done on a card as its page has it, with what was typed on it."""
    shown = form(client, visit, "bench/confirm/", "card-form", f"bench/?card={card}")
    return client.post(f"/visits/{visit.pk}/bench/confirm/", shown | {"done": "1"} | typed)


def words(answer) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def kinds(visit) -> list[str]:
    return [entry.kind for entry in store.entries(visit)]


FRONT = {
    "reading-front_pads-2": "3.4",
    "reading-front_disc-1": "4.6",
    "reading-front_disc-2": "4.6",
    "reading-front_hose_look-1": "whole and dry",
}
TYRE = {"reading-rear_tyre_make-1": "Orlo Road 140/80-17", "reading-rear_tyre_date-1": "1026"}

# ---------------------------------------------------------------- the ride


def test_pads_pushed_back_after_the_ride_ask_for_another_ride(tab, desk, helper_desk, worked_on):
    """The look alone closes nothing; the page no longer says that the road test was passed; no hand-back."""
    put(desk, worked_on, ("gate_passed", {"gate": "road test"}), *done("ride/ride", "ride/look"))
    page = f"/visits/{worked_on.pk}/handback/"
    assert "Road test: passed" in words(tab.get(page))
    put(desk, worked_on, *done("brake/push_back", "brake/pump"))

    assert tap(tab, worked_on, "ride/look").status_code == 303
    looks = [i for i in read(worked_on).state.items if i.startswith("second look/")]
    put(helper_desk, worked_on, ("looked", {"items": looks}))
    put(desk, worked_on, ("walked_round", {}))
    said = words(tab.get(page))
    assert "Passed" not in said
    assert "worked on since it was ridden (push the pads back): ride it again" in said
    assert "Hand it back" not in said

    assert tap(tab, worked_on, "ride/ride").status_code == 303
    assert kinds(worked_on)[-2:] == ["gate_passed", "done"]
    assert tap(tab, worked_on, "ride/look").status_code == 303
    assert "Hand it back" in words(tab.get(page))


def test_work_agreed_after_the_ride_comes_before_another_one(tab, desk, tourer):
    """The owner rings; the order then offered has ride and look behind the new pads, before they are begun."""
    visit = tourer("ride_after")
    put(desk, visit, *done("ride_after/ride", "ride_after/look"))
    ask = form(tab, visit, "bench/owner/", here="bench/owner/") | {"add": "front_pads"}
    assert tab.post(f"/visits/{visit.pk}/bench/owner/", ask).status_code == 303
    put(desk, visit, *_agreed(visit, "ride_after"))
    work = read(visit)
    assert work.state.done == ("ride_after/ride", "ride_after/look")

    made = new_order(work)
    order = [step.name for step in made.answer.steps if step.kind == "operation"]
    assert order[-2:] == ["ride_after/ride", "ride_after/look"]
    assert order.index("front_pads/renew") < order.index("front_pads/pins")
    put(desk, visit, ("plan_taken", {"plan": planning.keep(desk.shop, made)}))
    course = plan_progress(read(visit))
    assert (course.misfits, len(course.left)) == ((), len(made.answer.steps))


def _agreed(visit, job):
    offer = read(visit).state.offers[-1].estimate
    owner = read(visit).state.owner
    said = {"estimate": offer, "line": job, "verdict": "yes", "by": owner, "how": "in person"}
    return [("answered", said)]


def test_small_work_agreed_after_the_ride_asks_for_no_other(desk, tourer):
    visit = tourer("ride_after")
    put(desk, visit, *done("ride_after/ride", "ride_after/look"))
    put(desk, visit, ("job_taken", {"job": "air_filter"}))
    order = [s.name for s in new_order(read(visit)).answer.steps if s.kind == "operation"]
    assert order == ["air_filter/change"]


def test_nobody_is_asked_to_confirm_the_road_before_what_the_ride_comes_after(tab, desk, tourer):
    """A machine nobody had looked at: one tap recorded "ready for the road" in the technician's name."""
    visit = tourer("battery", "ride_before")
    handback = f"/visits/{visit.pk}/handback/"
    page = tab.get(handback)
    assert "Not ready for the road yet: 1 step of the order comes before the ride." in words(page)
    assert f"{handback}road-test/" not in page.content.decode()
    seen = write_seen(store.heads(visit))
    form = {"entry_id": store.ledger.new_entry_id(), "seen": seen}
    sent = tab.post(f"{handback}road-test/", form)
    assert (sent.status_code, "gate_passed" in kinds(visit)) == (422, False)
    assert (
        words(sent).count("Not ready for the road yet: 1 step of the order comes before the ride.")
        == 2
    )
    put(desk, visit, *done("battery/test"))
    page = tab.get(handback)
    assert "You confirm by name: the steps before the ride are done" in words(page)
    assert f"{handback}road-test/" in page.content.decode()


def test_agreed_work_left_is_told_in_the_order_of_work_and_leads_to_the_step_due(tab, desk, tourer):
    """It said "New filter …, Drain the engine …", and its button opened the filter."""
    visit = tourer("engine_oil")
    put(desk, visit, ("offered", {"estimate": "b" * 64, "lines": ["engine_oil"]}))
    put(desk, visit, *_agreed(visit, "engine_oil"))
    page = tab.get(f"/visits/{visit.pk}/handback/")
    said = words(page).partition("agreed, not yet done: ")[2]
    assert said.startswith("Drain the engine, warm, by both plugs, New filter; both plugs in")
    assert "?card=engine_oil/drain" in page.content.decode()
    assert "?card=engine_oil/close_up" not in page.content.decode()


# ---------------------------------------------------------------- starter, wheels on the ground


def test_off_the_lift_with_loose_bolts_and_a_soft_brake_takes_a_reason_that_is_printed(
    tab, desk, tourer
):
    """Held in words; with a reason it is written down with all that was open, and that stays open."""
    visit = tourer("tyres")
    put(desk, visit, *done("onto_lift", "rear_wheel_out", "rear_wheel_snug", "brake_wear/front"))
    held = tap(tab, visit, "off_lift")
    assert held.status_code == 422
    for said in ("Not to be set on its wheels: 2 things are open.", "Rear wheel bolts, 1, 2, 3, 4, 5",
                 "Front brake: pumped firm", "Do it anyway, because"):  # fmt: skip
        assert said in words(held)
    assert kinds(visit)[-1] == "done"

    before = read(visit).state.items.keys()
    answer = tap(tab, visit, "off_lift", **{"passed-by": "the lift leaks oil"})
    assert (answer.status_code, kinds(visit)[-2:]) == (303, ["gate_passed", "done"])
    state = read(visit).state
    passed = state.gates[-1]
    assert (passed.gate, passed.because) == ("wheels on the ground", "the lift leaks oil")
    assert set(passed.open) <= before & state.items.keys()
    assert "fastener/wheel_bolts/1" in passed.open
    printed = text_of(tab, visit, "service-record")
    assert "its wheels anyway: Rear wheel bolts, 1 of 5; " in printed
    assert "the lift leaks oil. " in printed


def test_the_starter_is_held_and_a_passing_with_nothing_open_is_recorded(tab, desk, tourer):
    visit = tourer("engine_oil")
    put(desk, visit, *done("engine_oil/drain"))
    held = tap(tab, visit, "engine_oil/run")
    assert held.status_code == 422
    assert "Not to be started" in words(held)
    assert "Engine oil: first part in" in words(held)

    clear = tourer("tyres")
    assert tap(tab, clear, "warm_engine").status_code == 303
    (passed,) = read(clear).state.gates
    assert (passed.gate, passed.open, passed.because) == ("starter", (), "")


def test_no_reason_lets_a_loose_wheel_onto_the_road(tab, desk, tourer):
    visit = tourer("ride_after")
    put(desk, visit, *done("rear_wheel_out", "rear_wheel_snug"))
    held = tap(tab, visit, "ride_after/ride", **{"passed-by": "the owner waits"})
    assert held.status_code == 422
    assert "Do it all the same" not in words(held)
    assert "gate_passed" not in kinds(visit)


# ---------------------------------------------------------------- readings


def test_a_worn_lining_holds_the_ride_and_what_mends_it_is_two_taps_from_the_owner(
    tab, desk, tourer
):
    """0.9 mm of at least 1.0: said at once; the new pads are asked for, agreed, fitted, read."""
    visit = tourer("brake_wear", "ride_after")
    assert (
        tap(tab, visit, "brake_wear/front", **FRONT | {"reading-front_pads-1": "0.9"}).status_code
        == 303
    )
    said = words(tab.get(f"/visits/{visit.pk}/bench/"))
    assert "at the limit of 1 mm (invented workshop manual, p. 97), on its wrong side" in said
    assert "tells apart. No ride until it is put right." in said
    assert "Ask the owner: Front brake pads" in said
    put(desk, visit, *done("pump_front_lever"))
    assert tap(tab, visit, "ride_after/ride").status_code == 422

    mend = form(tab, visit, "bench/mend/") | {"job": "front_pads"}
    asked = tab.post(f"/visits/{visit.pk}/bench/mend/", mend)
    assert (asked.status_code, asked.url) == (303, f"/visits/{visit.pk}/bench/owner/")
    yes = form(tab, visit, "bench/owner/", here="bench/owner/") | {"answer": "yes/front_pads"}
    assert tab.post(f"/visits/{visit.pk}/bench/owner/", yes).status_code == 303
    state = read(visit).state
    assert ("front_pads" in state.agreed, "outside/front_pads/1" in state.items) == (True, True)

    put(desk, visit, ("read", {"reading": "front_pads", "step": "front_pads/renew", "value": 5.0}))
    assert "outside/front_pads/1" not in read(visit).state.items


def test_what_no_job_of_the_book_mends_is_asked_in_own_words_once(tab, desk, tourer):
    visit = tourer("look_over", "ride_after")
    bad = {"reading": "stand_switch", "step": "look_over/switches", "words": "does not stop it"}
    put(desk, visit, ("read", bad))
    said = words(tab.get(f"/visits/{visit.pk}/bench/"))
    assert "Side-stand switch: does not stop it" in said
    assert "Ask the owner: put it right" in said
    first, second = (form(tab, visit, "bench/mend/") for _ in range(2))
    assert tab.post(f"/visits/{visit.pk}/bench/mend/", first).status_code == 303
    told = tab.post(f"/visits/{visit.pk}/bench/mend/", second)
    assert (told.status_code, "Since your page was made: " in words(told)) == (409, True)
    assert kinds(visit).count("offered") == 1
    assert "The owner was asked." in words(tab.get(f"/visits/{visit.pk}/bench/"))


def test_an_empty_reading_is_asked_for_and_what_was_typed_is_kept(tab, tourer):
    visit = tourer("rear_tyre")
    back = tap(tab, visit, "rear_tyre/change", **TYRE | {"reading-rear_tread-1": "4.2"})
    assert (back.status_code, kinds(visit)[-1]) == (422, "job_taken")
    assert faults_of(back) == ["Not read yet; read it, or say below why it cannot be read."]
    assert 'value="4.2"' in back.content.decode()

    typed = TYRE | {
        "reading-rear_tread-1": "4.2",
        "unread-reading-rear_pressure-1": "no gauge fits",
    }
    assert tap(tab, visit, "rear_tyre/change", **typed).status_code == 303
    assert kinds(visit)[-3:] == ["read", "not_read", "done"]
    assert "reading/rear_tyre/change/rear_pressure" in read(visit).state.items, (
        "it is safety-critical"
    )


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("31", "31 mm? The lining of a new brake pad or shoe is 7 mm at most"),
        ("9.0 mm", "9.0 mm? The lining of a new brake pad or shoe is 7 mm at most"),
        ("0", "0 mm? That is nothing at all"),
        ("0.05", "0.05 mm? That is less than a 9th of the least, 1 mm"),
    ],
)
def test_what_is_hard_to_believe_is_kept_only_when_it_is_typed_again(tab, tourer, typed, why):
    visit = tourer("brake_wear")
    field = "reading-front_pads-1"
    back = tap(tab, visit, "brake_wear/front", **FRONT | {field: typed})
    assert (back.status_code, "read" in kinds(visit)) == (422, False)
    assert why in faults_of(back)[0]
    other = tap(tab, visit, "brake_wear/front", **FRONT | {field: typed, f"again-{field}": "3.1"})
    assert (other.status_code, "read" in kinds(visit)) == (422, False)

    kept_ = tap(tab, visit, "brake_wear/front", **FRONT | {field: typed, f"again-{field}": typed})
    assert (kept_.status_code, read(visit).state.readings[0].vouched) == (303, True)


@pytest.mark.parametrize("typed", ["-3", "nan", "1e400", "Infinity"])
def test_what_no_gauge_shows_is_refused_in_words(tab, tourer, typed):
    visit = tourer("brake_wear")
    back = tap(tab, visit, "brake_wear/front", **FRONT | {"reading-front_pads-1": typed})
    assert (back.status_code, "read" in kinds(visit)) == (422, False)
    assert len(faults_of(back)) == 1
    assert f'value="{typed}"' in back.content.decode()


# ---------------------------------------------------------------- waits


def test_a_lever_that_is_to_be_held_proves_nothing_when_the_holding_begins(tab, desk, tourer):
    """The first tap begins the wait; too early a second takes a reason, which is kept; in time it takes none."""
    visit = tourer("front_brake_fluid")
    put(desk, visit, *done("front_brake_fluid/flush"))
    dry, step = "circuit/front_brake/dry", "front_brake_fluid/hold"
    assert tap(tab, visit, step).status_code == 303
    assert (kinds(visit)[-1], dry in read(visit).state.items) == ("wait_begun", True)

    early = tap(tab, visit, step)
    assert (early.status_code, kinds(visit)[-1]) == (422, "wait_begun")
    assert "5 min of 5 min are left" in words(early)
    assert tap(tab, visit, step, **{"short-wait": "held since the flush"}).status_code == 303
    assert (store.entries(visit)[-1].said.short_wait, dry in read(visit).state.items) == (
        "held since the flush", False)  # fmt: skip

    put(desk, visit, *done("front_brake_fluid/flush"))
    old = tap(tab, visit, step, waits="over")
    assert (old.status_code, kinds(visit)[-1]) == (422, "done")
    assert "That wait no longer counts" in words(old)
    put(desk, visit, ("wait_begun", {"step": step, "minutes": 0.0001}))
    old = tap(tab, visit, step, waits="begin")
    assert (old.status_code, dry in read(visit).state.items) == (422, True)
    assert tap(tab, visit, step, **{"short-wait": ""}).status_code == 303
    assert (store.entries(visit)[-1].said.short_wait, dry in read(visit).state.items) == ("", False)


def test_limits_are_shown_with_their_source_before_anything_is_typed(tab, tourer):
    visit = tourer("battery")
    shown = words(tab.get(f"/visits/{visit.pk}/bench/?card=battery/test"))
    assert re.search(r"at (least|most) [\d.]+ V ?, invented workshop manual, p. \d+", shown)


def test_the_order_page_names_the_jobs_that_wait_with_a_step_that_cannot_be_done(tab, desk, tourer):
    """It told a time by which "the rest" was done, and thirty cards had gone without a word."""
    visit = tourer("engine_oil", "battery")
    report = {"step": "engine_oil/drain", "what": "stuck", "safe_now": "plug tight", "text": ""}
    put(desk, visit, ("wont", report))
    said = words(tab.get(f"/visits/{visit.pk}/order/"))
    told = said.partition("Waits with it, all or in part: ")[2].partition(".")[0]
    assert "Engine oil and filter" in told
    assert "Battery" not in told


def test_a_safety_critical_fastener_is_left_loose_for_a_reason_alone(mara, desk, tour):
    put(desk, tour, *done("wheel_off", "wheel_on"))
    here, to = (
        f"/visits/{tour.pk}/bench/{rest}" for rest in ("?card=drive_oil/wheel_tight", "confirm/")
    )
    refused = mara.post(to, mara.form(here, to) | {"done": "1"})
    assert refused.status_code == 422
    assert "safety-critical: make it tight, or say why you go on" in refused.content.decode()
    mara.do(here, to, done="1", loose__because="the new bolts come tomorrow")
    said = store.entries(tour)[-1].said
    assert (len(said.not_tight), said.not_tight_because) == (1, "the new bolts come tomorrow")
    hand_back = mara.client.get(f"/visits/{tour.pk}/handback/").content.decode()
    assert "Nothing was offered to the owner, and nothing agreed" in hand_back
