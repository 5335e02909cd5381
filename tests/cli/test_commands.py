"""The table of commands: it says what they say, and none waits for what it does not need."""

import subprocess
import sys

import pytest
from typer.testing import CliRunner

from witnessmark.calculators import CALCULATORS, find
from witnessmark.cli.main import COMMANDS, app, command

HEAVY = {
    "django",
    "numpy",
    "ortools",
    "pandas",
    "pint",
    "witnessmark.book",
    "witnessmark.planner",
}


@pytest.mark.parametrize("name", COMMANDS)
def test_the_table_says_of_a_command_what_its_own_help_begins_with(name):
    first = " ".join(command(name).help.partition("\n\n")[0].split())
    assert COMMANDS[name][1] == first


@pytest.mark.parametrize("args", [[], ["book"], ["demo"], *([name] for name in COMMANDS)])
def test_help_shows_our_options_only(args):
    answer = CliRunner().invoke(app, [*args, "--help"], env={"COLUMNS": "200"})
    assert answer.exit_code == 0, answer.output
    assert "Usage: witnessmark" in answer.output
    for foreign in ("completion", "--settings", "--pythonpath", "--traceback", "--no-color"):
        assert foreign not in answer.output


@pytest.mark.parametrize(
    "args",
    [
        ["--help"],
        ["calculate"],
        ["calculate", "allen", "key"],
        ["calculate", "torque-check", "thread=M8", "torque=25 N·m"],
    ],
)
def test_help_search_and_a_calculation_wait_for_no_solver_book_or_database(args):
    code = (
        "import sys\nfrom witnessmark.cli.main import main\n"
        "try:\n    main()\nfinally:\n    print('loaded', *sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *args], capture_output=True, text=True, check=True
    )
    loaded = set(done.stdout.rpartition("loaded ")[2].split())
    assert "witnessmark.cli.main" in loaded
    assert HEAVY & loaded == set()


def test_a_calculator_stands_in_the_module_that_the_table_names():
    assert [find(name).name for name in CALCULATORS] == list(CALCULATORS)
    modules = {find(name).calculate.__module__ for name in CALCULATORS}
    for module in modules:
        held = [one.name for one in sys.modules[module].CALCULATORS]
        assert [name for name in held if name not in CALCULATORS] == []
