"""`witnessmark calculate`: the same list as the page, answers on stdout, faults with where, wrong and right."""

import json
import re
import shlex
from pathlib import Path

import pytest
from typer.testing import CliRunner

from witnessmark.calculators import CALCULATORS
from witnessmark.cli.main import app

EVERY = pytest.mark.parametrize("calculator", CALCULATORS.values(), ids=CALCULATORS)


def run(*args: str, given: str | None = None):
    return CliRunner().invoke(app, ["calculate", *args], input=given, env={"COLUMNS": "120"})


def test_every_calculator_is_listed():
    answer = run()
    assert answer.exit_code == 0
    assert [name for name in CALCULATORS if name not in answer.stdout] == []
    told = json.loads(run("--json").stdout)
    assert [one["name"] for many in told.values() for one in many] == list(CALCULATORS)


@EVERY
def test_it_answers_its_own_example_in_words_and_in_json(calculator):
    pairs = [f"{asked.name}={asked.example}" for asked in calculator.asked]
    answer = run(calculator.name, *pairs)
    assert (answer.exit_code, answer.stderr) == (0, "")
    told = json.loads(run(calculator.name, "--json", *pairs).stdout)
    assert answer.stdout.startswith(told["said"])
    assert told["formula"]
    assert told["source"]


@EVERY
def test_without_anything_put_in_it_says_what_it_asks_for(calculator):
    answer = run(calculator.name)
    assert answer.exit_code == 0
    assert [a.name for a in calculator.asked if a.name not in answer.stdout] == []


@pytest.mark.parametrize(
    "args",
    [
        ["convert", "quantity=60 Nm", "to=lbf·ft", "step=0.5"],
        ["convert", "--quantity", "60 Nm", "--to", "lbf·ft", "--step", "0.5"],
        ["convert", "--quantity=60 Nm", "--to=lbf·ft", "--step=0.5"],
        ["convert", "60 Nm", "lbf·ft", "0.5"],
    ],
)
def test_what_is_put_in_may_be_named_or_stand_in_its_order(args):
    assert run(*args).stdout.startswith("60 N·m: set 44.5 lbf·ft.")


def test_a_value_may_begin_with_a_minus():
    assert run("convert", "-5 °C", "--to", "°F").stdout.startswith("−5 °C is 23 °F.")


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["convrt"], 'name: there is no calculator "convrt"; did you mean "convert"?'),
        (["convert", "60"], "quantity: “60” has no unit; write a number with its unit"),
        (["convert", "60 Nm", "tolerence=5 %"],
         'tolerence: convert asks for no such thing; did you mean "tolerance"?'),
        (["convert", "60 Nm", "--to"], "to: nothing follows it; give its value"),
        (["convert", "60 Nm", "step=1", "step=2"], "step: it is given twice; give it once"),
        (["convert", "60 Nm", "ft", "1", "2", "torque", "x"],
         'convert: "x" is more than convert asks for'),
        (["convert", "quantity=@/no/such/file"], "quantity: /no/such/file cannot be read"),
        (["convert", "60 Nm", "--picture", "x.svg"], "--picture: this answer has none"),
    ],
)  # fmt: skip
def test_bad_input_exits_2_with_where_what_is_wrong_and_what_is_right(args, said):
    answer = run(*args)
    assert (answer.exit_code, answer.stdout) == (2, "")
    assert answer.stderr.startswith(said)


def test_every_fault_is_told_at_once_and_in_json_too():
    answer = run("convert", "--json", "quantity=x", "step=y")
    assert answer.exit_code == 2
    places = [error["place"] for error in json.loads(answer.stdout)["errors"]]
    assert places == ["step"]  # the quantity is read by the computation, once the rest is readable
    assert answer.stderr.startswith("step: ")


@pytest.mark.parametrize("args", [["allen key"], ["allen", "key"], ["Allen", "keys"]])
def test_words_list_what_they_find(args):
    answer = run(*args)
    assert (answer.exit_code, answer.stderr) == (0, "")
    assert answer.stdout.split()[0] == "drive-size"
    assert "convert" not in answer.stdout
    assert [one["name"] for one in json.loads(run(*args, "--json").stdout)] == ["drive-size"]


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["alen", "key"], 'name: there is no calculator "alen key"; did you mean "drive-size"?'),
        (["qqqq"], 'name: there is no calculator "qqqq"; `witnessmark calculate` alone lists all'),
        (["convrt", "quantity=60 Nm"], 'name: there is no calculator "convrt"; did you mean "convert"?'),
        (["convert", "60 Nm", "--units", "si"],
         '--units: "si" are no units here; choose one of "metric", "us", "imperial"'),
    ],
)  # fmt: skip
def test_what_finds_nothing_exits_2_with_what_is_nearest(args, said):
    answer = run(*args)
    assert (answer.exit_code, answer.stdout) == (2, "")
    assert answer.stderr.startswith(said)


@pytest.mark.parametrize(
    ("units", "said"),
    [
        ([], "It grows by about 176 mL."),
        (["--units", "metric"], "It grows by about 176 mL."),
        (["--units", "us"], "It grows by about 6 US fl oz."),
        (["--units=imperial"], "It grows by about 6.2 imp fl oz."),
    ],
)
def test_the_answer_comes_in_the_units_asked_for(units, said):
    """By the factors of NIST SP 811 B.8."""
    assert run("warm-oil", "3.6 L", "20 °C", "90 °C", *units).stdout.startswith(said)


@EVERY
def test_no_calculator_asks_for_what_the_command_takes_for_itself(calculator):
    """Else a value would never reach it."""
    assert {"help", "json", "picture", "units"} & {
        asked.name for asked in calculator.asked
    } == set()


def test_a_value_may_come_from_a_file_or_from_standard_input(tmp_path):
    file = tmp_path / "figure.txt"
    file.write_text("60 Nm\n", encoding="utf-8")
    for args, given in ((["convert", f"@{file}"], None), (["convert", "-"], "60 Nm\n")):
        assert run(*args, given=given).stdout.startswith("60 N·m")


def commands_in(page):
    text = (Path(__file__).parents[2] / page).read_text(encoding="utf-8")
    return [
        shlex.split(line, comments=True)[2:]
        for line in re.findall(r"^(?:\.venv/bin/)?(witnessmark calculate.*)$", text, re.MULTILINE)
    ]


@pytest.mark.parametrize("page", ["docs/calculators.md", "README.md"])
def test_every_example_of_the_papers_answers(page, tmp_path, monkeypatch):
    """As written, in a folder that has the file of points."""
    monkeypatch.chdir(tmp_path)
    Path("points.txt").write_text("4.0\n3.9\n4.0\n3.9\n", encoding="utf-8")
    commands = commands_in(page)
    assert commands
    assert [args for args in commands if run(*args).exit_code != 0] == []
    assert Path("wear.svg").is_file() or page == "README.md"
