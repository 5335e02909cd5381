"""Waits: what goes on by itself, from the tap that begins it to the tap that ends it."""

from datetime import UTC, datetime, timedelta

import pytest
from django.utils import timezone

from tests.fixtures.tour import put
from tests.shop.day import form_to
from tests.shop.test_gates import form, kinds, tap, words
from witnessmark.planner import PlanStep
from witnessmark.shop import store
from witnessmark.shop.pages.order.by_the_clock import closed_up
from witnessmark.shop.work import planning
from witnessmark.shop.work.paperwork.language_and_heading import Pen
from witnessmark.shop.work.paperwork.service_record import service_record
from witnessmark.shop.work.plan_followed import new_order, plan_progress
from witnessmark.shop.work.visit import read

pytestmark = pytest.mark.postgres
DRAIN, PLUG = "engine_oil/drain", "fastener/oil_plug/1"


class Clock:
    """The clock of the server, that a test moves."""

    def __init__(self, now: datetime) -> None:
        self.now = now

    def on(self, **how: float) -> None:
        self.now += timedelta(**how)


@pytest.fixture
def tab(technician, client_of):
    return client_of(technician)


@pytest.fixture
def clock(monkeypatch):
    clock = Clock(timezone.now())
    monkeypatch.setattr(timezone, "now", lambda: clock.now)
    return clock


def minutes_of(visit) -> float:
    return read(visit).steps[DRAIN].unattended


def begin(tab, visit):
    """The first tap on the card of the drain, with what is read on it."""
    book, typed = read(visit).book, {}
    for name in read(visit).steps[DRAIN].readings:
        reading = book.readings[name]
        good = next((one for one in reading.choices if one not in reading.bad), "as it should be")
        typed[f"reading-{name}-1"] = good
    return tap(tab, visit, DRAIN, **typed)


def strip(tab, path="/") -> str:
    page = tab.get(path).content.decode()
    if 'class="waits"' not in page:
        return ""
    return words(
        type("", (), {"content": page.split('class="waits"')[1].split("</section>")[0].encode()})
    )


@pytest.mark.parametrize(
    "begun",
    [
        pytest.param(datetime(2026, 10, 25, 0, 55, tzinfo=UTC), id="summer time ends"),
        pytest.param(datetime(2026, 3, 29, 0, 55, tzinfo=UTC), id="summer time begins"),
        pytest.param(datetime(2026, 11, 30, 22, 55, tzinfo=UTC), id="over midnight"),
    ],
)
def test_what_runs_out_is_open_from_the_first_tap_and_closed_by_the_second(
    tab, tourer, clock, begun
):
    """Its minutes are those of the server, whatever the day; before they are over a reason is asked, and kept."""
    clock.now = begun
    visit = tourer("engine_oil")
    lasts = minutes_of(visit)
    assert begin(tab, visit).status_code == 303
    state = read(visit).state
    assert {PLUG, f"wait/{DRAIN}"} <= state.items.keys()
    assert (kinds(visit)[-1], DRAIN in state.done) == ("wait_begun", False)

    clock.on(minutes=5)
    pages = [
        "/",
        *(f"/visits/{visit.pk}/{one}/" for one in ("bench", "order", "handback", "papers")),
    ]
    for page in pages:
        assert f"oil runs out {lasts - 5:g} min left" in strip(tab, page), page
    early = tap(tab, visit, DRAIN)
    assert (early.status_code, kinds(visit)[-1]) == (422, "wait_begun")
    assert f"{lasts - 5:g} min of {lasts:g} min are left" in words(early)

    clock.on(minutes=lasts - 5)
    assert "oil runs out time is over" in strip(tab)
    assert tap(tab, visit, DRAIN).status_code == 303
    state = read(visit).state
    assert (strip(tab), DRAIN in state.done, PLUG in state.items) == ("", True, True)
    assert store.entries(visit)[-1].said.short_wait == ""


def test_the_record_tells_from_when_to_when_it_was_waited_and_why_it_was_shorter(
    tab, tourer, clock, desk
):
    clock.now = datetime(2026, 11, 30, 10, tzinfo=UTC)
    visit = tourer("engine_oil")
    begin(tab, visit)
    clock.on(minutes=3)
    tap(tab, visit, DRAIN, **{"short-wait": "no drop for a minute"})
    record = service_record(Pen(desk, read(visit), {}))
    (line,) = [one for done in record.done for one in done.lines if one.startswith("Waited")]
    assert line.startswith("Waited: oil runs out, ")
    assert "no drop for a minute" in record.passed_by[0]


def test_a_wait_broken_off_is_to_be_begun_anew_and_what_it_opened_stays_open(tab, tourer):
    visit = tourer("engine_oil")
    begin(tab, visit)
    at = f"/visits/{visit.pk}/bench/wait-stopped/"
    page = tab.get(f"/visits/{visit.pk}/bench/?card={DRAIN}").content.decode()
    stop = form_to(page, f"/visits/{visit.pk}/bench/?card={DRAIN}", at)
    assert tab.post(at, stop | {"stop-because": ""}).status_code == 422
    assert kinds(visit)[-1] == "wait_begun"
    sent = stop | {"stop-because": "tray full"}
    assert [tab.post(at, sent).status_code for _ in range(2)] == [303, 303]
    assert kinds(visit).count("wait_stopped") == 1
    state = read(visit).state
    assert (PLUG in state.items, f"wait/{DRAIN}" in state.items) == (True, False)
    fresh = form(tab, visit, "bench/confirm/", "card-form", f"bench/?card={DRAIN}")
    old = {name: fresh[name] for name in ("entry_id", "seen")} | {"stop-because": "again"}
    assert tab.post(at, stop | old).status_code == 400, "there is no such wait any more"
    assert "Start the wait" in words(tab.get(f"/visits/{visit.pk}/bench/?card={DRAIN}"))
    begin(tab, visit)
    assert f"wait/{DRAIN}" in read(visit).state.items


