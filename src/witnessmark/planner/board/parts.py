"""Parts of a problem that share nothing but technicians, resources and time: usually its machines."""

from __future__ import annotations

from collections.abc import Hashable, Iterable

from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Move, Now, Operation


class _Joined:
    """Sets of things known to belong together (union-find)."""

    def __init__(self) -> None:
        self.above: dict[Hashable, Hashable] = {}

    def top(self, thing: Hashable) -> Hashable:
        above = self.above
        root = thing
        while above.setdefault(root, root) != root:
            root = above[root]
        while above[thing] != root:
            above[thing], thing = root, above[thing]
        return root

    def join(self, things: Iterable[Hashable]) -> None:
        first, *others = things
        for other in others:
            self.above[self.top(other)] = self.top(first)


def parts(problem: Problem) -> list[Problem]:
    """The independent parts, in the order of the problem; each with all technicians and resources.

    Steps belong together that speak of the same condition, follow one another by ``after``, or whose
    conditions a ``never`` names. A move belongs to the conditions it needs and sets. What no operation
    depends on is a part as well where its conditions must change; parts with nothing to do are left out.
    """
    joined = _Joined()
    for step in problem.steps:
        joined.join([_of(step), *(("c", name) for name in (*step.needs, *step.sets))])
        if isinstance(step, Operation):
            joined.join([_of(step), *(("s", name) for name in step.after)])
    for row in problem.never:
        joined.join([("c", name) for name in row])
    tops = dict.fromkeys(joined.top(_of(step)) for step in problem.operations)
    tops |= dict.fromkeys(
        joined.top(("c", name))
        for name, condition in problem.conditions.items()
        if condition.finish not in (None, problem.start_state(name))
        or problem.start_state(name) in condition.exposed
        or condition.holds.get(problem.start_state(name))
    )
    for running in problem.now.running if problem.now else ():
        tops[joined.top(("s", running.name))] = None
    return _split(problem, joined, list(tops))


def _of(step: Move | Operation) -> tuple[str, str]:
    return ("s", step.name)


def _split(problem: Problem, joined: _Joined, tops: list[Hashable]) -> list[Problem]:
    if len(tops) <= 1:
        return [problem]
    moves: dict[Hashable, list[Move]] = {top: [] for top in tops}
    operations: dict[Hashable, list[Operation]] = {top: [] for top in tops}
    names: dict[Hashable, list[str]] = {top: [] for top in tops}
    never: dict[Hashable, list[int]] = {top: [] for top in tops}
    for move in problem.moves:
        moves.get(joined.top(_of(move)), []).append(move)
    for operation in problem.operations:
        operations[joined.top(_of(operation))].append(operation)
    for name in problem.conditions:
        names.get(joined.top(("c", name)), []).append(name)
    for place, row in enumerate(problem.never):
        never.get(joined.top(("c", next(iter(row)))), []).append(place)
    return [
        problem.model_copy(
            update={
                "conditions": {name: problem.conditions[name] for name in names[top]},
                "never": tuple(problem.never[place] for place in never[top]),
                "moves": tuple(moves[top]),
                "operations": tuple(operations[top]),
                "due_by": {},
                "now": _now(problem.now, names[top], [*moves[top], *operations[top]]),
            }
        )
        for top in tops
    ]


def _now(now: Now | None, names: list[str], steps: list[Move | Operation]) -> Now | None:
    if now is None:
        return None
    conditions, known = set(names), {step.name for step in steps}
    return Now(
        states={name: state for name, state in now.states.items() if name in conditions},
        ages={name: age for name, age in now.ages.items() if name in conditions},
        done=tuple(name for name in now.done if name in known),
        running=tuple(running for running in now.running if running.name in known),
    )
