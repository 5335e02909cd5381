"""No move without a purpose: what bounds how often a move can be worth doing.

Take, of all best plans, one with the fewest steps. Where it leaves a state by moves that set this
condition alone and comes back to the same state, and nothing in between made use of the change, these
moves could be dropped: nothing else would notice. So in that plan every such stay has a purpose, and
there are no more of them than purposes. The bound holds for extra copies too, and is what keeps
idle time (a drain of ten minutes) from filling up, in the relaxation, with moves nobody needs.
Lapses are clocks that a repeated move sets again, and held resources are freed by a change; such
conditions are left out. ``docs/planner.md`` has the argument in full.
"""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.planner.model.outline import Task
from witnessmark.planner.model.variables import Linear, Variables


def every_move_has_a_purpose(v: Variables) -> None:
    """A state is not reached by moves more often than something makes use of that."""
    for name, condition in v.outline.conditions.items():
        if condition.lapse or condition.holds or (condition.exposed and v.outline.has_shifts):
            continue
        for state in condition.states:
            _bound(v, name, state)


def _bound(v: Variables, name: str, state: str) -> None:
    reaching = [m for m in v.outline.moves if _alone(m, name) and m.step.sets[name] == state]
    if not reaching:
        return
    purposes: list[Linear] = [count for task, count in _counts(v) if _serves(v, task, name, state)]
    purposes += _ways_out_of_the_forbidden(v, name, state)
    purposes.append(int(v.outline.conditions[name].finish == state))
    if len(v.outline.conditions[name].states) > 2:
        purposes += [count for task, count in _counts(v) if _anchors(v, task, name)]
        purposes.append(1)
    v.cp.add(sum(v.count(move.name) for move in reaching) <= sum(purposes))


def _counts(v: Variables) -> Iterator[tuple[Task, Linear]]:
    yield from ((task, 1) for task in v.outline.tasks)
    yield from ((move, v.count(move.name)) for move in v.outline.moves)


def _alone(task: Task, name: str) -> bool:
    """Whether this is a move that sets this condition and no other."""
    return set(task.step.sets) == {name}


def _is_plain_move(v: Variables, task: Task, name: str) -> bool:
    return task in v.outline.moves and _alone(task, name)


def _serves(v: Variables, task: Task, name: str, state: str) -> bool:
    """Whether the task may need the condition in that state: to work, or to change it with others."""
    everything = v.outline.conditions[name].states
    if name in task.step.sets:
        return not _is_plain_move(v, task, name) and state in task.accepts(name, everything)
    needed = task.step.needs.get(name, ())
    return state in needed and set(needed) != set(everything)


def _anchors(v: Variables, task: Task, name: str) -> bool:
    """Whether the task may end a passage through several states: by needing one, or by a change."""
    if name in task.step.sets:
        return not _is_plain_move(v, task, name)
    needed = task.step.needs.get(name, ())
    return bool(needed) and set(needed) != set(v.outline.conditions[name].states)


def _ways_out_of_the_forbidden(v: Variables, name: str, state: str) -> list[Linear]:
    """A state may serve to be in no other while the rest of a forbidden combination holds."""
    purposes: list[Linear] = []
    for combination in v.outline.problem.never:
        if set(combination.get(name, ())) - {state}:
            purposes.append(1)
            for other, states in combination.items():
                if other != name:
                    purposes += [n for task, n in _counts(v) if task.step.sets.get(other) in states]
    return purposes
