"""The least attended minutes of ten builds by chance, each with a job by chance, against a classical planner's optimum.

Outside source: Fast Downward by way of Unified Planning, see ``tests/outside/planning/classical.py``.
"""

import random

import pytest

from tests.book.test_blocks import random_builds, written
from tests.outside.planning import classical
from witnessmark.book import load_book_text, selection
from witnessmark.planner import compile_problem, plan

MOST_OPERATIONS = 6  # that planner takes seconds; with twelve, more than a hundred
BUILDS = list(random_builds(5, 10))


def small_problem(build, seed):
    """The work of a job of the build, with what it brings; the other planner knows no clocks."""
    book, chance = load_book_text(written(build)), random.Random(seed)
    for job in chance.sample(list(book.jobs), len(book.jobs)):
        problem = compile_problem(book, selection(book, [job]))
        lapses = any(condition.lapse for condition in problem.conditions.values())
        if 2 <= len(problem.operations) <= MOST_OPERATIONS and not lapses:
            return problem
    raise AssertionError("no small job in this build")


@pytest.mark.long
@pytest.mark.parametrize("seed", range(len(BUILDS)))
def test_the_least_attended_minutes_of_a_build_are_the_classical_planners_optimum(seed):
    problem = small_problem(BUILDS[seed], seed)
    ours = plan(problem, objective="attended")
    theirs = classical.optimum(problem, 100)
    assert (ours.status, ours.attended_minutes) == ("optimal", theirs.attended_minutes)
