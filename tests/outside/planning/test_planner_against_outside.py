"""Our planner against answers from outside: a classical planner's optima, and trying everything."""

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from tests.outside.planning import exhaustive, generator, tiny, tourer
from tests.outside.planning.test_outside_answers import OPTIMA, TOURER, title
from witnessmark.planner import plan
from witnessmark.planner.check import check
from witnessmark.planner.problem import problem_from


@pytest.mark.parametrize("line", OPTIMA, ids=title)
def test_the_least_attended_minutes_are_the_classical_planners_optimum(line):
    """Outside source: Fast Downward by way of Unified Planning, see ``classical.py``."""
    problem = problem_from(generator.make(line["family"], line["seed"]))
    answer = plan(problem, objective="attended")
    assert answer.attended_minutes == line["attended_minutes"]
    assert answer.status == ("impossible" if line["attended_minutes"] is None else "optimal")
    assert check(problem, answer) == []


@pytest.mark.parametrize("line", TOURER, ids=lambda line: line["case"])
def test_the_tourers_least_attended_minutes_are_the_classical_planners_optimum(line):
    """Outside source: Fast Downward, and SymK for the annual service, see ``classical.py``."""
    problem = tourer.problem(line["case"])
    answer = plan(problem, objective="attended")
    assert (answer.status, answer.attended_minutes) == ("optimal", line["attended_minutes"])
    assert check(problem, answer) == []


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
@given(tiny.problems(plain=True), st.sampled_from(("finish", "attended")))
def test_no_plan_is_better_than_ours_when_everything_is_tried(problem, objective):
    best = exhaustive.best(problem, objective)
    answer = plan(problem, objective=objective)
    assert check(problem, answer) == []
    event(f"{objective}: {answer.status}")
    if best is None:
        assert answer.status == "impossible"
    else:
        assert answer.status == "optimal"
        found = (answer.finish_minutes, answer.attended_minutes)
        assert found == (best.finish, best.attended)
