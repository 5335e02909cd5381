"""The planner is imported by one door, which loads the solver only when a plan is asked for."""

import subprocess
import sys

from witnessmark import planner


def test_every_name_of_the_door_is_there():
    assert [name for name in planner.__all__ if not hasattr(planner, name)] == []


def test_the_solver_is_loaded_with_the_first_plan_and_not_before():
    told = (
        "import sys, witnessmark.planner as planner; before = 'ortools' in sys.modules; "
        "planner.plan(planner.problem_from({})); print(before, 'ortools' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "True"]
