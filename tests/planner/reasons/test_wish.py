"""What a wish costs: the difference of two proven plans, and the plan holds it."""

import pytest

from tests.planner.page_example import plain_example
from witnessmark.planner import (
    Wish,
    WishError,
    plan,
    price_in_words,
    price_of_wish,
    problem_from,
    read_wish,
)

JOBS = {"final drive oil": "Final drive oil", "lamp": "Rear lamp"}


@pytest.fixture(scope="module")
def two_jobs():
    """The lamp takes ten minutes, which fill the wait for the oil; done first, nothing fills it."""
    data = plain_example()
    data["operations"].append(
        {"name": "lamp/look", "minutes": 9, "job": "lamp", "needs": {}, "sets": {}}
    )
    data["technicians"] = [{"name": "A"}, {"name": "B", "skills": []}]
    problem = problem_from(data)
    return problem, plan(problem)


def over(answer, names):
    return max(step.tail_end for step in answer.steps if step.name in names)


def test_a_job_first_costs_what_no_more_goes_on_beside_it(two_jobs):
    problem, answer = two_jobs
    price = price_of_wish(problem, answer, Wish("first", "lamp"), plan)

    first = min(
        s.start for s in price.answer.steps if s.kind == "operation" and s.name != "lamp/look"
    )
    assert over(price.answer, {"lamp/look"}) <= first
    assert price.later.proven
    assert price.answer.finish_minutes == answer.finish_minutes + price.later.minutes
    assert answer.finish_minutes == 33.5  # two technicians; alone it is 42


def test_alone_the_lamp_first_makes_it_nine_minutes_later_less_what_fills_the_wait():
    """One technician: 42 minutes with the lamp in the wait of 9.5; first, the wait stays empty: 9 more."""
    data = plain_example()
    data["operations"].append(
        {"name": "lamp/look", "minutes": 9, "job": "lamp", "needs": {}, "sets": {}}
    )
    problem = problem_from(data)
    answer = plan(problem)
    price = price_of_wish(problem, answer, Wish("first", "lamp"), plan)
    assert (answer.finish_minutes, price.answer.finish_minutes) == (42.0, 51.0)
    assert price_in_words(price, JOBS) == (
        "“Rear lamp” first: ready 9 min later, no more labour. Proven."
    )


def test_a_time_to_be_ready_is_kept_or_proven_out_of_reach(two_jobs):
    problem, answer = two_jobs
    price = price_of_wish(problem, answer, Wish("ready", "lamp", minute=9.0), plan)
    assert over(price.answer, {"lamp/look"}) <= 9.0
    none = price_of_wish(problem, answer, Wish("ready", minute=33.4), plan)
    assert none.later is None
    assert price_in_words(none, JOBS) == "All ready by 0:33: not possible. Proven."


def test_who_is_wished_for_does_it(two_jobs):
    problem, answer = two_jobs
    price = price_of_wish(problem, answer, Wish("by", "lamp", who="B"), plan)
    assert {s.technicians for s in price.answer.steps if s.name == "lamp/look"} == {("B",)}


def test_wishes_are_read_as_they_are_said():
    said = {
        "rear lamp first": Wish("first", "lamp"),
        "lamp before final drive oil": Wish("before", "lamp", than="final drive oil"),
        "ready by 1:30": Wish("ready", minute=90.0),
        "lamp by 45": Wish("ready", "lamp", minute=45.0),
        "lamp with jon": Wish("by", "lamp", who="Jonas"),
    }
    assert {text: read_wish(text, JOBS, ["Jonas", "Tamsin"]) for text in said} == said


@pytest.mark.parametrize(
    "text", ["", "soon please", "chain first", "lamp by noon", "lamp with Ada"]
)
def test_what_is_no_wish_says_what_would_be_right(text):
    with pytest.raises(WishError) as caught:
        read_wish(text, JOBS, ["Jonas"])
    assert caught.value.expected
