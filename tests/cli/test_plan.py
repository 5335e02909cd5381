"""`witnessmark plan`: for jobs of a book and for a visit, in words and as JSON."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from witnessmark.cli.main import app
from witnessmark.planner import Answer, Problem, check_plan

SMALL = str(Path(__file__).parents[1] / "fixtures" / "small_book.toml")


def run(*words: str):
    return CliRunner().invoke(app, ["plan", *words], env={"COLUMNS": "160"})


def test_the_plan_of_a_book_says_what_each_access_step_is_for():
    got = run(SMALL, "tyre", "lights")

    assert got.exit_code == 0
    [off] = [line for line in got.stdout.splitlines() if "Take the rear wheel off" in line]
    assert off.rstrip().endswith("Change the rear tyre")
    assert "Ready in 47 min" in got.stdout
    assert "Proven: no order finishes sooner" in got.stdout
    assert "Nothing is saved by doing them together" in got.stdout


def test_json_holds_a_plan_the_checker_finds_sound():
    from witnessmark.book import load_book, revision
    from witnessmark.planner import compile_problem

    said = json.loads(run(SMALL, "tyre", "--json").stdout)
    book = load_book(Path(SMALL))

    assert (said["jobs"], said["revision"]) == (["tyre"], revision(book))
    problem: Problem = compile_problem(book, ["tyre"])
    assert check_plan(problem, Answer.model_validate(said["plan"]), None) == []
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
        assert "Ready in 47 min" in got.stdout


def test_a_visit_that_is_not_there_is_refused(visit):
    assert run("--visit", "77").exit_code == 2
    assert "there is no visit 77" in run("--visit", "77").stderr


# ---------------------------------------------------------------- people, wishes, answers


def test_a_book_alone_lists_what_can_be_planned():
    got = run(SMALL)
    assert got.exit_code == 0
    assert "tyre" in got.stdout
    assert "Change the rear tyre" in got.stdout
    assert "tyre" in json.loads(run(SMALL, "--json").stdout)["jobs"]


def test_two_technicians_share_the_work_within_their_skills_and_shifts():
    """Bo is there for the first five minutes: enough for the lights, not for the tyre."""
    people = ("--technician", "Ann", "--technician", "Bo:", "--shift", "Bo:0-0:05")
    said = json.loads(run(SMALL, "tyre", "lights", *people, "--json").stdout)
    by = {step["name"]: step["technicians"] for step in said["plan"]["steps"]}
    assert (by["lights/look"], by["tyre/swap"]) == (["Bo"], ["Ann"])
    assert said["plan"]["finish_minutes"] == 44


@pytest.mark.parametrize("words", [
    ("--shift", "Ann:0-60"),
    ("--technician", "Ann", "--shift", "Ann:early"),
    ("--technician", "Ann", "--technician", "Ann"),
    ("--wish", "make it quick"),
    ("--wish", "chain first"),
    ("--last-moment", "tyre"),
    ("--last-moment", "chain"),
])  # fmt: skip
def test_people_and_wishes_that_cannot_be_are_refused_with_what_would_be_right(words):
    got = run(SMALL, "tyre", *words)
    assert (got.exit_code, got.stdout) == (2, "")
    assert got.stderr.strip()


def test_a_wish_is_priced_and_held():
    said = run(SMALL, "tyre", "lights", "--wish", "tyre first")
    assert "“Change the rear tyre” first: costs nothing. Proven." in said.stdout
    steps = said.stdout.splitlines()
    first = next(n for n, line in enumerate(steps) if "Change the tyre" in line)
    assert first < next(n for n, line in enumerate(steps) if "Switch every light on" in line)


def test_the_last_moment_of_a_job_that_shares_nothing_is_the_end():
    said = json.loads(run(SMALL, "lights", "--last-moment", "tyre", "--json").stdout)
    moment = said["last_moments"]["tyre"]
    assert (moment["before"], moment["more_minutes"], moment["proven"]) == (None, 0.0, True)
    assert said["spread"]["finish"]["low"] < 3 < said["spread"]["finish"]["high"]


def test_names_are_never_broken_at_80_columns(tmp_path):
    """Long ids, as books make them; a name broken over two lines cannot be typed again."""
    from tests.planner.page_example import plain_example

    text = json.dumps(plain_example()).replace(
        "crack fill plug", "final_drive_oil/crack_the_fill_plug_with_care"
    )
    file = tmp_path / "problem.json"
    file.write_text(text)
    got = CliRunner().invoke(app, ["plan-problem", str(file)], env={"COLUMNS": "80"})
    lines = got.stdout.splitlines()
    assert got.exit_code == 0
    assert any(
        line.endswith("final_drive_oil/crack_the_fill_plug_with_care")
        for line in map(str.rstrip, lines)
    )
    assert all(len(line) <= 80 for line in lines)
    assert sum("final_drive_oil/crack_the_fill_plug_with_care" in line for line in lines) > 1


def test_a_problem_that_is_not_there_or_no_text_is_named(tmp_path):
    (tmp_path / "photo.json").write_bytes(b"\xff\xd8\xff")
    for name, problem in (("gone.json", "cannot be read"), ("photo.json", "not UTF-8 text")):
        got = CliRunner().invoke(app, ["plan-problem", str(tmp_path / name)])
        assert got.exit_code == 2
        assert f"{name} $" in got.stderr
        assert problem in got.stderr
