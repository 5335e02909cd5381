"""The least attended minutes of any plan, by the order of the steps alone (``model/ordering.py``).

One model with extra copies: where its best solution needs none beyond the caps, it is an order to do
everything in, and the bound holds for any number of copies; where it wants more of a move, that cap is raised.
"""

from __future__ import annotations

import statistics
from collections.abc import Mapping
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from witnessmark.planner import search_seconds
from witnessmark.planner.sequence.model.counting import fewest
from witnessmark.planner.sequence.model.ordering import can_be_done, in_beats, ordered
from witnessmark.planner.sequence.model.outline import Outline
from witnessmark.planner.sequence.model.variables import Variables
from witnessmark.planner.sequence.order import Ordered, begun_then
from witnessmark.planner.sequence.reachability import Reachability, reachability
from witnessmark.planner.sequence.search_limits import SearchLimits, run

SHARE = 0.4  # of the limits left, for one round
FROM_ANY_SHARE = 0.8  # the same, for a short search from an order known
MOST_ROUNDS = 12
LARGE = 60  # operations from which any order is sought first: what is least is near it
MOST_FIRST = 8  # copies of a move to begin with
SEEN = {2: 4_000, 6: 40_000}  # combined states to go through, before these rounds


@dataclass(frozen=True)
class Effort:
    """The least effort of any plan in tenths, or a bound on it, and what is known of the order.

    ``order``: steps and which copy, one after the other, the best found; None: none found. ``counts``: how often each
    move is done in it, or was last wanted. ``impossible``: there is no order at all.
    ``is_least``: proven by one short search.
    """

    bound: int
    order: Ordered | None
    counts: Mapping[str, int]
    impossible: bool = False
    is_least: bool = False


def least_effort(outline: Outline, limits: SearchLimits) -> Effort:
    """The order of least effort, with proof for any number of copies of moves."""
    if not all(can_be_done(outline, task) for task in outline.tasks):
        return Effort(0, None, {}, impossible=True)
    beats = in_beats(outline)
    known = _any_order(outline) if len(outline.tasks) >= LARGE else None
    if known is not None:
        known = _improved(outline, beats, known, limits)
        if known.is_least:
            return known
    found = _in_rounds(outline, beats, limits)
    if found.order is not None or found.impossible:
        return found
    known = known or _any_order(outline)
    return found if known is None else replace(known, bound=max(known.bound, found.bound))


def _improved(outline: Outline, beats: Outline, known: Effort, limits: SearchLimits) -> Effort:
    """An order at least as good within a short search that begins with this one, and a bound."""
    caps = {name: max(cap, known.counts[name]) for name, cap in _first_caps(beats).items()}
    v = ordered(beats, caps)
    v.cp.minimize(v.attended)
    _hint(v, known)
    left = limits.left()[1]
    most = search_seconds.FROM_ANY_ORDER
    most = most if left is None else min(most, FROM_ANY_SHARE * left)
    solver, status = run(v.cp, limits, goal="attended", most=max(0.0, most))
    limits.spent -= solver.response_proto.deterministic_time  # an allowance of its own
    bound = _bound(solver)
    none_found = status not in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    if none_found or any(solver.value(extra.over) for extra in v.extra.values()):
        return replace(known, bound=bound)
    is_least = status == cp_model.OPTIMAL
    return replace(_found(outline, v, solver, bound), is_least=is_least)


def _in_rounds(outline: Outline, beats: Outline, limits: SearchLimits) -> Effort:
    caps, bound = _first_caps(beats), 0
    for number in range(MOST_ROUNDS):
        if number and limits.over():
            break
        if number in SEEN and (all_seen := _all_seen(outline, SEEN[number])) is not None:
            return all_seen
        v = ordered(beats, caps)
        v.cp.add(v.attended >= bound)
        v.cp.minimize(v.attended)
        solver, status = run(v.cp, limits, goal="attended", share=SHARE)
        if status == cp_model.INFEASIBLE:
            return Effort(bound, None, caps, impossible=True)
        bound = max(bound, _bound(solver))
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            break
        extra = {n: solver.value(e.count) for n, e in v.extra.items() if solver.value(e.over)}
        if not extra:
            return _found(outline, v, solver, bound)
        for name in extra:
            caps[name] += 1
    return Effort(bound, None, caps)


def _hint(v: Variables, known: Effort) -> None:
    """Begin with this order, and no copies beyond the caps."""
    beats = {(task.name, copy): n for n, (task, copy) in enumerate(known.order or ())}
    for placed in v.placed:
        beat = beats.get((placed.name, placed.copy))
        if placed.present is not None:
            v.cp.add_hint(placed.present, beat is not None)
        if beat is not None and placed.task.running is None:
            v.cp.add_hint(placed.start, beat)
    for extra in v.extra.values():
        v.cp.add_hint(extra.over, 0)


def _any_order(outline: Outline) -> Effort | None:
    """The first order found by going from state to state, what is nearest first; None: none, or not so soon."""
    seen = reachability(_by_whom_is_there(outline))
    if not seen.possible:
        return None
    return Effort(0, begun_then(outline, seen.order), _counts(outline, seen))


def _all_seen(outline: Outline, most: int) -> Effort | None:
    """The same by going through all combined states, where these are few; None where not.

    A small problem may want a move very often, which the rounds come to slowly.
    """
    seen = reachability(_by_whom_is_there(outline), most, least=True)
    if seen.possible is None:
        return None
    if not seen.possible or seen.effort is None:
        return Effort(0, None, {}, impossible=True)
    return Effort(seen.effort, begun_then(outline, seen.order), _counts(outline, seen))


def _by_whom_is_there(outline: Outline) -> Outline:
    """Without moves that nobody can do."""
    moves = tuple(move for move in outline.moves if can_be_done(outline, move))
    return replace(outline, moves=moves)


def _counts(outline: Outline, seen: Reachability) -> Mapping[str, int]:
    return {move.name: seen.times[move.name] for move in outline.moves}


def _first_caps(beats: Outline) -> dict[str, int]:
    """As often as counting alone would do each move, and once more where that costs little.

    A guess that only costs time when wrong.
    """
    counts = fewest(beats)
    efforts = [move.effort for move in beats.moves]
    little = statistics.median(efforts) / 2 if efforts else 0
    return {
        move.name: min(max(1, counts.get(move.name, 1)), MOST_FIRST) + (move.effort <= little)
        for move in beats.moves
    }


def _bound(solver: cp_model.CpSolver) -> int:
    return max(0, int(-(-(solver.best_objective_bound - 1e-6) // 1)))


def _found(outline: Outline, v: Variables, solver: cp_model.CpSolver, bound: int) -> Effort:
    done = [p for p in v.placed if p.present is None or solver.value(p.present)]
    done.sort(key=lambda placed: solver.value(placed.start))
    names = [placed.name for placed in done if placed.task.running is None]
    counts = {move.name: names.count(move.name) for move in outline.moves}
    return Effort(bound, begun_then(outline, names), counts)
