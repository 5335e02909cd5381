"""Ranges of a finish: nothing varies without spread, one step follows its formula, machines stand apart."""

import math

import pytest
from scipy import stats

from tests.planner.page_example import plain_example
from witnessmark.planner import plan, problem_from, range_in_words, spread


def test_without_spread_the_range_is_the_finish():
    problem = problem_from(plain_example())
    answer = plan(problem)
    found = spread(problem, answer, sigma=0.0)
    assert (found.finish.low, found.finish.high) == (42.0, 42.0)


def test_one_step_ends_at_the_quantiles_of_its_factor():
    """Against scipy's log-normal quantiles; within what 2000 draws leave open (three standard errors)."""
    problem = problem_from({"operations": [{"name": "look", "minutes": 100}]})
    found = spread(problem, plan(problem), sigma=0.2).finish
    for got, share in ((found.low, 0.1), (found.high, 0.9)):
        exact = 100 * stats.lognorm.ppf(share, 0.2)
        density = stats.lognorm.pdf(exact / 100, 0.2) / 100
        assert got == pytest.approx(exact, abs=3 * math.sqrt(0.09 / 2000) / density)


def test_minutes_that_a_drain_swallows_do_not_make_the_finish_later():
    """All that may vary within the wait is work; the range lies round the plan, and is the same each time."""
    problem = problem_from(plain_example())
    answer = plan(problem)
    found = spread(problem, answer)
    assert found.finish.low < 42.0 < found.finish.high
    assert found == spread(problem, answer)


def test_a_range_is_said_without_false_precision():
    problem = problem_from(plain_example())
    said = range_in_words(spread(problem, plan(problem)).finish)
    assert said == "between 0:35 and 0:50 in 8 cases of 10"
