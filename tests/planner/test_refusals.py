"""What is not solved yet is refused by name, never ignored."""

import json

import pytest
from typer.testing import CliRunner

from tests.planner.page_example import page_example
from witnessmark.cli.main import app
from witnessmark.planner import NotYetSolvedError, plan, problem_from

STAND = {
    "states": ["low", "high"],
    "start": "low",
    "holds": {"low": {"lift": 1}, "high": {"lift": 1}},
}


def with_stand() -> dict:
    problem = page_example()
    return problem | {"conditions": problem["conditions"] | {"stand": STAND}}


def test_a_condition_that_holds_one_resource_in_two_states_is_refused_by_name():
    """Going from one to the other it holds the lift once; the solver would count it twice."""
    problem = problem_from(with_stand())
    with pytest.raises(NotYetSolvedError) as refused:
        plan(problem)
    assert (refused.value.key, refused.value.place) == ("holds", "$.conditions.stand.holds")


def test_the_command_says_so_with_exit_3(tmp_path):
    """The file, the JSON path and the key, on stderr and as JSON."""
    file = tmp_path / "problem.json"
    file.write_text(json.dumps(with_stand()))
    answer = CliRunner().invoke(app, ["plan-problem", str(file), "--json"])
    assert answer.exit_code == 3
    said = json.loads(answer.stdout.strip().splitlines()[-1])["error"]
    assert (said["key"], said["place"]) == ("holds", f"{file} $.conditions.stand.holds")


def test_a_step_under_way_is_taken_as_it_is():
    """Whoever is at it goes on, with or without the skill the form asks of those who begin."""
    step = {"name": "weld", "minutes": 3, "sets": {"c": "b"}, "skills": ["welding"]}
    problem = problem_from(
        {
            "conditions": {"c": {"states": ["a", "b"], "start": "a", "finish": "b"}},
            "operations": [step],
            "technicians": [{"name": "A", "skills": []}],
            "now": {"running": [{"name": "weld", "minutes": 1, "technicians": ["A"]}]},
        }
    )
    assert plan(problem).status == "optimal"
