"""The committed optima are true before ours are held against them: two outside answers agree.

Sources: Fast Downward by way of the Unified Planning library (see ``classical.py``), and plain
uniform-cost search (``search.py``).
"""

import json

import pytest

from tests.outside.planning import classical, generator, remake, search, tourer
from witnessmark.planner import problem_from

OPTIMA = json.loads(remake.OPTIMA.read_text())
TOURER = json.loads(remake.TOURER.read_text())
TIMED = json.loads(remake.TIMED.read_text())
SEARCHED = [line for line in OPTIMA if line["family"] != "larger"]
LIVE = [line for line in SEARCHED if line["seed"] in (3, 11)]


def title(line: dict) -> str:
    return f"{line['family']} {line['seed']}"


def case(line: dict) -> str:
    return line["case"]


def test_the_committed_optima_belong_to_the_problems_of_the_generator():
    made = [
        remake.digest(problem_from(generator.make(line["family"], line["seed"]))) for line in OPTIMA
    ]
    assert made == [line["problem"] for line in OPTIMA]


def test_the_set_is_large_and_holds_impossible_problems_and_moves_done_three_times():
    assert len(OPTIMA) >= 60
    assert sum(line["attended_minutes"] is None for line in OPTIMA) >= 10
    assert sum(line["most_copies"] >= 3 for line in OPTIMA) >= 8


@pytest.mark.parametrize("line", SEARCHED, ids=title)
def test_plain_search_finds_the_committed_optimum(line):
    found = search.least_attended(problem_from(generator.make(line["family"], line["seed"])))
    assert (found and found[0]) == line["attended_minutes"]


@pytest.mark.parametrize("line", LIVE, ids=title)
def test_the_classical_planner_finds_the_committed_optimum_again(line):
    assert remake.random_case(line["family"], line["seed"]) | {"most_copies": 0} == line | {
        "most_copies": 0  # of several optimal plans any may be found
    }


def test_a_problem_with_clocks_is_not_given_to_the_classical_planner():
    timed = {"operations": [{"name": "o", "minutes": 1, "release": 5}]}
    with pytest.raises(ValueError, match="no clocks"):
        classical.optimum(problem_from(timed))


@pytest.mark.parametrize("line", TOURER, ids=case)
def test_the_committed_optima_of_the_tourer_belong_to_its_service_book_of_today(line):
    """If not: ``python -m tests.outside.planning.remake tourer``, and look at what changed."""
    assert remake.digest(tourer.problem(line["case"])) == line["problem"]


@pytest.mark.parametrize(
    "case",
    [
        "oil service",
        "rear tyre, pads and final drive oil",
        "brakes",
        "battery, tyres and a look over",
    ],
)
def test_the_classical_planner_finds_the_tourers_optimum_again(case):
    assert remake.tourer_case(case) in TOURER


def test_what_is_forbidden_from_the_start_is_impossible_to_both():
    problem = problem_from(
        {
            "conditions": {"c": {"states": ["a", "b"], "start": "a"}},
            "never": [{"c": ["a"]}],
            "operations": [{"name": "o", "minutes": 1}],
        }
    )
    assert search.least_attended(problem) is None
    assert classical.optimum(problem).attended_minutes is None
