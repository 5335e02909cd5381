"""How often each move can be worth doing, and the least effort, by counting alone.

A best plan with the fewest steps keeps to two rules that know no times: the changes of a condition
balance (`changes_of_a_condition_balance`), and no move is done without a purpose
(`every_move_has_a_purpose`). The most copies of a move under these rules, at an effort still worth
looking for, bound its copies in every plan worth looking for; a move that cannot be done more often
than it is placed needs no extra copies in the proof. The least effort under the same rules is a bound
on any plan. Both are tiny integer programmes.
"""

from __future__ import annotations

from dataclasses import dataclass

from ortools.sat.python import cp_model

from witnessmark.planner.model.copies import changes_of_a_condition_balance
from witnessmark.planner.model.outline import Outline
from witnessmark.planner.model.purpose import every_move_has_a_purpose
from witnessmark.planner.model.variables import variables

SECONDS_OF_WORK = 1.0  # deterministic; a bound that took longer would not pay


@dataclass(frozen=True)
class Counted:
    """The most copies of each move worth doing, and the least effort of any plan, in tenths."""

    most: dict[str, int]
    least_effort: int


def counted(outline: Outline, effort: int | None) -> Counted | None:
    """The bounds among plans of at most this effort (None: any). None where there is no such plan."""
    v = variables(outline, {move.name: 0 for move in outline.moves}, 1, beyond=True)
    changes_of_a_condition_balance(v)
    every_move_has_a_purpose(v)
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


def _bound(cp: cp_model.CpModel) -> int | None:
    """The proven bound of the objective; None where nothing satisfies the rules."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = SECONDS_OF_WORK
    if solver.solve(cp) == cp_model.INFEASIBLE:
        return None
    bound = solver.best_objective_bound
    rising = cp.proto.objective.scaling_factor < 0  # a maximum is kept as a scaled minimum
    return int((bound + 1e-6) // 1) if rising else int(-(-(bound - 1e-6) // 1))
