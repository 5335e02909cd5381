"""Which jobs are meant, and which steps they may call on."""

import pytest

from tests.shipped_books.planned import archetype
from witnessmark.book import (
    BookError,
    access_for,
    load_book_text,
    selection,
    steps,
)
from witnessmark.book.select import in_turn, with_brought
from witnessmark.planner import compile_problem, plan

PAIR = ["case_off", "case_on", "off_lift", "onto_lift", "wheel_off", "wheel_on"]


@pytest.mark.parametrize(
    ("names", "jobs"),
    [
        (["annual"], ["final_drive_oil", "ride"]),
        (["rear_tyre"], ["rear_tyre", "ride"]),
        (["rear_tyre", "annual", "rear_tyre"], ["rear_tyre", "final_drive_oil", "ride"]),
        ([], []),
    ],
    ids=["a service", "a job and what it brings", "each once", "nothing"],
)
def test_services_and_jobs_are_resolved_in_the_order_named(shaft, names, jobs):
    assert selection(shaft, names) == jobs


def test_an_unknown_name_is_told_with_the_nearest(shaft):
    with pytest.raises(BookError) as caught:
        selection(shaft, ["final_drive_oli"])
    assert caught.value.args == (
        "shaft",
        'no job or service "final_drive_oli"',
        'did you mean "final_drive_oil"?',
    )


def test_steps_are_access_steps_and_operations_by_name(shaft):
    assert set(steps(shaft)) == {
        *PAIR,
        *(f"final_drive_oil/{name}" for name in ("crack", "drain", "fill", "level")),
        *("rear_tyre/swap", "ride/ride", "ride/look"),
    }


def test_access_is_what_leads_there_and_back(shaft):
    """The wheel comes off on the lift, with the side case off; the ride calls on nothing."""
    assert access_for(shaft, ["final_drive_oil"]) == PAIR
    assert access_for(shaft, ["ride"]) == []
    assert access_for(shaft, []) == []


DETOUR = """
format = 1
name = "detour"
title = "Battery"
archetype = true
[conditions.battery]
text = "Battery"
states = ["alone", "supported", "off"]
start = "alone"
finish = "alone"
[access]
support = { text = "a", minutes = 1, needs = { battery = ["alone"] }, sets = { battery = "supported" } }
release = { text = "b", minutes = 1, needs = { battery = ["supported"] }, sets = { battery = "alone" } }
take_off = { text = "c", minutes = 1, needs = { battery = ["alone"] }, sets = { battery = "off" } }
put_on = { text = "d", minutes = 1, needs = { battery = ["off"] }, sets = { battery = "alone" } }
[jobs]
codes = { text = "e", operations.read = { text = "f", minutes = 1, needs = { battery = ["supported"] } } }
change = { text = "g", operations.swap = { text = "h", minutes = 1, needs = { battery = ["off"] } } }
"""


def test_a_detour_that_comes_back_to_its_start_is_no_access():
    """To support the battery nobody takes it off and puts it on again first."""
    book = load_book_text(DETOUR)
    assert access_for(book, ["codes"]) == ["release", "support"]
    assert access_for(book, ["change"]) == ["put_on", "take_off"]


def test_what_must_never_be_calls_on_access_as_a_need_does():
    """With a state forbidden beside one the job sets, the way out of it is called on."""
    text = (
        DETOUR
        + """
[conditions.key]
text = "Ignition"
states = ["on", "off"]
start = "on"
[access.key_off]
text = "i"
minutes = 1
sets = { key = "off" }
[never.live]
when = { battery = ["off"], key = ["on"] }
because = "sparks"
"""
    )
    book = load_book_text(text)
    assert access_for(book, ["change"]) == ["key_off", "put_on", "take_off"]
    assert access_for(book, ["codes"]) == ["release", "support"]


def test_operations_come_behind_those_they_follow(shaft):
    """Whatever the order of their ids."""
    assert in_turn(shaft, "final_drive_oil") == ["crack", "drain", "fill", "level"]
    assert in_turn(shaft, "ride") == ["ride", "look"]


PLANNED = [
    ("belt_drive_scooter", "v_belt"),
    ("chain_drive_single", "brake_wear"),
    ("chain_drive_single", "fork_oil"),
    ("shaft_drive_tourer", "look_over"),
    ("shaft_drive_tourer", "rear_pads"),
]


@pytest.mark.parametrize(("name", "job"), PLANNED, ids=["/".join(pair) for pair in PLANNED])
def test_a_plan_calls_on_no_other_access(name, job):
    """The solver knows nothing of `access_for`: its moves, back and forth, are all among them."""
    book = archetype(name)
    jobs = with_brought(book, [job])
    answer = plan(compile_problem(book, jobs))
    moves = {step.name for step in answer.steps if step.kind == "move"}
    assert answer.status == "optimal"
    assert moves
    assert moves <= set(access_for(book, jobs))


def test_access_is_no_more_than_a_plan_takes_where_there_is_one_way_only():
    book = archetype("chain_drive_single")
    answer = plan(compile_problem(book, ["brake_wear"]))
    moves = {step.name for step in answer.steps if step.kind == "move"}
    assert set(access_for(book, ["brake_wear"])) == moves
