"""Copies of moves: those placed come in order; those beyond are counted, charged and otherwise free.

The relaxation (``docs/planner.md``, "Copies and proof"): where a plan does some move more often than
it is placed, everything is kept up to the first extra copy that sets a condition; from then on nothing is
asked of that condition but that its changes balance. So every plan is a solution of it, at no higher price.
"""

from __future__ import annotations

from itertools import pairwise

from witnessmark.planner.sequence.model.outline import Task
from witnessmark.planner.sequence.model.variables import Extra, Freedom, Linear, Variables


def copies_of_a_move_come_in_order(v: Variables) -> None:
    """The second copy only after the first."""
    for copies in v.copies.values():
        for first, second in pairwise(copies):
            assert first.present is not None
            assert second.present is not None
            v.cp.add_implication(second.present, first.present)
            v.cp.add(second.start >= first.over).only_enforce_if(second.present)


def extra_copies_come_after_those_placed(v: Variables) -> None:
    """There are extra copies only where all placed ones are used, and after them."""
    for name, extra in v.extra.items():
        v.cp.add(extra.count >= 1).only_enforce_if(extra.over)
        v.cp.add(extra.count == 0).only_enforce_if(~extra.over)
        if v.copies[name]:
            last = v.copies[name][-1]
            assert last.present is not None
            v.cp.add_implication(extra.over, last.present)
            v.cp.add(extra.start >= last.over).only_enforce_if(extra.over)


def a_condition_is_free_after_an_extra_copy(v: Variables) -> None:
    """A condition becomes free when the first of the extra copies that set it starts."""
    for freedom in v.freedom.values():
        extras = {move: v.extra[move.name] for move in freedom.first}
        v.cp.add_max_equality(freedom.on, [extra.over for extra in extras.values()])
        v.cp.add(sum(freedom.first.values()) == freedom.on)
        v.cp.add(freedom.start == v.horizon).only_enforce_if(~freedom.on)
        v.cp.add(v.finish >= freedom.begin).only_enforce_if(freedom.on)
        for move, extra in extras.items():
            _one_may_be_first(v, freedom, move, extra)


def _one_may_be_first(v: Variables, freedom: Freedom, move: Task, extra: Extra) -> None:
    first = freedom.first[move]
    v.cp.add_implication(first, extra.over)
    v.cp.add(freedom.start == extra.start).only_enforce_if(first)
    v.cp.add(freedom.start <= extra.start).only_enforce_if(extra.over)


def changes_of_a_condition_balance(v: Variables) -> None:
    """A state is left as often as it is reached, but for the start and the finish (no lapses)."""
    for name, condition in v.outline.conditions.items():
        if not condition.lapse and v.freedom.get(name) is not None:
            _balance(v, name)


def _balance(v: Variables, name: str) -> None:
    condition, start = v.outline.conditions[name], v.outline.problem.start_state(name)
    reached: dict[str, Linear] = {state: int(state == start) for state in condition.states}
    left: dict[str, Linear] = dict.fromkeys(condition.states, 0)
    for task, count in _changes(v, name):
        accepted = list(dict.fromkeys(task.accepts(name, condition.states)))
        to = task.step.sets[name]
        reached[to] = reached[to] + count  # `+=` would change the count itself, in place
        for state, share in zip(accepted, _shares(v, count, len(accepted)), strict=True):
            left[state] = left[state] + share
    for state in condition.states:
        last = v.literal() if condition.finish in (None, state) else 0
        v.cp.add(reached[state] == left[state] + last)
    _what_is_needed_is_reached(v, name, reached)


def _changes(v: Variables, name: str) -> list[tuple[Task, Linear]]:
    fixed: list[tuple[Task, Linear]] = [(t, 1) for t in v.outline.tasks if name in t.step.sets]
    return fixed + [(m, v.count(m.name)) for m in v.outline.moves if name in m.step.sets]


def _shares(v: Variables, count: Linear, parts: int) -> list[Linear]:
    """The count divided up among the states a step may start in."""
    if parts == 1:
        return [count]
    most = 1 if isinstance(count, int) else 1_000_000
    shares = [v.cp.new_int_var(0, most, "") for _ in range(parts)]
    v.cp.add(sum(shares) == count)
    return list(shares)


def _what_is_needed_is_reached(v: Variables, name: str, reached: dict[str, Linear]) -> None:
    for task in v.outline.tasks:
        states = task.step.needs.get(name, ())
        if states and name not in task.step.sets:
            v.cp.add(sum(reached[state] for state in set(states)) >= 1)
