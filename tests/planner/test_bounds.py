"""Bounds on the finish of a board: by pencil, and against trying every order of unstated work."""

import random
from itertools import permutations, product

import pytest

from witnessmark.planner import problem_from, tenths
from witnessmark.planner.board.bounds import Part, finish_bound
from witnessmark.planner.board.parts import parts


def _bound(data):
    problem = problem_from(data)
    alone = [Part(p, sum(o.effort_tenths for o in p.operations)) for p in parts(problem)]
    return finish_bound(problem, alone) / 10


def _work(*minutes, **more):
    return {
        "operations": [
            {"name": f"o{n}", "machine": f"m{n}", "minutes": length, "after": []}
            for n, length in enumerate(minutes)
        ]
    } | more


def test_hours_and_changes_bound_the_finish():
    """20 minutes of work on three machines by one: two changes of 2."""
    assert _bound(_work(8, 7, 5, change_minutes=2)) == 24


def test_what_is_left_of_a_shift_is_lost():
    """Shift of 10, machines of 8, 7 and 6: whole ones leave 2 of it or more, unless one is shared."""
    crew = [{"name": "A", "shifts": [[0, 10], [100, 150]]}]
    assert _bound(_work(8, 7, 6, change_minutes=5, technicians=crew)) == 118
    assert _bound(_work(8, 7, 6, change_minutes=1, technicians=crew)) == 113


def test_a_lift_held_bounds_the_finish_whenever_the_machine_comes():
    """Up 1, work 8, down 1, twice on one lift."""
    states = {"states": ["down", "up"], "start": "down", "finish": "down"}
    data = {
        "resources": {"lift": 1},
        "technicians": [{"name": "A"}, {"name": "B"}],
        "conditions": {f"p{n}": states | {"holds": {"up": {"lift": 1}}} for n in range(2)},
        "moves": [
            {"name": f"{to} {n}", "minutes": 1, "needs": {f"p{n}": [at]}, "sets": {f"p{n}": to}}
            for n in range(2)
            for to, at in (("up", "down"), ("down", "up"))
        ],
        "operations": [
            {"name": f"o{n}", "minutes": 8, "hands": 2, "needs": {f"p{n}": ["up"]}, "release": 3}
            for n in range(2)
        ],
    }
    assert _bound(data) == 20


@pytest.mark.parametrize("seed", range(40))
def test_no_order_of_the_work_undercuts_the_bound(seed):
    """One or two technicians with shifts, changes that cost, releases: every order of a few operations."""
    chance = random.Random(seed)
    data = _work(
        *(chance.randint(1, 9) for _ in range(4)),
        change_minutes=chance.choice((0, 1, 3)),
        technicians=[
            {"name": name, "shifts": [[0, chance.randint(6, 12)], [20, 90]]}
            for name in "AB"[: chance.choice((1, 2))]
        ],
    )
    for operation in data["operations"]:
        operation["machine"] = chance.choice(("m0", "m1", "m2"))
        operation["release"] = chance.choice((0, 0, 4))
    assert _bound(data) <= _earliest(problem_from(data))


def _earliest(problem):
    """The earliest finish over every order and every choice of technician, all starts as early as can be."""
    crew = range(len(problem.technicians))
    return min(
        _finish(problem, order, who)
        for order in permutations(problem.operations)
        for who in product(crew, repeat=len(order))
    )


def _finish(problem, order, who):
    free, machine, finish = {}, {}, 0
    for operation, t in zip(order, who, strict=True):
        change = (
            problem.change_minutes if machine.get(t, operation.machine) != operation.machine else 0
        )
        at = max(free.get(t, 0) + change, operation.release)
        at = next(
            max(at, begin)
            for begin, end in problem.technicians[t].shifts
            if max(at, begin) + operation.minutes <= end
        )
        free[t], machine[t] = at + operation.minutes, operation.machine
        finish = max(finish, free[t])
    assert tenths(finish) > 0
    return finish
