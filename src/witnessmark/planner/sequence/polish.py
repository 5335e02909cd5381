"""The last goals, as good as found: less exposure, the previous order, fewer walks, early starts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from ortools.sat.python import cp_model

from witnessmark.planner import search_seconds
from witnessmark.planner.sequence.model.constrain import constrain
from witnessmark.planner.sequence.model.exposure import exposure
from witnessmark.planner.sequence.model.outline import Outline
from witnessmark.planner.sequence.model.variables import Linear, Variables, variables
from witnessmark.planner.sequence.order import (
    Item,
    deviation,
    is_walk,
    numbered,
    sorted_by_rank,
    walks_of,
)
from witnessmark.planner.sequence.search import Solution, found_in
from witnessmark.planner.sequence.search_limits import SearchLimits, run


def polished(
    outline: Outline, found: Solution, limits: SearchLimits, previous: Sequence[str] | None
) -> Solution:
    """A plan of the same finish and attended minutes, at least as good in the later goals."""
    best = _best_order(outline, found, limits, previous)
    if limits.over() or best.exposure == 0:
        return best
    less = _less_exposed(outline, best, limits)
    return best if less is None else _best_order(outline, less, limits, previous)


def _best_order(
    outline: Outline, found: Solution, limits: SearchLimits, previous: Sequence[str] | None
) -> Solution:
    candidates = [found]
    for order in _orders(outline, found, previous):
        settled = _settled(outline, found, order, limits)
        if settled is not None:
            candidates.append(settled)
    return min(candidates[1:] or candidates, key=lambda f: _later_goals(f, previous))


def _later_goals(found: Solution, previous: Sequence[str] | None) -> tuple[int, int, int]:
    names = numbered([task.name for task, _, _ in found.starts])
    moved = 0 if previous is None else deviation(names, previous)
    return found.exposure, moved, walks_of(found)


def _orders(outline: Outline, found: Solution, previous: Sequence[str] | None) -> list[list[Item]]:
    """The order as found, the nearest to the previous one, the one with few walks."""
    items = list(found.starts)
    if outline.hands > 1:
        return [items]
    place = {item: number for number, item in enumerate(items)}
    orders = [items]
    if previous is not None:
        before = {key: number for number, key in enumerate(numbered(previous))}
        keys = dict(zip(items, numbered([item[0].name for item in items]), strict=True))
        orders.append(
            sorted_by_rank(outline, items, lambda _, i: (before.get(keys[i], place[i]), place[i]))
        )
    orders.append(
        sorted_by_rank(
            outline,
            items,
            lambda last, i: (last is not None and is_walk(last[0], i[0]), place[i]),
        )
    )
    return [order for n, order in enumerate(orders) if order not in orders[:n]]


def _rebuilt(outline: Outline, found: Solution) -> tuple[Variables, Linear, int]:
    """The model a plan was found in, with exposure, and how many of its variables the plan knows."""
    v = variables(outline, dict(found.caps), found.horizon)
    constrain(v)
    known = len(found.solution)
    exposed = exposure(v)
    v.cp.add(v.finish <= found.values["finish"])
    v.cp.add(v.attended <= found.values["attended"])
    return v, exposed, known


def _settled(
    outline: Outline, found: Solution, order: Sequence[Item], limits: SearchLimits
) -> Solution | None:
    """The same steps in the given order, exposed as little and started as early as can be."""
    v, exposed, known = _rebuilt(outline, found)
    for index in range(known):
        domain = v.cp.proto.variables[index].domain
        if list(domain) == [0, 1]:
            v.cp.add(v.cp.get_bool_var_from_proto_index(index) == found.solution[index])
    at = {(placed.task, placed.copy): placed for placed in v.placed}
    worked = [at[task, copy] for task, copy, _ in order if task.effort and outline.hands == 1]
    for earlier, later in pairwise(worked):
        v.cp.add(later.start >= earlier.start + earlier.task.attended)
    done = [at[task, copy] for task, copy, _ in order]
    weight = len(done) * found.horizon + 1
    v.cp.minimize(exposed * weight + sum(placed.start for placed in done))
    solver, status = run(v.cp, limits, goal="polish", most=search_seconds.LESS_EXPOSURE)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return _as_found(v, solver, found, known, exposed)


def _less_exposed(outline: Outline, found: Solution, limits: SearchLimits) -> Solution | None:
    """Another plan with less exposure, searched for briefly."""
    v, exposed, known = _rebuilt(outline, found)
    for index in range(known):
        v.cp.add_hint(v.cp.get_int_var_from_proto_index(index), found.solution[index])
    v.cp.add(exposed <= found.exposure - 1)
    v.cp.minimize(exposed)
    solver, status = run(v.cp, limits, goal="exposure", most=search_seconds.LESS_EXPOSURE)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return _as_found(v, solver, found, known, exposed)


def _as_found(
    v: Variables, solver: cp_model.CpSolver, found: Solution, known: int, exposed: Linear
) -> Solution:
    solution = tuple(solver.response_proto.solution)[:known]
    minutes = exposed if isinstance(exposed, int) else solver.value(exposed)
    again = found_in(v, solver, found.caps)
    return replace(again, horizon=found.horizon, solution=solution, exposure=minutes)