def test_what_the_other_tablet_did_meanwhile_is_told_and_nothing_is_said_twice(
    tab, tourer, colleague, client_of
):
    visit, other = tourer("engine_oil"), client_of(colleague)
    at, card = f"/visits/{visit.pk}/bench/confirm/", f"bench/?card={DRAIN}"
    old = form(other, visit, "bench/confirm/", "card-form", card) | {"done": "1"}
    begin(tab, visit)
    assert other.post(at, old).status_code in {409, 422}
    assert kinds(visit).count("wait_begun") == 1

    stop_at = f"/visits/{visit.pk}/bench/wait-stopped/"
    page = other.get(f"/visits/{visit.pk}/{card}").content.decode()
    stop = form_to(page, f"/visits/{visit.pk}/{card}", stop_at) | {"stop-because": "tray full"}
    end = form(other, visit, "bench/confirm/", "card-form", card) | {"done": "1"}
    assert tap(tab, visit, DRAIN, **{"short-wait": "dry"}).status_code == 303
    assert other.post(stop_at, stop).status_code == 409
    assert other.post(at, end | {"short-wait": "dry too"}).status_code in {409, 422}
    assert (kinds(visit).count("done"), "wait_stopped" in kinds(visit)) == (1, False)


def test_taken_back_nothing_of_it_is_left(tab, tourer):
    visit = tourer("engine_oil")
    begin(tab, visit)
    undo = form(tab, visit, "bench/undo/")
    assert tab.post(f"/visits/{visit.pk}/bench/undo/", undo).status_code == 303
    assert read(visit).state.items.keys() & {PLUG, f"wait/{DRAIN}"} == set()
    assert strip(tab) == ""


def test_a_wait_that_was_forgotten_holds_the_hand_back_and_leads_to_its_card(tab, tourer, clock):
    visit = tourer("engine_oil")
    begin(tab, visit)
    clock.on(days=1)
    page = tab.get(f"/visits/{visit.pk}/handback/").content.decode()
    assert "its wait was begun, and is not ended" in page
    assert f"card={DRAIN.replace('/', '%2F')}" in page or f"card={DRAIN}" in page


def test_beside_a_wait_comes_what_the_plan_puts_there_and_then_the_page_says_how_long(
    tab, desk, tourer, visit
):
    """An order made meanwhile begins nothing that the wait leads to, and is not made as though it had not begun."""
    here = tourer("engine_oil", "brake_wear")
    ready = {"engine": "warm", "place": "lift", "stand": "upright"}
    put(desk, here, ("states_found", {"states": ready}))
    put(desk, here, ("plan_taken", {"plan": planning.keep(desk.shop, new_order(read(here)))}))
    bench = f"/visits/{here.pk}/bench/"
    begin(tab, here)
    assert plan_progress(read(here)).fits
    work = read(here)
    made = new_order(work)
    assert made.possible
    assert DRAIN not in [step.name for step in made.answer.steps]
    waits = made.problem.now.running[0].unattended
    touched = work.steps[DRAIN].sets.keys()
    for step in made.answer.steps:
        one = work.steps[step.name]
        if touched & {*one.needs, *one.sets}:
            assert step.start >= waits, step.name
    put(desk, here, ("plan_taken", {"plan": planning.keep(desk.shop, made)}))
    assert plan_progress(read(here)).fits
    for _ in range(40):
        page = words(tab.get(bench))
        if "Nothing is left to do beside it" in page:
            break
        card = form(tab, here, "bench/confirm/", "card-form", "bench/")["card"]
        assert not touched & {*work.steps[card].needs, *work.steps[card].sets}, card
        put(desk, here, ("done", {"step": card}))
    assert "min for oil runs out." in page
    assert "Meanwhile:" in page, "the other machine in the shop"
    assert "Break the wait off" in page


def test_a_card_that_the_wait_leads_to_says_that_it_still_waits(tab, tourer):
    visit = tourer("engine_oil")
    begin(tab, visit)
    page = words(tab.get(f"/visits/{visit.pk}/bench/?card=engine_oil/close_up"))
    assert "still waits: oil runs out" in page


def test_what_is_left_is_ready_sooner_by_the_minutes_it_already_waited():
    def step(name: str, start: float, end: float, over: float) -> PlanStep:
        return PlanStep(
            name=name, kind="operation", start=start, end=end, tail_end=over, technicians=("A",)
        )

    drain, beside, after = (
        step("drain", 0, 3, 15),
        step("beside", 3, 8, 8),
        step("after", 15, 20, 20),
    )
    at = [
        (one.name, one.start, one.tail_end)
        for one in closed_up((drain, beside, after), (), {"drain": 4.0})
    ]
    assert at == [("drain", 0, 4), ("beside", 0, 5), ("after", 12, 17)]
