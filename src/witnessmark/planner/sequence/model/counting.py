"""How often each move can be worth doing, and the least effort, by counting alone.

A best plan with the fewest steps keeps to two rules that know no times: the changes of a condition
balance (`changes_of_a_condition_balance`), and no move is done without a purpose
(`every_move_has_a_purpose`). The most copies of a move under these rules, at an effort still worth
looking for, bound its copies in every plan worth looking for; a move that cannot be done more often
than it is placed needs no extra copies in the proof. The least effort under the same rules is a bound
on any plan. Both are tiny integer programmes.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from ortools.sat.python import cp_model

from witnessmark.planner import search_seconds
from witnessmark.planner.sequence.model.copies import (
    changes_of_a_condition_balance,
    extra_copies_come_after_those_placed,
)
from witnessmark.planner.sequence.model.outline import Outline, Task
from witnessmark.planner.sequence.model.purpose import every_move_has_a_purpose
from witnessmark.planner.sequence.model.variables import Variables, variables

MANY = 1000


@dataclass(frozen=True)
class Counted:
    """The most copies of each move worth doing, and the least effort of any plan, in tenths."""

    most: dict[str, int]
    least_effort: int


def counted(outline: Outline, effort: int | None) -> Counted | None:
    """The bounds among plans of at most this effort (None: any). None where there is no such plan."""
    v = _rules(outline)
    if effort is not None:
        v.cp.add(v.attended <= effort)
    v.cp.minimize(v.attended)
    least = _bound(v.cp)
    if least is None:
        return None
    most: dict[str, int] = {}
    for move in outline.moves:
        v.cp.maximize(v.count(move.name))
        bound = _bound(v.cp)
        if bound is None:
            return None
        most[move.name] = bound
    return Counted(most, least)


def fewest(outline: Outline) -> dict[str, int]:
    """How often each move is done at the least effort these rules allow; nothing where none do."""
    v = _rules(outline)
    times = sum(v.count(move.name) for move in outline.moves)
    v.cp.minimize(v.attended * MANY + times)  # what costs nothing is not done without need
    solver, status = _solved(v.cp)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return {}
    return {move.name: solver.value(v.count(move.name)) for move in outline.moves}


def _rules(outline: Outline) -> Variables:
    v = variables(outline, {move.name: 0 for move in outline.moves}, 1, beyond=True)
    extra_copies_come_after_those_placed(v)
    changes_of_a_condition_balance(v)
    every_move_has_a_purpose(v)
    for name, condition in outline.conditions.items():
        if not condition.lapse:
            _what_moves_need_is_reached(v, name)
            _what_was_changed_comes_to_its_finish(v, name)
    return v


def _what_moves_need_is_reached(v: Variables, name: str) -> None:
    """A move that needs another state than the first comes after a step that reaches one it needs."""
    start = v.outline.problem.start_state(name)
    for move in v.outline.moves:
        needed = move.step.needs.get(name, (start,))
        if start not in needed:
            _one_of(v, name, needed, move)


def _what_was_changed_comes_to_its_finish(v: Variables, name: str) -> None:
    """A move that leads elsewhere than to the finish asked for is followed by a step that leads there."""
    finish = v.outline.conditions[name].finish
    for move in v.outline.moves:
        if finish is not None and move.step.sets.get(name, finish) != finish:
            _one_of(v, name, (finish,), move)


def _one_of(v: Variables, name: str, states: Collection[str], because: Task) -> None:
    """Where a move is done, so is another step that brings the condition to one of the states."""
    if not any(task.step.sets.get(name) in states for task in v.outline.tasks):
        bringing = [m for m in v.outline.moves if m.step.sets.get(name) in states]
        ways = [v.extra[move.name].over for move in bringing if move is not because]
        v.cp.add_bool_or([*ways, ~v.extra[because.name].over])


def _bound(cp: cp_model.CpModel) -> int | None:
    """The proven bound of the objective; None where nothing satisfies the rules."""
    solver, status = _solved(cp)
    if status == cp_model.INFEASIBLE:
        return None
    bound = solver.best_objective_bound
    rising = cp.proto.objective.scaling_factor < 0  # a maximum is kept as a scaled minimum
    return int((bound + 1e-6) // 1) if rising else int(-(-(bound - 1e-6) // 1))


def _solved(cp: cp_model.CpModel) -> tuple[cp_model.CpSolver, int]:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.cp_model_presolve = False  # measured: takes longer than solving
    solver.parameters.max_deterministic_time = search_seconds.COUNTING
    return solver, int(solver.solve(cp))
