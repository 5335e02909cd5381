"""`witnessmark plan`: for jobs of a book and for a visit, in words and as JSON."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from witnessmark.cli.main import app
from witnessmark.planner import Answer, check
from witnessmark.planner.problem import Problem

SMALL = str(Path(__file__).parents[1] / "fixtures" / "small_book.toml")


def run(*words: str):
    return CliRunner().invoke(app, ["plan", *words], env={"COLUMNS": "160"})


def test_the_plan_of_a_book_says_what_each_access_step_is_for():
    got = run(SMALL, "tyre", "lights")

    assert got.exit_code == 0
    [off] = [line for line in got.stdout.splitlines() if "Take the rear wheel off" in line]
    assert off.rstrip().endswith("Change the rear tyre")
    assert "Over after 47 min" in got.stdout
    assert "Proven: no order is over sooner" in got.stdout
    assert "Nothing is saved by doing them together" in got.stdout


def test_json_holds_a_plan_the_checker_finds_sound():
    from witnessmark.book import load_book, revision
    from witnessmark.planner.from_book import compile_problem

    said = json.loads(run(SMALL, "tyre", "--json").stdout)
    book = load_book(Path(SMALL))

    assert (said["jobs"], said["revision"]) == (["tyre"], revision(book))
    problem: Problem = compile_problem(book, ["tyre"])
    assert check(problem, Answer.model_validate(said["plan"]), None) == []
    assert said["kit"]["missing"] == []


def test_a_job_the_book_does_not_have_is_refused_with_the_nearest():
    got = run(SMALL, "tyres")

    assert got.exit_code == 2
    assert "tyres" in got.stderr
    assert "tyre" in got.stderr.replace("tyres", "")


@pytest.mark.parametrize("state", ["rear_wheel", "rear_wheel=lost", "front_wheel=off"])
def test_a_state_that_cannot_be_is_refused(state):
    assert run(SMALL, "tyre", "--state", state).exit_code == 2


def test_a_wheel_found_off_is_only_fitted():
    said = json.loads(run(SMALL, "tyre", "--state", "rear_wheel=off", "--json").stdout)

    assert [step["name"] for step in said["plan"]["steps"]] == ["tyre/swap", "wheel_on"]


def test_the_plan_of_a_visit_by_its_number_and_by_its_address(visit):
    for key in (str(visit.number), str(visit.pk)):
        got = run("--visit", key)
        assert got.exit_code == 0
        assert "Visit 1: Brannock T9 12-QX-81" in got.stdout
        assert "Over after 47 min" in got.stdout


def test_a_visit_that_is_not_there_is_refused(visit):
    assert run("--visit", "77").exit_code == 2
    assert "there is no visit 77" in run("--visit", "77").stderr
