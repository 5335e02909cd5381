"""The day board: every plan passes the checker, figures by pencil, against the whole model, the same twice."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks.boards import day, machine
from tests.planner.generator import random_problem
from witnessmark.planner import (
    BoardError,
    MachineWork,
    ProblemError,
    Technician,
    board_problem,
    check_plan,
    plan,
    plan_board,
    problem_from,
    solve,
)
from witnessmark.planner.board.dispatches import Budget
from witnessmark.planner.board.together import solve_together

TWO = (Technician(name="A"), Technician(name="B"))
ONE = TWO[:1]
SEEDS = st.integers(0, 10_000)


def _oil(*, exposed=True):
    """Two minutes to drain, ten to run out, two to close: 14 in all."""
    plug = {"states": ["in", "out"], "start": "in", "finish": "in"}
    return problem_from(
        {
            "conditions": {"plug": plug | ({"exposed": ["out"]} if exposed else {})},
            "operations": [
                {
                    "name": "drain",
                    "minutes": 2,
                    "unattended": 10,
                    "needs": {"plug": ["in"]},
                    "sets": {"plug": "out"},
                },
                {
                    "name": "close",
                    "minutes": 2,
                    "needs": {"plug": ["out"]},
                    "sets": {"plug": "in"},
                    "after": ["drain"],
                },
            ],
        }
    )


def _lights(minutes=8):
    return problem_from({"operations": [{"name": "lights", "minutes": minutes}]})


def _on_lift(minutes):
    """A machine that must be up for its work: one up, one down."""
    lift = {"states": ["down", "up"], "start": "down", "finish": "down"}
    return problem_from(
        {
            "conditions": {"place": lift | {"holds": {"up": {"lift": 1}}}},
            "resources": {"lift": 1},
            "moves": [
                {"name": a, "minutes": 1, "needs": {"place": [b]}, "sets": {"place": a}}
                for a, b in (("up", "down"), ("down", "up"))
            ],
            "operations": [{"name": "look", "minutes": minutes, "needs": {"place": ["up"]}}],
        }
    )


def test_one_technician_stays_while_the_oil_he_let_out_runs():
    """2 + 10 + 2, two to change, 8: 24 whichever comes first."""
    found = plan_board(
        [MachineWork("one", _oil()), MachineWork("two", _lights())], ONE, change_minutes=2
    )
    assert found.answer.finish_minutes == 24
    assert found.answer.attended_minutes == 12


def test_he_goes_elsewhere_meanwhile_where_nothing_stands_exposed():
    """2, change 2, lights 8, change 2, close 2: 16."""
    visits = [MachineWork("one", _oil(exposed=False)), MachineWork("two", _lights())]
    assert plan_board(visits, ONE, change_minutes=2).answer.finish_minutes == 16


def test_two_technicians_share_two_machines_and_it_is_proven():
    found = plan_board(
        [MachineWork("one", _oil()), MachineWork("two", _lights(14))], TWO, change_minutes=2
    )
    assert (found.answer.status, found.answer.finish_minutes, found.gap) == ("optimal", 14, 0)
    assert found.ready == {"one": 14, "two": 14}


def test_one_lift_is_taken_in_turn():
    """Each holds it for 1 + 8 + 1 minutes, and two technicians do not help; the bound knows it too."""
    found = plan_board([MachineWork("one", _on_lift(8)), MachineWork("two", _on_lift(8))], TWO)
    assert (found.answer.status, found.answer.finish_minutes) == ("optimal", 20)
    again = plan_board(
        [MachineWork("one", _on_lift(8)), MachineWork("two", _on_lift(8))],
        TWO,
        resources={"lift": 2},
    )
    assert again.answer.finish_minutes == 10


def test_a_machine_raised_from_low_to_high_stays_on_its_one_lift():
    """Down, low, high and back, one minute each; 3 + 4 minutes of work: 11 on the only lift, twice."""
    states = ("down", "low", "high")
    steps = [("down", "low"), ("low", "high"), ("high", "low"), ("low", "down")]
    data = {
        "conditions": {
            "place": {
                "states": states,
                "start": "down",
                "finish": "down",
                "holds": {"low": {"lift": 1}, "high": {"lift": 1}},
            }
        },
        "resources": {"lift": 1},
        "moves": [
            {"name": f"{a} to {b}", "minutes": 1, "needs": {"place": [a]}, "sets": {"place": b}}
            for a, b in steps
        ],
        "operations": [
            {"name": "chain", "minutes": 3, "needs": {"place": ["low"]}},
            {"name": "sump", "minutes": 4, "needs": {"place": ["high"]}},
        ],
    }
    visits = [MachineWork(name, problem_from(data)) for name in ("one", "two")]
    found = plan_board(visits, TWO, change_minutes=1)
    assert found.answer.finish_minutes == 22


def test_nothing_is_begun_before_its_machine_is_there():
    visits = [MachineWork("one", _on_lift(8), release=30.0, due_by=35.0)]
    found = plan_board(visits, ONE)
    assert min(step.start for step in found.answer.steps) == 30
    assert found.answer.late == {"one": 5}


def test_work_opened_in_the_evening_is_closed_before_night():
    """The day ends at 20: after the lights only ten minutes are left, too few for the oil."""
    days = Technician(name="A", shifts=((0, 20), (1440, 1460)))
    found = plan_board(
        [MachineWork("one", _oil()), MachineWork("two", _lights())], [days], change_minutes=2
    )
    assert found.answer.finish_minutes in (1448, 1454)
    with_time = Technician(name="A", shifts=((0, 24),))
    assert plan_board(
        [MachineWork("one", _oil()), MachineWork("two", _lights())], [with_time], change_minutes=2
    ).answer.finish_minutes == 24  # fmt: skip


def test_only_the_skilled_are_sent():
    electrics = problem_from(
        {"operations": [{"name": "codes", "minutes": 5, "skills": ["electrics"]}]}
    )
    crew = (Technician(name="A", skills=()), Technician(name="B", skills=("electrics",)))
    found = plan_board(
        [MachineWork("one", electrics), MachineWork("two", electrics)], crew, change_minutes=1
    )
    assert {step.technicians for step in found.answer.steps} == {("B",)}
    assert (found.answer.status, found.answer.finish_minutes) == ("optimal", 11)


def test_a_machine_with_no_plan_is_said_to_be_the_reason():
    shut = _on_lift(8).model_copy(update={"moves": ()})
    found = plan_board(
        [MachineWork("one", _lights()), MachineWork("two", shut)], TWO, change_minutes=1
    )
    assert found.answer.status == "impossible"
    assert [(c.kind, c.name) for c in found.answer.conflict] == [("operation", "two: look")]
    assert (found.gap, found.ready) == (None, {"one": None, "two": None})


def test_bad_boards_are_refused_in_words():
    with pytest.raises(BoardError, match="appears twice"):
        board_problem([MachineWork("one", _lights()), MachineWork("one", _lights())], TWO)
    lifted = problem_from(
        {
            "operations": [{"name": "lift off", "minutes": 5, "hands": 2}],
            "technicians": [{"name": "A"}, {"name": "B"}],
        }
    )
    with pytest.raises(ProblemError, match="2 hands"):
        board_problem([MachineWork("one", lifted)], ONE)


@settings(max_examples=15, deadline=None, derandomize=True)
@given(SEEDS)
def test_every_board_passes_the_checker(seed):
    """Boards of small machines drawn by chance, with all that a shop may have: `plan` would raise."""
    chance = random.Random(seed)
    visits = [
        MachineWork(
            f"m{n}",
            _drawn(chance, seed + n),
            chance.choice((0.0, 5.0)),
            chance.choice((None, 20.0)),
        )
        for n in range(chance.randint(2, 4))
    ]
    shifts = chance.choice((None, ((0, 30), (40, 90)), ((0, 45), (1440, 1600))))
    crew = [
        Technician(name=name, shifts=shifts, skills=chance.choice((None, ("x",), ("x", "y"))))
        for name in "AB"
    ]
    problem = board_problem(
        visits, crew, resources={"lift": 1}, change_minutes=chance.choice((0.0, 1.0, 3.0))
    )
    answer = plan(problem, deterministic_limit=0.5)
    assert check_plan(problem, answer) == []
    if answer.finish_minutes is not None:
        assert answer.finish_bound <= answer.finish_minutes


def _drawn(chance, seed):
    data = random_problem(seed, operations=3)
    for step in [*data["moves"], *data["operations"]]:
        step["hands"] = chance.choice((1, 1, 1, 2, 0))
        step["skills"] = ["x"] if chance.random() < 0.3 else []
    name = next(iter(data["conditions"]))
    data["conditions"][name]["holds"] = {data["conditions"][name]["states"][-1]: {"lift": 1}}
    crew = [{"name": "A"}, {"name": "B"}]
    return problem_from(data | {"resources": {"lift": 1}, "technicians": crew})


@settings(max_examples=6, deadline=None, derandomize=True)
@given(SEEDS)
def test_the_bound_never_exceeds_what_the_whole_model_proves(seed):
    """Two small machines in one model, proven best, lie between the board's bound and its plan."""
    chance = random.Random(seed)
    visits = [MachineWork(f"m{n}", _drawn(chance, seed + 7 * n)) for n in range(2)]
    problem = board_problem(visits, TWO, resources={"lift": 1}, change_minutes=None)
    whole = solve(problem, deterministic_limit=2)
    ours = solve_together(problem, Budget(deterministic=1.0))
    if whole.status == "optimal" and ours.finish_minutes is not None:
        assert ours.finish_bound <= whole.finish_minutes <= ours.finish_minutes
        assert ours.attended_bound <= whole.attended_minutes
    if whole.status == "optimal":
        assert ours.status != "impossible"
    if whole.status == "impossible":
        assert ours.finish_minutes is None


