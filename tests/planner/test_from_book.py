"""A book's jobs become a planning problem, and nothing that could matter is left out."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.ledger.bench import BOOK as BENCH
from tests.outside.planning.search import least_attended
from tests.shipped_books.planned import archetype
from witnessmark.book import Book, load_book_text, selection
from witnessmark.book.rides import ridden_again
from witnessmark.planner import Operation, Problem, compile_problem
from witnessmark.planner.problem.from_book import CompileError
from witnessmark.planner.problem.model import Condition, Move

TEXT = """
format = 1
name = "small"
title = "Small book"
archetype = true

[conditions.panniers]
text = "Panniers"
states = ["on", "off"]
start = "on"
finish = "as found"
asked = "Are the panniers on?"

[conditions.wheel]
text = "Wheel"
states = ["fitted", "off"]
start = "fitted"
finish = "fitted"
holds = { off = { lift = 1 } }

[conditions.engine]
text = "Engine"
states = ["cold", "warm"]
start = "cold"
lapse = { warm = { after = 40, to = "cold" } }

[conditions.cover]
text = "Cover"
states = ["on", "off"]
start = "on"
finish = "on"

[access.panniers_off]
text = "Panniers off"
minutes = 1
needs = { panniers = ["on"] }
sets = { panniers = "off" }

[access.panniers_on]
text = "Panniers on"
minutes = 1
needs = { panniers = ["off"] }
sets = { panniers = "on" }

[access.wheel_off]
text = "Wheel off"
minutes = 5
needs = { wheel = ["fitted"], panniers = ["off"] }
sets = { wheel = "off" }

[access.wheel_on]
text = "Wheel on"
minutes = 6.5
needs = { wheel = ["off"] }
sets = { wheel = "fitted" }

[access.cover_off]
text = "Cover off"
minutes = 2
needs = { cover = ["on"] }
sets = { cover = "off" }

[jobs.drive]
text = "Drive oil"

[jobs.drive.operations.drain]
text = "Drain"
minutes = 2
unattended = 10
waits_for = "oil runs out"
needs = { wheel = ["off"] }
place = "rear"
after = ["ride/ride"]

[jobs.drive.operations.fill]
text = "Fill"
minutes = 3
needs = { wheel = ["off"] }
after = ["drain"]

[jobs.ride]
text = "Ride"

[jobs.ride.operations.ride]
text = "Ride"
minutes = 12
needs = { wheel = ["fitted"] }
sets = { engine = "warm" }

[jobs.look]
text = "Look under the cover"

