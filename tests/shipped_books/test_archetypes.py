"""The shipped books: no machine's figures, no work that cannot be done, the usual cautions."""

import re

import pytest

from tests.shipped_books.planned import BOOKS, archetype, book
from witnessmark.book import archetypes, load_book, selection
from witnessmark.book.figures import figure_state
from witnessmark.planner import compile_problem, plan

ARCHETYPES = sorted(archetypes())
RIDE = "ride_after/ride"
READ_ELSEWHERE = {"brake_fluid_test", "wheel_line", "look_over"}  # whose cards read it again
KEPT_IN = {  # what is dangerous there: a machine without any of these needs no word of it
    "lifting": {"front_brake"},
    "hot_oil": {"engine_oil", "gearbox_oil", "final_drive"},
    "brake_fluid": {"clutch"},
    "fuel": {"fuel"},
    "road_test": {"front_brake"},
}


@pytest.mark.parametrize("name", ARCHETYPES)
def test_an_archetype_holds_no_figure_of_any_machine(name):
    figures = archetype(name).figures
    assert {figure_state(figure) for figure in figures.values()} == {"missing"}


@pytest.mark.parametrize("name", ARCHETYPES)
def test_an_archetype_says_at_its_head_that_its_minutes_are_invented(name):
    head = archetypes()[name].read_text(encoding="utf-8").partition("format = 1")[0]
    assert "All minutes are INVENTED ESTIMATES" in head


@pytest.mark.parametrize("name", ARCHETYPES)
@pytest.mark.parametrize("danger", ["lifting", "hot_oil", "brake_fluid", "fuel", "road_test"])
def test_where_work_can_hurt_somebody_the_card_says_so_and_defers(name, danger):
    kind = archetype(name)
    if danger not in kind.cautions:
        assert not KEPT_IN[danger] & kind.circuits.keys()
        return
    text = kind.cautions[danger].text
    assert "manual" in text or "law" in text
    shown = [s for s in kind.access.values() if danger in s.cautions]
    shown += [o for j in kind.jobs.values() for o in j.operations.values() if danger in o.cautions]
    assert shown


@pytest.mark.parametrize("name", ARCHETYPES)
def test_a_job_can_be_done_with_no_more_than_it_brings(name):
    """Every sixth, from another one on in each book; all of them in the long run."""
    kind = archetype(name)
    can_be_done(kind, list(kind.jobs)[ARCHETYPES.index(name) % 6 :: 6])


@pytest.mark.long
@pytest.mark.parametrize("name", ARCHETYPES)
def test_every_job_can_be_done_with_no_more_than_it_brings(name):
    kind = archetype(name)
    can_be_done(kind, kind.jobs)


def can_be_done(kind, jobs):
    for job in jobs:
        problem = compile_problem(kind, selection(kind, [job]))
        assert plan(problem, objective="attended").status == "optimal", job


@pytest.mark.parametrize("name", ARCHETYPES)
def test_the_ride_after_comes_after_all_work_but_what_the_book_keeps_for_later(name):
    """Common practice, no source: what is looked at after the ride, and the reminder, may wait."""
    kind = archetype(name)
    before = set(kind.jobs["ride_after"].operations["ride"].after)
    while more := {e for o in before for e in _after(kind, o)} - before:
        before |= more
    every = {f"{j}/{o}" for j, job in kind.jobs.items() for o in job.operations}
    later = {o for o in every - before if RIDE not in o}
    assert later <= {
        "ride_after/look",
        "engine_oil/level_after",
        "coolant/level",
        "codes/read_after",
        "service_reminder/reset",
        "chain/oil",
        "storage/park",
        "storage/run",
        "storage/fuel",
        "storage/battery",
    }


def _after(kind, name: str) -> list[str]:
    job, _, operation = name.partition("/")
    after = kind.jobs[job].operations[operation].after
    return [earlier if "/" in earlier else f"{job}/{earlier}" for earlier in after]


@pytest.mark.parametrize("name", sorted(BOOKS))
def test_a_demo_book_says_that_it_is_invented_and_so_does_every_source(name):
    demo = book(name)
    assert demo.invented
    sources = [figure.source for figure in demo.figures.values() if figure.source]
    assert sources
    assert all(source.startswith("invented workshop manual, p. ") for source in sources)


@pytest.mark.parametrize("name", ARCHETYPES)
def test_what_wears_on_brakes_and_tyres_holds_the_ride_and_can_be_read_again(name):
    """Common practice, no source. The job that puts such a reading right reads the new part, or another card does."""
    kind = archetype(name)
    for reading in kind.readings.values():
        worn = any(word in reading.text.lower() for word in ("pads", "disc", "least tread"))
        assert reading.safety or not worn, reading.text
    readers = {
        r: {j for j, job in kind.jobs.items() for o in job.operations.values() if r in o.readings}
        for r, reading in kind.readings.items()
        if reading.safety
    }
    for job_id, job in kind.jobs.items():
        for reading in set(job.early) & readers.keys():
            assert readers[reading] & {job_id, *READ_ELSEWHERE}, (job_id, reading)


