"""The order of work: shown with reasons, taken by hash, and never a dead end."""

import re
from xml.etree import ElementTree as ET

import pytest

from witnessmark.shop import kept, store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import PlanKept
from witnessmark.shop.work import planning
from witnessmark.shop.work.course import course_of, new_order
from witnessmark.shop.work.visit import read


@pytest.fixture
def tab(technician, client_of):
    return client_of(technician)


def path(visit, rest=""):
    return f"/visits/{visit.pk}/order/{rest}"


def fields(page) -> dict:
    said = page.content.decode()
    return dict(re.findall(r'name="(entry_id|plan)" value="([^"]+)"', said)) | {
        "seen": re.search(r'name="seen" value="([^"]*)"', said)[1].replace("&quot;", '"')}  # fmt: skip


def words(page) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.content.decode()))


def test_the_order_is_shown_with_reasons_and_nothing_is_kept(tab, visit):
    said = words(tab.get(path(visit)))

    assert "Over after 47 min" in said
    assert "Proven: no order is over sooner" in said
    assert "Take the rear wheel off for Change the rear tyre 0:00 6 min" in said
    assert "Fit the rear wheel for Change the rear tyre" in said
    assert not PlanKept.objects.exists()


def test_taking_the_order_keeps_it_and_goes_to_the_bench(tab, visit):
    got = tab.post(path(visit, "take/"), fields(tab.get(path(visit))))

    work = read(visit)
    assert (got.status_code, got.url) == (303, f"/visits/{visit.pk}/bench/")
    assert planning.taken(work).answer.finish_minutes == 47
    assert course_of(work).fits
    assert "This order is followed at the bench." in words(tab.get(path(visit)))


def test_an_order_nobody_looked_at_is_not_taken(tab, visit, desk):
    """Between looking and taking, somebody leaves a job."""
    sent = fields(tab.get(path(visit)))
    store.record(desk, visit, "job_left", {"job": "lights"})
    got = tab.post(path(visit, "take/"), sent)

    assert got.status_code == 422
    assert store.state(visit).plan is None


def test_only_what_the_owner_agreed_to_is_in_the_order(tab, visit, desk):
    work = read(visit)
    made = planning.planned(work, ["tyre", "lights"])
    assert made.possible
    from witnessmark.shop.work import pricing

    sha256 = pricing.keep_offer(visit.shop, pricing.priced(work, ["tyre", "lights"]))
    store.record(desk, visit, "offered", {"estimate": sha256, "lines": ["tyre", "lights"]})
    said = {"estimate": sha256, "verdict": "yes", "by": work.state.owner, "how": "in person"}
    store.record(desk, visit, "answered", {"line": "lights", **said})

    shown = words(tab.get(path(visit)))
    assert "the owner has not answered: Change the rear tyre" in shown
    assert "Over after 3 min" in shown


def test_the_picture_is_drawn_for_paper_and_night_from_an_address_of_its_own(tab, visit):
    drawn = {}
    for theme in ("paper", "night"):
        got = tab.get(path(visit, "picture.svg"), {"theme": theme, "size": "wide"})
        assert got["Content-Type"] == "image/svg+xml"
        drawn[theme] = ET.fromstring(got.content)
        said = "".join(drawn[theme].itertext())
        assert "Change the rear tyre" in said
        assert "Access" in said
    assert ET.tostring(drawn["paper"]) != ET.tostring(drawn["night"])
    assert tab.get(path(visit, "picture.svg"), {"theme": "pink"}).status_code == 400


def test_what_is_saved_is_told_for_the_jobs_together(tab, visit):
    """The two jobs of the small book share nothing."""
    assert "share no access" in words(tab.get(path(visit, "saving/")))


@pytest.fixture
def morning(desk, machine, visit):
    """The book with a clearance to be read on a stone-cold engine; it has just been run."""
    from witnessmark.book.model import Condition, Job, Operation

    book = kept.book_of(machine.shop, machine.book.current.sha256)
    engine = Condition(text="Engine", states=["warm", "stone_cold"], start="stone_cold",
                       state_words={"stone_cold": "stone cold"})  # fmt: skip
    measure = Operation(text="Measure the clearances", minutes=25, needs={"engine": ["stone_cold"]})
    run = Operation(text="Run the engine", minutes=5, sets={"engine": "warm"})
    book = book.model_copy(update={
        "conditions": book.conditions | {"engine": engine},
        "jobs": book.jobs | {"clearance": Job(text="Valve clearance", operations={"measure": measure}),
                             "run": Job(text="Run it", operations={"run": run})},
    })  # fmt: skip
    stored = kept.keep_book(machine.shop, book)
    store.record_all(desk, visit, store.Ticket(str(new_id())), [
        ("book_pinned", {"revision": stored.current.sha256}),
        ("states_found", {"states": {"engine": "warm"}}),
        ("job_taken", {"job": "clearance"}),
    ])  # fmt: skip
    return visit


def test_where_there_is_no_order_it_says_what_stands_in_the_way_and_offers_the_rest(tab, morning):
    said = words(tab.get(path(morning)))

    assert "“Measure the clearances” (Valve clearance) needs Engine: stone cold" in said
    assert "Leave “Valve clearance” for later The rest is over after 47 min." in said


def test_the_order_without_it_is_taken_and_the_job_waits_for_the_morning(tab, morning, desk):
    page = tab.get(path(morning), {"later": "clearance"})
    assert (
        tab.post(path(morning, "take/"), fields(page) | {"later": "clearance"}).status_code == 303
    )
    work = read(morning)
    assert planning.taken(work).later == ("clearance",)
    assert course_of(work).fits
    assert new_order(work).possible  # still without it

    for step in ("wheel_off", "tyre/swap", "wheel_on", "lights/look"):
        store.record(desk, morning, "done", {"step": step})
    assert course_of(read(morning)).misfits == (
        "“Valve clearance” is to be done and is not in this order",
    )
    store.record(desk, morning, "states_found", {"states": {"engine": "stone_cold"}})
    assert [step.name for step in new_order(read(morning)).answer.steps] == ["clearance/measure"]


def test_an_engine_gone_cold_is_said_with_one_tap(tab, morning):
    page = tab.get(path(morning))
    assert "Engine: stone cold, I have looked" in words(page)
    got = tab.post(path(morning, "stands/"), fields(page) | {"stand": "engine/stone_cold"})

    assert got.status_code == 303
    assert "Measure the clearances" in words(tab.get(path(morning)))
    assert "Take this order" in words(tab.get(path(morning)))
