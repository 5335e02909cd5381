"""The order of work: shown with reasons, taken by hash, and never a dead end."""

import re
from xml.etree import ElementTree as ET

import pytest

from witnessmark.shop import content_store, store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import PlanKept
from witnessmark.shop.work import planning, solving
from witnessmark.shop.work.plan_followed import new_order, plan_progress
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

    assert "Ready in 47 min" in said
    assert "Proven: no order finishes sooner" in said
    assert re.search(r"Take the rear wheel off for Change the rear tyre 0:0\d 6 min", said)
    within = re.search(
        r"it takes between (\d\d) min and (?:(\d) h )?(?:(\d+) min )?in 8 cases of 10", said
    )
    assert int(within[1]) < 47 < int(within[2] or 0) * 60 + int(within[3] or 0)
    assert "Fit the rear wheel for Change the rear tyre" in said
    assert not PlanKept.objects.exists()


def test_taking_the_order_keeps_it_and_goes_to_the_bench(tab, visit):
    got = tab.post(path(visit, "take/"), fields(tab.get(path(visit))))

    work = read(visit)
    assert (got.status_code, got.url) == (303, f"/visits/{visit.pk}/bench/")
    assert planning.taken(work).answer.finish_minutes == 47
    assert plan_progress(work).fits
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
    assert "Ready in 3 min" in shown


def test_the_picture_names_the_stretches_and_what_is_open_meanwhile(tab, visit):
    """Once for a tablet, once for a phone; the wheel is off while the tyre is changed."""
    page = tab.get(path(visit)).content.decode()
    drawn = [ET.fromstring(svg) for svg in re.findall(r"<svg.*?</svg>", page)]
    assert [root.get("width") for root in drawn] == ["880", "340"]
    for root in drawn:
        said = [text.text for text in root.iter("{http://www.w3.org/2000/svg}text")]
        assert {"Work", "A", "B", "Rear wheel", "off"} <= set(said)


def test_a_long_order_opens_in_ten_stretches_that_hold_every_step_once(tab, visit):
    from witnessmark.planner import PlanStep
    from witnessmark.shop.pages.order.stretches import MOST, stretches

    names = [f"{job}/{n}" for n in range(9) for job in ("a", "b", "c")]
    steps = []
    for n, name in enumerate(["lift", *names, "lower"]):
        steps.append(PlanStep(name=name, kind="operation", start=float(n), end=n + 1.0,
                              tail_end=n + 1.0, technicians=("A",), for_=()))  # fmt: skip
    job_of = {name: name[0] for name in names}
    texts = {"a": "Oil", "b": "Chain", "c": "Tyre", "lift": "Onto the lift", "lower": "Off it"}
    texts |= {name: f"Step {name}" for name in names}
    found = stretches(steps, job_of, texts)

    assert len(found) == MOST
    assert [n for one in found for n in range(one.first, one.last + 1)] == list(range(29))
    assert {re.split(", |: ", one.words)[0] for one in found} <= {"Oil", "Chain", "Tyre"}
    assert len({one.words for one in found}) == MOST, "two of one name say what they begin with"
    [alone] = stretches(steps[:1], job_of, texts)
    assert alone.words == "Onto the lift"


def test_an_order_not_known_yet_is_said_to_be_planned_and_then_shown(
    tab, visit, settings, tmp_path, monkeypatch
):
    """With scripts the page asks again by itself; without, by a link. Worked out once, it is there at once."""
    settings.SOLVED = tmp_path / "solved"
    solving._solved.cache_clear()
    monkeypatch.setattr(planning, "AT_ONCE", 0)
    page = tab.get(path(visit))
    said = words(page)
    assert "Planning the work" in said
    assert "Take this order" not in said
    again = re.search(r'<a class="act" href="([^"]+)">Look again', page.content.decode())[1]
    assert f'hx-get="{again}"' in page.content.decode()

    assert "Take this order" in words(tab.get(again.replace("&amp;", "&")))
    assert "Take this order" in words(tab.get(path(visit)))


def test_what_is_saved_is_told_for_the_jobs_together(tab, visit):
    """The two jobs of the small book share nothing."""
    assert "share no access" in words(tab.get(path(visit, "saving/")))


@pytest.fixture
def morning(desk, machine, visit):
    """The book with a clearance to be read on a stone-cold engine; it has just been run."""
    from witnessmark.book.model import Condition, Job, Operation

    book = content_store.book_of(machine.shop, machine.book.current.sha256)
    engine = Condition(text="Engine", states=["warm", "stone_cold"], start="stone_cold",
                       state_words={"stone_cold": "stone cold"})  # fmt: skip
    measure = Operation(text="Measure the clearances", minutes=25, needs={"engine": ["stone_cold"]})
    run = Operation(text="Run the engine", minutes=5, sets={"engine": "warm"})
    book = book.model_copy(update={
        "conditions": book.conditions | {"engine": engine},
        "jobs": book.jobs | {"clearance": Job(text="Valve clearance", operations={"measure": measure}),
                             "run": Job(text="Run it", operations={"run": run})},
    })  # fmt: skip
    stored = content_store.keep_book(machine.shop, book)
    store.record_all(desk, visit, store.Ticket(str(new_id())), [
        ("book_pinned", {"revision": stored.current.sha256}),
        ("states_found", {"states": {"engine": "warm"}}),
        ("job_taken", {"job": "clearance"}),
    ])  # fmt: skip
    return visit