@pytest.mark.parametrize("name", ARCHETYPES)
def test_a_held_lever_is_shown_by_waiting_and_draining_is_not(name):
    """Dry under pressure is seen after the minutes; what runs out is followed by a card that sees it."""
    kind = archetype(name)
    every = {f"{j}/{o}": x for j, job in kind.jobs.items() for o, x in job.operations.items()}
    shown = {step for step, x in {**kind.access, **every}.items() if x.shown_by_waiting}
    held = {step for step in every if re.match(r"(\w+_)?brake_fluid/hold", step)}
    assert shown == held
    assert bool(held) == ("brake_fluid" in kind.fluids)


@pytest.mark.parametrize("name", ARCHETYPES)
def test_what_starts_the_engine_or_rolls_off_the_lift_or_rides_waits_for_its_gate(name):
    kind = archetype(name)
    assert {s for s, x in kind.access.items() if x.gate == "wheels on the ground"} == {"off_lift"}
    for job in kind.jobs.values():
        for operation in job.operations.values():
            if "exhaust" in operation.cautions:
                assert operation.gate == "starter", operation.text
            if operation.place == "road":
                assert operation.gate == "road test", operation.text
    if kind.build.get("engine") != {"is": "electric"}:
        assert kind.access["warm_engine"].gate == "starter"


@pytest.mark.parametrize("name", ARCHETYPES)
def test_no_engine_is_started_with_a_spark_plug_loose(name):
    """Common practice, no source: compression throws a loose plug out, and its thread with it."""
    plugs = [f for f in archetype(name).fasteners.values() if f.kind == "spark plug"]
    assert bool(plugs) == (name != "electric")  # which has none
    assert {plug.gate for plug in plugs} <= {"starter"}


REMARK = "a remark: what is noted says what comes next"
AT_ONCE = "topped up or drawn off on the spot, and read again"
OPENED = "the engine or gearbox is opened for it: no job of these books"
TRACED = "what causes it is traced first: no job of these books"
NO_JOB = {  # by reading that no job of the book puts right: why a line in own words is offered
    "before_sheet": REMARK, "after_sheet": REMARK, "long_ride_look": REMARK, "purchase_look": REMARK,
    "purchase_papers": REMARK, "inspection_look": REMARK, "waking_look": REMARK, "reminder": REMARK,
    "codes_before": TRACED, "codes_after": TRACED, "charging_voltage": TRACED, "standing_draw": TRACED,
    "cranking_lost": TRACED, "stand_switch": TRACED, "headlamp_aim": TRACED, "fall_frame": TRACED, "fall_leaks": TRACED,
    "wheel_line": TRACED, "high_voltage_look": TRACED, "kick_look": OPENED, "compression": OPENED, "leak_down": OPENED,
    "leak_to": OPENED, "oil_pressure": OPENED, "oil_plug_look": OPENED, "drive_magnet": OPENED,
    "gearbox_magnet": OPENED, "front_drum": OPENED, "rear_drum": OPENED, "engine_oil_level": AT_ONCE,
}  # fmt: skip


def without_a_job(kind):
    named = {reading for job in kind.jobs.values() for reading in job.early}
    judged = {name for name, one in kind.readings.items() if one.low or one.high or one.bad}
    return judged - named


@pytest.mark.parametrize("name", ARCHETYPES)
def test_every_reading_with_limits_names_the_job_that_puts_it_right(name):
    """Common practice, no source."""
    kind = archetype(name)
    left = without_a_job(kind)
    assert left <= NO_JOB.keys()


def test_no_reading_is_excused_that_every_book_has_a_job_for():
    every = {one for path in archetypes().values() for one in without_a_job(load_book(path))}
    assert NO_JOB.keys() - every == set()


@pytest.mark.parametrize("name", ARCHETYPES)
def test_what_can_be_found_at_the_door_is_looked_at_by_a_step(name):
    """What the machine has, and a job of its book can look at; what it has not is said here, with why."""
    kind = archetype(name)
    looked = {
        found
        for job in kind.jobs.values()
        for step in job.operations.values()
        for found in step.for_findings
    }
    ends = {
        f"{word}, {end}"
        for end in ("front", "rear")
        for word in ("worn tyre", "flat tyre", "noisy brake", "soft brake")
    }
    assert looked >= ends | {
        "steering loose",
        "brake light out",
        "stand or lever bent",
    }
