"""No move without a purpose: what bounds how often a move can be worth doing.

Take, of all best plans, one with the fewest steps. Where it leaves a state by moves that set this
condition alone and comes back to the same state, and nothing in between made use of the change, these
moves could be dropped: nothing else would notice. So in that plan every such stay has a purpose, and
there are no more of them than purposes. The bound holds for extra copies too, and is what keeps
idle time (a drain of ten minutes) from filling up, in the relaxation, with needless moves.
A lapse is a clock that a repeated move sets again, so there only a weaker bound holds; a change
that ends what is forbidden with another, or frees a scarce resource, has its purpose in that.
``docs/planner.md`` has the argument in full.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

from witnessmark.planner.problem.shifts import day_ends
from witnessmark.planner.sequence.model.outline import Task
from witnessmark.planner.sequence.model.variables import Linear, Literal, Placed, Variables


def every_move_has_a_purpose(v: Variables) -> None:
    """A state is not reached by moves more often than something makes use of that."""
    for name, condition in v.outline.conditions.items():
        if condition.lapse:
            for move in v.outline.moves:
                _bound_where_states_lapse(v, name, move)
        else:
            for state in condition.states:
                _bound(v, name, state)


def every_stay_has_a_purpose(v: Variables) -> None:
    """Between a move out of a state and the move back something relies on the state in between.

    Where nothing does, both moves could be dropped. Only where states neither lapse nor serve by not being another one.
    """
    for name, condition in v.outline.conditions.items():
        if not condition.lapse:
            for (i, j), arc in v.follows[name].items():
                by, later = v.stays[name][i].by, _setter(v, name, j)
                if by is not None and later is not None and _is_there_and_back(v, name, by, later):
                    _relied_upon(v, name, i, arc)


def _setter(v: Variables, name: str, number: int) -> Placed | None:
    return v.stays[name][number].by


def _is_there_and_back(v: Variables, name: str, by: Placed, later: Placed) -> bool:
    """Whether two moves of this condition alone leave a state and come back to it, and may be dropped if unused."""
    before = set(by.task.accepts(name, v.outline.conditions[name].states))
    between, after = by.task.step.sets[name], later.task.step.sets[name]
    plain = _is_plain_move(v, by.task, name) and _is_plain_move(v, later.task, name)
    return plain and before == {after} and not _is_way_out(v, name, after, between)


def _is_way_out(v: Variables, name: str, state: str, other: str) -> bool:
    """Whether being in the other state may be of use because this one is forbidden, exposed or holds more."""
    problem, condition = v.outline.problem, v.outline.conditions[name]
    rows = [row[name] for row in problem.never if name in row]
    held, less = condition.holds.get(state, {}), condition.holds.get(other, {})
    return (
        any(state in row and other not in row for row in rows)
        or any(held.get(r, 0) > less.get(r, 0) for r in v.outline.scarce)
        or (
            state in condition.exposed
            and other not in condition.exposed
            and bool(day_ends(problem))
        )
    )


def _relied_upon(v: Variables, name: str, stay: int, arc: Literal) -> None:
    state, by = v.stays[name][stay].state, v.stays[name][stay].by
    assert by is not None
    (other,) = set(by.task.accepts(name, v.outline.conditions[name].states))
    uses = [
        literal
        for task, literal in v.relied.get((name, stay), ())
        if other not in task.step.needs[name]
    ]
    uses += [
        v.extra[move.name].over
        for move in v.outline.moves
        if move.name in v.extra and name not in move.step.sets
        if state in move.step.needs.get(name, ()) and other not in move.step.needs[name]
    ]
    v.cp.add_bool_or([*uses, ~arc])


def _bound(v: Variables, name: str, state: str) -> None:
    reaching = [m for m in v.outline.moves if _alone(m, name) and m.step.sets[name] == state]
    if not reaching:
        return
    purposes: list[Linear] = [count for task, count in _counts(v) if _serves(v, task, name, state)]
    purposes += _ways_out(v, name, {state})
    purposes.append(int(v.outline.conditions[name].finish == state))
    if len(v.outline.conditions[name].states) > 2:
        purposes += [count for task, count in _counts(v) if _anchors(v, task, name)]
        purposes.append(1)
    v.cp.add(sum(v.count(move.name) for move in reaching) <= sum(purposes))


def _bound_where_states_lapse(v: Variables, name: str, move: Task) -> None:
    """Between two uses of the condition a move is done once at most, if it starts from lasting states.

    Done twice, the first could be dropped with all up to the second: the state that the first started
    from would have lasted until the second.
    """
    condition = v.outline.conditions[name]
    accepted = set(move.accepts(name, condition.states))
    if not _alone(move, name) or accepted & set(condition.lapse):
        return
    purposes: list[Linear] = [count for task, count in _counts(v) if _anchors(v, task, name)]
    purposes += _ways_out(v, name, set(condition.states) - accepted)
    purposes.append(2)  # before the first use, and for the finish
    v.cp.add(v.count(move.name) <= sum(purposes))


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


def _ways_out(v: Variables, name: str, states: set[str]) -> list[Linear]:
    """States may serve to be in no other: for a forbidden combination, the night, or a resource.

    Between two such stays the condition was back in another state, and that was allowed; so in between
    something began anew that made it forbidden: there are no more such stays than beginnings, and one.
    """
    purposes: list[Linear] = []
    condition = v.outline.conditions[name]
    for combination in v.outline.problem.never:
        if set(combination.get(name, ())) - states:
            purposes.append(1)
            for other, others in combination.items():
                if other != name:
                    purposes += _entries(v, other, others)
    if set(condition.exposed) - states:
        purposes.append(len(day_ends(v.outline.problem)))
    for resource in sorted(v.outline.scarce):
        if any(resource in held for s, held in condition.holds.items() if s not in states):
            purposes.append(1)
            purposes += [n for task, n in _counts(v) if resource in task.step.uses]
            for other, described in v.outline.conditions.items():
                if other != name:
                    holding = [s for s, held in described.holds.items() if resource in held]
                    purposes += _entries(v, other, holding)
    return purposes


def _entries(v: Variables, name: str, states: Collection[str]) -> list[Linear]:
    """How often a condition comes to be in one of the states, by steps and by lapses."""
    set_so = [n for task, n in _counts(v) if task.step.sets.get(name) in states]
    return set_so + _lapses_into(v, name)


def _lapses_into(v: Variables, other: str) -> list[Linear]:
    """How often a condition can lapse into a state: once per state after the start and each change."""
    condition = v.outline.conditions[other]
    if not condition.lapse:
        return []
    states = len(condition.states)
    return [states, *(n * states for task, n in _counts(v) if other in task.step.sets)]
