"""Reasons: for what each step is done, what a wait waits for, room, saving, and why there is no plan."""

import pytest

from benchmarks.tourer import tourer
from tests.planner.page_example import plain_example
from witnessmark.planner import (
    conflict_in_words,
    plan,
    problem_from,
    saving,
    slack,
    wait_in_words,
    waits,
)
from witnessmark.planner.explain.slack import waits_of_each


@pytest.fixture(scope="module")
def example():
    problem = problem_from(plain_example())
    return problem, plan(problem)


def test_a_step_that_only_restores_is_done_for_what_it_undoes(example):
    _, answer = example
    reasons = {step.name: step.for_ for step in answer.steps}
    assert reasons["neutral"] == ("crack fill plug",)
    assert reasons["wheel on"] == reasons["off lift"] == ("crack fill plug", "drain")
    last_engage = [step.for_ for step in answer.steps if step.name == "engage gear"][-1]
    assert last_engage == ("crack fill plug", "drain")


def test_a_move_that_only_keeps_clear_of_a_forbidden_combination_has_a_reason():
    data = plain_example()
    for move in data["moves"]:
        if move["name"] == "wheel off":
            del move["needs"]["place"]
    answer = plan(problem_from(data))
    assert {s.for_ for s in answer.steps if s.name == "onto lift"} == {("crack fill plug", "drain")}


def test_every_move_of_a_book_has_a_reason():
    answer = plan(problem_from(tourer()))
    assert [step.name for step in answer.steps if not step.for_] == []


def test_a_wait_says_what_it_waits_for(example):
    (wait,) = waits(*example)
    assert (wait.begin, wait.end, wait.waits_for) == (14.5, 24.0, ("drain",))
    assert wait_in_words(wait) == '9.5 min before "drain plug in": waiting for "drain" to be over'


def test_where_two_work_each_ones_wait_says_what_he_waits_for():
    """Bo may only look at the lamp, once the oil is out: he waits from the beginning."""
    data = plain_example()
    data["technicians"] = [{"name": "Ann"}, {"name": "Bo", "skills": ["lamps"]}]
    data["operations"].append({"name": "lamp", "minutes": 2, "needs": {}, "sets": {}, "skills": ["lamps"],
                               "after": ["drain"]})  # fmt: skip
    for step in [*data["moves"], *data["operations"]]:
        step.setdefault("skills", ["oil"])
    data["technicians"][0]["skills"] = ["oil"]
    problem = problem_from(data)
    found = {(w.who, w.before): w for w in waits_of_each(problem, plan(problem))}
    assert found["Bo", "lamp"].waits_for == ("drain",)
    assert (found["Bo", "lamp"].begin, found["Bo", "lamp"].end) == (0.0, 24.0)
    assert found["Ann", "drain plug in"].waits_for == ("drain",)


def test_room_is_what_the_order_and_the_finish_leave(example):
    """All is critical but the gear, engaged at any time while the oil drains."""
    found = [r for r in slack(*example) if r.earliest != r.latest]
    assert [(r.step, r.earliest, r.latest) for r in found] == [("engage gear", 14.0, 23.5)]


def test_saving_is_the_sum_alone_less_the_plan():
    """Both jobs take the wheel off; alone each pays for that."""
    problem = problem_from(tourer(["drive oil", "rear tyre"]))
    answer = plan(problem)
    found = saving(problem, answer)
    assert found.minutes == pytest.approx(sum(found.alone.values()) - answer.attended_minutes)
    assert found.minutes > 15


def test_a_job_that_cannot_be_done_alone_leaves_the_saving_open():
    problem = problem_from(tourer(["anti-lock", "front brake", "rear brake"]))
    found = saving(problem, plan(problem))
    assert (found.minutes, found.alone["anti-lock"]) == (None, None)


def test_an_operation_nothing_prepares_is_the_whole_conflict():
    problem = problem_from(tourer(["anti-lock", "lights"]))
    answer = plan(problem)
    assert [(m.kind, m.name) for m in answer.conflict] == [("operation", "pump cycle")]
    assert '"front_reservoir" "open"' in conflict_in_words(problem, answer.conflict)


def test_a_conflict_is_irreducible():
    """Two states that exclude each other: without either operation, or the rule, there is a plan."""
    data = {
        "conditions": {
            "front": {"states": ["on", "off"], "start": "on"},
            "rear": {"states": ["on", "off"], "start": "on"},
        },
        "never": [{"front": ["off"], "rear": ["off"]}],
        "moves": [
            {"name": "front off", "minutes": 1, "sets": {"front": "off"}},
            {"name": "rear off", "minutes": 1, "sets": {"rear": "off"}},
        ],
        "operations": [
            {"name": "look at the front", "minutes": 1, "needs": {"front": ["off"]}},
            {"name": "look at the rear", "minutes": 1, "needs": {"rear": ["off"]}},
            {"name": "wash", "minutes": 1},
        ],
    }
    problem = problem_from(data)
    answer = plan(problem)
    assert sorted((m.kind, m.name) for m in answer.conflict) == [
        ("never", "0"),
        ("operation", "look at the front"),
        ("operation", "look at the rear"),
    ]
    words = conflict_in_words(problem, answer.conflict)
    assert 'never together: "front" "off" and "rear" "off"' in words
    for member in answer.conflict:
        less = data | {
            "never": [] if member.kind == "never" else data["never"],
            "operations": [o for o in data["operations"] if o["name"] != member.name],
        }
        assert plan(problem_from(less)).status == "optimal"
