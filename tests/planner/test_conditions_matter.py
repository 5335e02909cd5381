"""Each condition of the tourer earns its place: without it some plan becomes wrong or cheaper."""

import pytest

from witnessmark.book import Book, archetypes, load_book, selection
from witnessmark.planner import Answer, Problem, check_plan, compile_problem, plan
from witnessmark.planner.check.check_plan import Rule

# Jobs for which the condition matters.
JOBS = {
    "battery": ["service_reminder"],
    "codes": ["battery_change"],
    "drive": ["ride_before", "final_drive_oil"],
    "engine": ["engine_oil"],
    "engine_oil": ["engine_oil"],
    "final_drive": ["final_drive_oil", "brake_fluid"],
    "front_lever": ["brake_wear"],
    "front_reservoir": ["brake_fluid"],
    "gear": ["brake_wear"],
    "ignition": ["codes"],
    "oil_filter": ["engine_oil"],
    "panniers": ["rear_tyre"],
    "place": ["brake_wear"],
    "rear_pedal": ["brake_wear"],
    "rear_reservoir": ["brake_fluid"],
    "rear_wheel": ["rear_tyre"],
    "seat": ["battery_change"],
    "stand": ["tyres"],
    "support": ["look_over"],
}
# What only the condition forbids: a new battery before the codes are copied; the wheel hung on for
# bleeding while the final drive stands open.
IN_BETWEEN = {
    "codes": [("battery_change/swap", "codes/copy")],
    "final_drive": [
        ("final_drive_oil/drain", "brake_fluid/flush_rear"),
        ("brake_fluid/flush_rear", "final_drive_oil/drain_plug_in"),
    ],
}


@pytest.fixture(scope="module")
def tourer() -> Book:
    return load_book(archetypes()["shaft_drive_tourer"])


def test_every_condition_of_the_tourer_is_tried(tourer):
    assert set(JOBS) == set(tourer.conditions)


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