[jobs.look.operations.look]
text = "Look"
minutes = 1
needs = { cover = ["off"] }
"""
WITH_COVER_ON = """
[access.cover_on]
text = "Cover on"
minutes = 2
needs = { cover = ["off"] }
sets = { cover = "on" }
"""


@pytest.fixture(scope="module")
def small() -> Book:
    return load_book_text(TEXT + WITH_COVER_ON)


def test_access_steps_become_moves_and_operations_are_named_by_their_job(small):
    problem = compile_problem(small, ["drive", "ride"])
    assert [o.name for o in problem.operations] == ["drive/drain", "drive/fill", "ride/ride"]
    drain = problem.step("drive/drain")
    assert (drain.minutes, drain.unattended) == (2.0, 10.0)
    assert (drain.job, drain.place, drain.after) == ("drive", "rear", ("ride/ride",))
    assert problem.step("wheel_on").minutes == 6.5
    assert problem.step("drive/fill").after == ("drive/drain",)


def test_what_the_jobs_cannot_touch_is_left_out(small):
    problem = compile_problem(small, ["drive"])
    assert set(problem.conditions) == {"panniers", "wheel"}
    assert {m.name for m in problem.moves} == {
        "panniers_off",
        "panniers_on",
        "wheel_off",
        "wheel_on",
    }


def test_operations_of_jobs_not_taken_on_are_dropped_from_after(small):
    assert compile_problem(small, ["drive"]).step("drive/drain").after == ()


def test_what_is_done_is_left_out_and_waited_for_no_more(small):
    problem = compile_problem(small, ["drive"], done=["drive/drain"], states={"wheel": "off"})
    assert [o.name for o in problem.operations] == ["drive/fill"]
    assert problem.step("drive/fill").after == ()
    assert problem.conditions["wheel"].start == "off"


@pytest.mark.parametrize("found", ["on", "off"])
def test_a_state_as_found_is_the_state_to_leave_it_in(small, found):
    condition = compile_problem(small, ["drive"], states={"panniers": found}).conditions["panniers"]
    assert (condition.start, condition.finish) == (found, found)


def test_a_lift_that_one_machine_cannot_overload_is_no_part_of_the_problem(small):
    assert compile_problem(small, ["drive"]).conditions["wheel"].holds == {}
    assert compile_problem(small, ["drive"], resources={"lift": 1}).resources == {}


def test_a_shop_without_a_lift_keeps_what_holds_it(small):
    problem = compile_problem(small, ["drive"], resources={"lift": 0})
    assert problem.conditions["wheel"].holds == {"off": {"lift": 1}}
    assert problem.resources == {"lift": 0}


def test_a_state_set_but_never_seen_is_kept_unless_its_setters_keep_apart():
    """Two rides never overlap on one pair of hands, but only a shared condition says so."""
    alone = load_book_text(TEXT + WITH_COVER_ON)
    assert "engine" in compile_problem(alone, ["ride"]).conditions
    apart = TEXT.replace(
        'sets = { engine = "warm" }', 'sets = { engine = "warm", wheel = "fitted" }'
    )
    problem = compile_problem(load_book_text(apart + WITH_COVER_ON), ["ride"])
    assert "engine" not in problem.conditions
    assert problem.step("ride/ride").sets == {"wheel": "fitted"}


@pytest.mark.parametrize(
    ("given", "place", "violation", "expected"),
    [
        ({"jobs": ["drives"]}, "jobs", 'no job "drives" in small', 'did you mean "drive"?'),
        (
            {"jobs": ["drive"], "done": ["drive/drian"]},
            "done",
            'no operation "drive/drian" in small',
            'did you mean "drive/drain"?',
        ),
        (
            {"jobs": ["drive"], "states": {"whel": "off"}},
            "states",
            'no condition "whel" in small',
            'did you mean "wheel"?',
        ),
        (
            {"jobs": ["drive"], "states": {"wheel": "of"}},
            "states.wheel",
            'no state "of"',
            'did you mean "off"?',
        ),
    ],
)
def test_an_unknown_name_is_told_with_the_nearest(small, given, place, violation, expected):
    with pytest.raises(CompileError) as error:
        compile_problem(small, **given)
    assert error.value.args == (place, violation, expected)


def test_a_state_found_that_no_step_can_put_right_is_told_before_planning():
    book = archetype("shaft_drive_tourer")
    with pytest.raises(CompileError) as error:
        compile_problem(book, ["engine_oil"], states={"final_drive": "both plugs out"})
    assert error.value.place == "shaft_drive_tourer conditions.final_drive"
    assert error.value.problem == (
        'Final drive plugs: found "both plugs out", must be left "closed", '
        "and no step of the chosen jobs leads there"
    )


def test_only_the_job_that_reads_valves_needs_a_clock():
    """Every ride warms the valves; only who reads them cold must know for how long."""
    book = archetype("classic_twin")  # screws: no camshaft comes out
    for service in book.services:
        jobs = selection(book, [service])
        clocks = [n for n, c in compile_problem(book, jobs).conditions.items() if c.lapse]
        assert clocks == (["valve_gear"] if "valves" in jobs else [])


# ---------------------------------------------------------------- leaving out is harmless

NAMES = ("a", "b", "c", "d")


@st.composite
def books(draw: st.DrawFn) -> Book:
    """A random book: four conditions of two states, moves most ways, two jobs, what must never be."""
    states = ["x", "y"]

    def some(least: int, most: int) -> dict[str, str]:
        names = draw(st.lists(st.sampled_from(NAMES), unique=True, min_size=least, max_size=most))
        return {name: draw(st.sampled_from(states)) for name in names}

    def step(sets: dict[str, str]) -> dict:
        needs = {name: [state] for name, state in some(0, 1).items()}
        return {"text": "t", "minutes": draw(st.integers(1, 30)) / 10, "needs": needs, "sets": sets}

    conditions = {
        name: {
            "text": name,
            "states": states,
            "start": "x",
            "finish": draw(st.sampled_from([None, "x", "y", "as found"])),
        }
        for name in NAMES
    }
    rows = [row for row in (some(2, 3) for _ in range(2)) if set(row.values()) != {"x"}]
    never = {f"n{i}": {"when": {n: [s] for n, s in row.items()}} for i, row in enumerate(rows)}
    ways = [(name, state) for name in NAMES for state in states if draw(st.integers(0, 9))]
    moves = {f"{name}_{state}": step({name: state}) for name, state in ways}
    jobs = {f"j{i}": {"o": step(some(0, 2)), "p": step(some(0, 2))} for i in (1, 2)}
    return Book.model_validate(
        {
            "format": 1,
            "name": "random",
            "title": "Random",
            "conditions": conditions,
            "never": {name: row | {"because": "w"} for name, row in never.items()},
            "access": moves,
            "jobs": {name: {"text": "j", "operations": both} for name, both in jobs.items()},
        }
    )


@settings(max_examples=400)
@given(books())
def test_leaving_out_changes_neither_whether_there_is_a_plan_nor_its_least_minutes(book):
    try:
        problem = compile_problem(book, ["j1"])
    except CompileError:
        assert least_attended(_whole(book, "j1")) is None
        return
    kept, whole = least_attended(problem), least_attended(_whole(book, "j1"))
    assert (kept and kept[0]) == (whole and whole[0])


def _whole(book: Book, job: str) -> Problem:
    """The problem with everything in it, written down without the compiler."""
    return Problem(
        conditions={
            name: Condition(
                states=tuple(c.states),
                start=c.start,
                finish=c.start if c.finish == "as found" else c.finish,
            )
            for name, c in book.conditions.items()
        },
        never=tuple({n: tuple(s) for n, s in row.when.items()} for row in book.never.values()),
        moves=tuple(Move(name=n, **_plain(s)) for n, s in book.access.items()),
        operations=tuple(
            Operation(name=f"{job}/{n}", **_plain(s)) for n, s in book.jobs[job].operations.items()
        ),
    )


def _plain(step) -> dict:
    return {"minutes": step.minutes, "needs": step.needs, "sets": step.sets}


def test_a_ride_comes_after_the_work_it_proves_though_the_book_does_not_say():
    """Brake and drain plug open what a ride proves; covers and what is measured do not."""
    problem = compile_problem(BENCH, ["ride", "brake", "drive_oil", "covers", "linings"])
    assert set(problem.step("ride/ride").after) == {
        "brake/push_back",
        "drive_oil/drain",
        "linings/renew",
    }
    assert compile_problem(BENCH, ["ride", "covers"]).step("ride/ride").after == ()


def test_work_that_only_the_way_to_it_takes_apart_asks_for_a_ride_too():
    """A new tyre loosens nothing itself; the wheel that comes off for it does."""
    tourer = archetype("shaft_drive_tourer")
    over = ["rear_balance/balance", "rear_tyre/change"]
    ride = {"ride_after/ride", "ride_after/look"}
    assert ridden_again(tourer, over) == (set(over), ride)
    assert ridden_again(tourer, ["air_filter/change"]) == (set(), set())
    assert ridden_again(tourer, ["engine_oil/drain"])[1] == {
        "ride_after/ride",
        "ride_after/look",
        "engine_oil/level_after",
    }
