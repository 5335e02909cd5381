"""The plan itself: the page's figures, against trying everything, the same twice."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.tourer import tourer
from tests.planner.exhaustive import earliest_finish, least_attended
from tests.planner.generator import random_problem
from tests.planner.page_example import plain_example
from witnessmark.planner import load_answer, plan, problem_from, solve

SEEDS = st.integers(0, 10_000)


def test_the_example_of_the_page_has_the_figures_of_the_page():
    """By pencil: 3 + 0.5 + 6 + 0.5 + 2 + 2 + 10 until the oil is out; then 2 + 6 + 7 + 3."""
    answer = plan(problem_from(plain_example()))
    assert answer.status == "optimal"
    assert (answer.finish_minutes, answer.finish_bound) == (42.0, 42.0)
    assert (answer.attended_minutes, answer.attended_bound) == (32.5, 32.5)
    assert answer.exposure_minutes == 14.0
    assert (answer.walks, answer.deviation, answer.late) == (0, None, {})
    moves = [step.name for step in answer.steps if step.kind == "move"]
    assert moves.count("engage gear") == 2
    assert answer.steps[0].for_ == ("crack fill plug", "drain")


def test_with_attended_minutes_first_the_example_has_the_same_figures():
    answer = plan(problem_from(plain_example()), objective="attended")
    assert (answer.status, answer.finish_minutes, answer.attended_minutes) == ("optimal", 42, 32.5)


@settings(max_examples=30, deadline=None, derandomize=True)
@given(SEEDS)
def test_attended_minutes_are_least(seed):
    """Against going through every order of steps; impossible where that finds none."""
    data = random_problem(seed)
    answer = solve(problem_from(data), objective="attended", deterministic_limit=2)
    least = least_attended(data)
    if answer.status == "optimal":
        assert round(answer.attended_minutes * 10) == least
    elif answer.status == "feasible":
        assert answer.attended_bound * 10 <= least <= answer.attended_minutes * 10
    else:
        assert (answer.status, least) == ("impossible", None)


@settings(max_examples=15, deadline=None, derandomize=True)
@given(SEEDS)
def test_the_finish_is_earliest_and_then_attended_minutes_least(seed):
    """Against trying every start at every event."""
    data = random_problem(seed, operations=2)
    answer = plan(problem_from(data), deterministic_limit=1)
    best = earliest_finish(data)
    if answer.status == "optimal":
        figures = answer.finish_minutes * 10, answer.attended_minutes * 10
        assert tuple(map(round, figures)) == best
    elif answer.status == "feasible":
        assert answer.finish_bound * 10 <= best[0] <= answer.finish_minutes * 10
    else:
        assert (answer.status, best) == ("impossible", None)


def test_a_book_is_planned_and_proven_the_same_twice():
    problem = problem_from(tourer())
    answer = plan(problem)
    assert (answer.status, answer.finish_minutes, answer.attended_minutes) == (
        "optimal",
        280.5,
        280.5,
    )
    assert plan(problem).steps == answer.steps


def test_the_previous_order_is_kept_where_it_costs_nothing():
    problem = problem_from(tourer(["battery", "steering", "stands", "lights"]))
    first = plan(problem, objective="attended")
    again = plan(problem, objective="attended", previous=first)
    assert again.deviation == 0
    assert [step.name for step in again.steps] == [step.name for step in first.steps]


def test_a_plan_reads_back_from_its_json():
    answer = plan(problem_from(plain_example()))
    assert load_answer(answer.to_json()) == answer
    assert '"for":["crack fill plug","drain"]' in answer.to_json()


def test_a_horizon_too_short_makes_it_impossible():
    data = plain_example() | {"horizon": 41.9}
    answer = plan(problem_from(data))
    assert answer.status == "impossible"
    assert "horizon" in {member.kind for member in answer.conflict}
    assert plan(problem_from(data | {"horizon": 42})).status == "optimal"


def test_lateness_is_told_and_not_forbidden():
    data = plain_example() | {"due_by": {"the tourer": 37}}
    for operation in data["operations"]:
        operation["machine"] = "the tourer"
    assert plan(problem_from(data)).late == {"the tourer": 2.0}
    assert plan(problem_from(data | {"due_by": {"the tourer": 39}})).late == {}


def test_a_forbidden_combination_costs_the_moves_that_avoid_it():
    """Without the `never` the machine may stay on the floor when nothing else needs the lift."""
    data = plain_example()
    for move in data["moves"]:
        move["needs"].pop("place", None) if move["name"] == "wheel off" else None
    assert plan(problem_from(data)).finish_minutes == 42.0
    assert plan(problem_from(data | {"never": []})).finish_minutes == 36.0


def test_steps_that_need_nobody_go_on_beside_the_work():
    data = {
        "operations": [
            {"name": "warm the garage", "minutes": 30, "hands": 0},
            {"name": "sweep", "minutes": 20},
            {"name": "write", "minutes": 5},
        ]
    }
    answer = plan(problem_from(data))
    assert (answer.finish_minutes, answer.attended_minutes) == (30.0, 25.0)


def test_a_problem_with_nothing_to_do_is_done_at_once():
    answer = plan(problem_from({}))
    assert (answer.status, answer.finish_minutes, answer.steps) == ("optimal", 0.0, ())


@pytest.mark.parametrize("limit", [0.0, 0.001])
def test_a_limit_that_allows_nothing_gives_unknown_and_no_guess(limit):
    answer = plan(problem_from(tourer()), deterministic_limit=limit)
    assert answer.status in ("unknown", "feasible")
    assert answer.conflict is None


def test_a_step_that_needs_a_condition_in_any_state_is_not_done_while_another_changes_it():
    """The checker holds a need to the whole step; the one that cools ends before what must see the engine still."""
    any_heat = {"name": "look", "minutes": 5, "needs": {"engine": ["cold", "warm"]}}
    cold = {"name": "read", "minutes": 5, "needs": {"engine": ["cold"]}}
    cool = {
        "name": "cool",
        "minutes": 0.2,
        "unattended": 60,
        "needs": {"engine": ["warm"]},
        "sets": {"engine": "cold"},
    }
    engine = {"states": ["cold", "warm"], "start": "warm"}
    problem = {
        "technicians": [{"name": "T"}], "conditions": {"engine": engine},
        "moves": [cool], "operations": [any_heat, cold],
    }  # fmt: skip
    answer = plan(problem_from(problem))
    assert (answer.status, answer.finish_minutes) == ("optimal", 70.2)