def test_where_there_is_no_order_it_says_what_stands_in_the_way_and_offers_the_rest(tab, morning):
    said = words(tab.get(path(morning)))

    assert "“Measure the clearances” (Valve clearance) needs Engine: stone cold" in said
    assert "Leave “Valve clearance” for later The rest is ready in 47 min." in said


def test_the_order_without_it_is_taken_and_the_job_waits_for_the_morning(tab, morning, desk):
    page = tab.get(path(morning), {"later": "clearance"})
    assert (
        tab.post(path(morning, "take/"), fields(page) | {"later": "clearance"}).status_code == 303
    )
    work = read(morning)
    assert planning.taken(work).later == ("clearance",)
    assert plan_progress(work).fits
    assert new_order(work).possible  # still without it

    for step in ("wheel_off", "tyre/swap"):
        store.record(desk, morning, "done", {"step": step})
    for index in (1, 2):
        mark = {
            "fastener": "wheel_bolts",
            "index": index,
            "step": "wheel_on",
            "set_nm": 60.0,
            "clicked": True,
        }
        store.record(desk, morning, "tightened", mark)
    for step in ("wheel_on", "lights/look"):
        store.record(desk, morning, "done", {"step": step})
    assert plan_progress(read(morning)).misfits == (
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


# ---------------------------------------------------------------- people, wishes, answers in time


def test_two_people_share_the_work_and_go_on_sharing_it(tab, visit, technician, helper):
    """The lights are looked at while the tyre is changed; a new order from the bench is for both again."""
    both = {"with": [str(technician.pk), str(helper.pk)]}
    page = tab.get(path(visit), both)
    said = words(page)
    assert "Ready in 44 min" in said
    assert (
        "Switch every light on Tomas Look at the lights" in said
        or "Switch every light on Mara" in said
    )

    assert tab.post(path(visit, "take/"), fields(page) | both).status_code == 303
    people = {t.name for t in planning.taken(read(visit)).problem.technicians}
    assert (
        people == {t.name for t in new_order(read(visit)).problem.technicians} == {"Mara", "Tomas"}
    )


def test_who_has_no_skill_and_no_time_is_not_given_the_work(tab, visit, technician, helper):
    """The helper is here for ten minutes a day only: nothing is planned for him outside them."""
    technician.hours = [[0, 1440]]
    technician.save()
    helper.hours, helper.does_everything = [[600, 610]], False
    helper.save()
    asked = {"with": [str(technician.pk), str(helper.pk)], "begin": "2026-11-25T09:00"}
    page = tab.get(path(visit), asked)
    assert "Ready in 47 min" in words(page)  # ten o'clock is too late to be of help
    assert "2026-11-25T09:00" in page.content.decode()
    assert tab.post(path(visit, "take/"), fields(page) | asked).status_code == 303


def test_a_wish_is_priced_shown_and_taken(tab, visit, desk):
    wish = {"kind": "first", "job": "tyre"}
    said = words(tab.get(path(visit, "wish/"), wish))
    assert "“Change the rear tyre” first: costs nothing. Proven." in said

    page = tab.get(path(visit), {"wish": "first?job=tyre"})
    shown = words(page)
    assert "“Change the rear tyre” first: costs nothing. Proven." in shown
    assert shown.index("Change the tyre ") < shown.index("Switch every light on")
    assert (
        tab.post(path(visit, "take/"), fields(page) | {"wish": "first?job=tyre"}).status_code == 303
    )
    taken = [step.name for step in planning.taken(read(visit)).answer.steps]
    assert taken.index("tyre/swap") < taken.index("lights/look")


def test_a_wish_that_cannot_be_says_so_and_one_half_said_says_what_is_missing(tab, visit):
    soon = {"kind": "ready", "time": "09:40", "begin": "2026-11-25T09:00"}
    assert "All ready by 0:40: not possible. Proven." in words(tab.get(path(visit, "wish/"), soon))
    assert "Choose another job" in words(
        tab.get(path(visit, "wish/"), {"kind": "before", "job": "tyre"})
    )
    assert tab.get(path(visit), {"wish": "gold?job=tyre"}).status_code == 400


def test_an_answer_is_in_time_as_long_as_it_costs_no_more(tab, visit, desk):
    """Lights agreed, the tyre not answered: they share nothing, so a yes is in time to the end."""
    from witnessmark.shop.work import pricing

    work = read(visit)
    sha256 = pricing.keep_offer(visit.shop, pricing.priced(work, ["tyre", "lights"]))
    store.record(desk, visit, "offered", {"estimate": sha256, "lines": ["tyre", "lights"]})
    assert "Nothing is agreed yet" in words(tab.get(path(visit, "moments/")))
    said = {"estimate": sha256, "by": work.state.owner, "how": "in person"}
    store.record(desk, visit, "answered", {"line": "lights", "verdict": "yes", **said})

    told = words(tab.get(path(visit, "moments/")))
    assert "Change the rear tyre A yes is in time until the work is finished" in told
    assert "order/moments/" in tab.get(path(visit)).content.decode()


def test_after_each_step_the_rest_of_the_order_taken_is_the_best_and_is_kept(tab, visit, desk):
    """The same figures as when it is planned anew, whoever asks; the order as it was taken."""
    tab.post(path(visit, "take/"), fields(tab.get(path(visit))))
    followed = planning.taken(read(visit))
    names = [step.name for step in followed.answer.steps]

    for place, name in enumerate(names[:-1], 1):
        store.record(desk, visit, "done", {"step": name})
        rest = new_order(read(visit))
        anew = solving.solved_once(rest.problem)
        assert [step.name for step in rest.answer.steps] == names[place:]
        assert rest.answer.status == anew.status == "optimal"
        assert rest.answer.finish_minutes == anew.finish_minutes
        assert rest.answer.attended_minutes == anew.attended_minutes


def test_the_page_says_by_what_time_what_is_left_is_done_in_the_hours_of_who_works(
    tab, visit, technician, desk
):
    """47 minutes from nine; Mara's break from half past nine to ten comes between. Half of it done: less is left."""
    nine = {"begin": "2026-11-25T09:00"}
    assert "Ready by 09:47" in words(tab.get(path(visit), nine))
    tab.post(path(visit, "take/"), fields(tab.get(path(visit))))
    technician.hours = [[480, 600], [630, 1080]]
    technician.save()
    assert "Ready by 09:47" in words(tab.get(path(visit), nine))
    late = words(tab.get(path(visit), {"begin": "2026-11-25T09:45"}))
    assert re.search(r"Ready by 11:0\d|Ready by 11:1\d", late)
    night = words(tab.get(path(visit), {"begin": "2026-11-25T17:50"}))
    assert re.search(r"Ready by 26 Nov 2026, 08:\d\d", night)

    for step in ("wheel_off", "lights/look"):  # in whichever order: nine minutes less
        store.record(desk, visit, "done", {"step": step})
    assert "Ready by 09:38" in words(tab.get(path(visit), nine))
    wont = {"step": "tyre/swap", "what": "part missing", "safe_now": "on its stand", "text": ""}
    store.record(desk, visit, "wont", wont)
    held = words(tab.get(path(visit), nine))
    assert "Waits for a part for “Change the tyre”." in held
    assert "Stays open for it: Rear wheel: off. Nothing more can be done until" in held
    assert not re.search(r"Ready by \d", held)


def test_past_midnight_no_time_of_day_is_named_without_the_hours_of_who_works(
    tab, visit, technician
):
    """47 minutes from 23:50: whoever has no hours set is not told a time at night."""
    said = words(tab.get(path(visit), {"begin": "2026-11-25T23:50"}))
    assert "Ready in 47 min" in said
    assert not re.search(r"Ready by \d", said)
    technician.hours = [[480, 1080]]
    technician.save()
    said = words(tab.get(path(visit), {"begin": "2026-11-25T23:50"}))
    assert "Ready by 26 Nov 2026, 08:47" in said


def test_a_step_says_what_is_done_while_it_goes_on_by_itself(tab, visit, desk, machine):
    """The lights are looked at while the tyre warms up on the rim."""
    book = content_store.book_of(machine.shop, machine.book.current.sha256)
    alone = {"unattended": 15.0, "waits_for": "the tyre warms up"}
    swap = book.jobs["tyre"].operations["swap"].model_copy(update=alone)
    tyre = book.jobs["tyre"].model_copy(update={"operations": {"swap": swap}})
    stored = content_store.keep_book(
        machine.shop, book.model_copy(update={"jobs": book.jobs | {"tyre": tyre}})
    )
    store.record(desk, visit, "book_pinned", {"revision": stored.current.sha256})
    said = words(tab.get(path(visit)))
    assert re.search(r"While the tyre warms up: step \d, “[^”]*light[^”]*”\.", said)
    assert re.search(r"Done while the tyre warms up: step \d, “[^”]*tyre[^”]*”\.", said)
    assert "the tyre warms up</text>" in tab.get(path(visit)).content.decode(), "on the timeline"


def test_a_step_says_why_it_stands_where_it_stands(tab, visit):
    said = words(tab.get(path(visit)))
    assert re.search(
        r"Take the rear wheel off for Change the rear tyre 0:0\d 6 min Why here: No other step has to",
        said,
    )
    assert "Needs first:" in said
    assert "Why here:" in said
    assert re.search(r"Rear wheel: off, by step \d, “Take the rear wheel off”\.", said)
    assert re.search(
        r"It can start from \d:\d\d to \d:\d\d without a later finish\.|everything is ready later",
        said,
    )
