"""A lapse as a step: where nobody is worse off with the state a lapse leads to, waiting for it is a move.

Say that state s of a condition lapses to s′, and that s′ serves wherever s does: no step, finish or forbidden
combination accepts s alone, s′ holds no more and is no more exposed, and no step that accepts s leaves the condition
as it is. Then the lapse is a move that nobody does,
from s to s′, as long as the lapse. Both ways lose nothing:

* a plan with the lapse is a plan with the move, begun when s was reached. Meanwhile the condition counts as being
  changed, which nothing that goes on then minds, and as in s and s′, which forbids, holds and exposes what s does.
  A lapse that another change of the condition, or the finish, forestalls is no move.
* a plan with the move is a plan with the lapse: the condition is in the state the plan says, or in one that it has
  lapsed to, which serves as well.

So a problem without a clock is left, and all that needs none: the best order, its proof, other orders of it.
A start state that lapses has its age, which a move does not know: such a condition stays as it is.
"""

from __future__ import annotations

from collections.abc import Iterable

from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Move, Operation
from witnessmark.planner.sequence.model.outline import outline

Step = Move | Operation


def with_waits(problem: Problem) -> Problem:
    """The same problem with moves for the lapses that may be moves, and without moves of no use.

    Where nobody notices that a condition lapses, it does not; the very same problem where none may be a move.
    """
    lapsing = [name for name, condition in problem.conditions.items() if condition.lapse]
    if not lapsing:
        return problem
    begun = problem.begun
    used = {move.name for move in outline(problem).moves} | begun
    moves = [move for move in problem.moves if move.name in used]
    steps: list[Step] = [*moves, *problem.operations]
    conditions = dict(problem.conditions)
    for name in lapsing:
        if all(_serves_as_well(problem, steps, name, s) for s in conditions[name].lapse):
            if _is_noticed(problem, steps, name):
                moves += _waits(problem, name)
            conditions[name] = conditions[name].model_copy(update={"lapse": {}})
    if conditions == problem.conditions:
        return problem
    changed = {"conditions": conditions, "moves": tuple(moves)}
    return Problem.model_construct(**{**dict(problem), **changed})


def _serves_as_well(problem: Problem, steps: Iterable[Step], name: str, state: str) -> bool:
    """Whether the state this one lapses to serves wherever it does, and nobody relies on this one."""
    condition = problem.conditions[name]
    to = condition.lapse[state].to
    if condition.finish == state or (
        problem.start_state(name) == state and problem.start_age(name) > 0
    ):
        return False
    for step in steps:
        accepted = step.needs.get(name, ())
        if state in accepted and (name not in step.sets or to not in accepted):
            return False
    rows = [row[name] for row in problem.never if name in row]
    before, after = condition.holds.get(state, {}), condition.holds.get(to, {})
    return (
        not any(to in row and state not in row for row in rows)
        and all(units <= before.get(resource, 0) for resource, units in after.items())
        and (to not in condition.exposed or state in condition.exposed)
    )


def _is_noticed(problem: Problem, steps: Iterable[Step], name: str) -> bool:
    """Whether anything accepts a state that is lapsed to and not the one it was before, or is freed by that."""
    condition = problem.conditions[name]
    accepted = [step.needs[name] for step in steps if name in step.needs]
    accepted += [] if condition.finish is None else [(condition.finish,)]
    forbidden = [row[name] for row in problem.never if name in row]
    return any(
        any(lapse.to in states and state not in states for states in accepted)
        or any(state in states and lapse.to not in states for states in forbidden)
        or condition.holds.get(state, {}) != condition.holds.get(lapse.to, {})
        or (state in condition.exposed and lapse.to not in condition.exposed)
        for state, lapse in condition.lapse.items()
    )


def _waits(problem: Problem, name: str) -> list[Move]:
    return [
        Move(
            name=_new_name(problem, f"{name}: {state} to {lapse.to}"),
            minutes=0.0,
            unattended=lapse.after,
            hands=0,
            needs={name: (state,)},
            sets={name: lapse.to},
        )
        for state, lapse in problem.conditions[name].lapse.items()
    ]


def _new_name(problem: Problem, wished: str) -> str:
    taken = {step.name for step in problem.steps}
    return next(
        n for n in (wished + "′" * times for times in range(len(taken) + 1)) if n not in taken
    )
