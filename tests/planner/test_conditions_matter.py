"""Each condition of the tourer earns its place: without it some plan becomes wrong or cheaper."""

import pytest

from tests.shipped_books.planned import archetype
from witnessmark.book import Book, selection
from witnessmark.planner import Answer, Problem, check_plan, compile_problem, plan
from witnessmark.planner.check.check_plan import Rule

# Jobs for which the condition matters.
JOBS = {
    "air_box": ["air_filter"],
    "battery": ["front_brake_fluid"],
    "clutch_cover": ["clutch_plates"],
    "clutch_reservoir": ["clutch_fluid"],
    "codes": ["battery_change"],
    "coolant": ["coolant", "engine_oil"],
    "drive": ["ride_before", "final_drive_oil"],
    "engine": ["engine_oil"],
    "engine_oil": ["engine_oil"],
    "exhaust": ["exhaust_gasket"],
    "final_drive": ["final_drive_oil", "rear_brake_fluid"],
    "fork": ["fork_oil"],
    "fork_caps": ["fork_oil"],
    "front_caliper": ["front_pads"],
    "front_lever": ["brake_wear"],
    "front_reservoir": ["front_brake_fluid"],
    "front_support": ["suspension_look"],
    "front_wheel": ["front_tyre"],
    "gear": ["rear_tyre"],
    "ignition": ["codes"],
    "oil_filter": ["engine_oil"],
    "oil_plug": ["engine_oil", "headlamp"],
    "panniers": ["rear_tyre"],
    "place": ["brake_wear"],
    "rear_caliper": ["rear_pads"],
    "rear_damper": ["rear_damper"],
    "rear_pedal": ["brake_wear"],
    "rear_reservoir": ["rear_brake_fluid"],
    "rear_wheel": ["rear_tyre"],
    "seat": ["battery_change"],
    "spark_plugs": ["spark_plug"],
    "stand": ["brake_wear"],
    "swinging_arm": ["arm_bearings"],
    "valve_cover": ["valves"],
    "valve_gear": ["ride_before", "valves"],
}
# No plan comes upon them: they hold the starter, and a machine whose steering was left open, at the bench.
AT_THE_BENCH = {"clutch_lever", "steering"}
# What only the condition forbids: an engine run without coolant, a machine rolled with its plug out, valves read four
# hours after a ride, a new battery before the codes are copied; the wheel hung on for
# bleeding while the final drive stands open.
IN_BETWEEN = {
    "coolant": [("coolant/drain", "engine_oil/run"), ("engine_oil/run", "coolant/fill")],
    "oil_plug": [("engine_oil/drain", "headlamp/aim"), ("headlamp/aim", "engine_oil/close_up")],
    "valve_gear": [("ride_before/ride", "valves/read")],
    "codes": [("battery_change/swap", "codes/copy")],
    "final_drive": [
        ("final_drive_oil/drain", "rear_brake_fluid/flush"),
        ("rear_brake_fluid/flush", "final_drive_oil/drain_plug_in"),
    ],
}


@pytest.fixture(scope="module")
def tourer() -> Book:
    return archetype("shaft_drive_tourer")


def test_every_condition_of_the_tourer_is_tried(tourer):
    assert set(JOBS) | AT_THE_BENCH == set(tourer.conditions)


@pytest.mark.parametrize("name", sorted(JOBS))
def test_without_the_condition_a_plan_is_wrong_or_cheaper(tourer, name):
    problem = compile_problem(tourer, selection(tourer, JOBS[name]))
    less = plan(without(problem, name, IN_BETWEEN.get(name, [])), objective="attended")
    assert less.status == "optimal"
    if not is_wrong(problem, less):
        whole = plan(problem, objective="attended")
        assert whole.status == "optimal"
        assert less.attended_minutes < whole.attended_minutes


def without(problem: Problem, name: str, in_turn: list[tuple[str, str]]) -> Problem:
    """The problem that has never heard of the condition, some operations put in turn.

    Moves that changed nothing else are gone.
    """
    moves = (_forgetting(move, name) for move in problem.moves)
    operations = [_forgetting(operation, name) for operation in problem.operations]
    return Problem(
        conditions={n: c for n, c in problem.conditions.items() if n != name},
        never=tuple(row for row in problem.never if name not in row),
        moves=tuple(move for move in moves if move.sets),
        operations=tuple(
            o.model_copy(update={"after": (*o.after, *(a for a, b in in_turn if b == o.name))})
            for o in operations
        ),
    )


def _forgetting(step, name):
    needs = {n: states for n, states in step.needs.items() if n != name}
    sets = {n: state for n, state in step.sets.items() if n != name}
    return step.model_copy(update={"needs": needs, "sets": sets})


def is_wrong(problem: Problem, answer: Answer) -> bool:
    """Whether the whole problem forbids the plan; figures that it alone would have do not count."""
    return any(fault.rule is not Rule.FIGURE for fault in check_plan(problem, answer))