def test_a_day_of_four_machines_is_near_its_bound_and_the_same_twice():
    """Within two per cent of what no plan can undercut; the same steps at the same deterministic limit."""
    visits = [MachineWork(f"m{n}", problem_from(data)) for n, data in enumerate(day(2, 4, (2, 4)))]
    crew = [Technician(name=name, shifts=((0, 240), (270, 510))) for name in "AB"]
    first, again = (
        plan_board(visits, crew, resources={"lift": 2}, change_minutes=2, deterministic_limit=1)
        for _ in range(2)
    )
    assert first.answer.steps == again.answer.steps
    assert first.gap < 0.02
    assert first.answer.attended_minutes == first.answer.attended_bound


def test_again_from_the_middle_of_a_day():
    """One machine's drain is running: who opened it stays, and what is done is not done again."""
    now = {"running": [{"name": "drain", "minutes": 0, "unattended": 4, "technicians": ["A"]}]}
    begun = problem_from(_oil().model_dump() | {"now": now})
    found = plan_board(
        [MachineWork("one", begun), MachineWork("two", _lights())], TWO, change_minutes=2
    )
    assert [step.name for step in found.answer.steps if step.technicians == ("A",)] == [
        "one: close"
    ]
    assert found.answer.finish_minutes == 8


def test_a_machine_alone_on_the_board_is_as_good_as_alone():
    data = machine({"drive oil", "battery"})
    found = plan_board([MachineWork("one", problem_from(data))], ONE)
    alone = solve(problem_from(data), objective="attended")
    assert found.answer.attended_minutes == alone.attended_minutes
