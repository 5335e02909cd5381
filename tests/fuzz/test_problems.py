"""Planning problems with a few places changed: planned and checked, or refused with the path, never a traceback."""

import json
import random

import pytest

from tests.fuzz.hostile import mutated
from tests.planner.page_example import page_example
from witnessmark.planner import ProblemError, load_problem, plan

LIMIT = 0.3  # deterministic seconds of search


def _tried(text: str) -> None:
    error = None
    try:
        problem = load_problem(text)
    except ProblemError as refused:
        error = refused
    if error is None:
        json.loads(plan(problem, deterministic_limit=LIMIT).to_json())
        return
    assert error.place.startswith("problem $")
    assert error.problem
    assert error.expected
    str(error).encode()


def _fuzz(rounds: range, answered) -> None:
    for seed in rounds:
        text = json.dumps(mutated(page_example(), random.Random(seed)))
        with answered():
            _tried(text)


def test_a_changed_problem_is_planned_or_refused_with_its_path(answered):
    _fuzz(range(150), answered)


@pytest.mark.long
def test_ten_thousand_changed_problems_are_planned_or_refused_with_their_paths(answered):
    _fuzz(range(150, 10_000), answered)
