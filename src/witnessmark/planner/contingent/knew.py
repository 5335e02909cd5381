"""What somebody would need who knew all answers at the door: a bound on every tree.

Per case a floor under its attended minutes, by shares: conditions are dealt out to parts that share none. Forget all
conditions but those of a part, and charge it only for the access steps that change nothing else: what every part then
takes at least adds up (additive pattern databases: A. Felner, R. Korf, S. Hanan, JAIR 22, 2004). Operations that a
case does not need may be done in it, for nothing, so that one share is a floor for many cases. The parts that only
further operations change are small enough to go through all their combined states; the rest is asked once.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from functools import cached_property

from witnessmark.planner.contingent.orders import Orders
from witnessmark.planner.contingent.places import Needed
from witnessmark.planner.contingent.rests import Order, Rests
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Move, Step
from witnessmark.planner.problem.unknowns import Answers, ContingentProblem
from witnessmark.planner.sequence.effort import least_effort
from witnessmark.planner.sequence.model.outline import outline
from witnessmark.planner.sequence.reachability import reachability


@dataclass
class Knew:
    """The cases of a problem, how probable each is, and floors under their attended tenths."""

    problem: ContingentProblem
    rests: Rests
    floors: dict[Needed, int] = field(default_factory=dict)

    @cached_property
    def cases(self) -> dict[Needed, tuple[Answers, float]]:
        """Cases that take the same operations are one: its most probable answers, and how probable it is."""
        found: dict[Needed, tuple[Answers, float, float]] = {}
        for answers, probability in self.problem.cases(self.problem.answered):
            needed = self.problem.needed(answers)
            told, likeliest, total = found.get(needed, (answers, 0.0, 0.0))
            if probability > likeliest:
                told, likeliest = answers, probability
            found[needed] = told, likeliest, total + probability
        return {needed: (told, total) for needed, (told, _, total) in found.items()}

    @cached_property
    def always(self) -> Needed:
        """What every case takes."""
        return frozenset.intersection(*self.cases)

    def expected(self) -> float:
        """Expected tenths of the one who knew, by the floors so far."""
        return sum(p * self.floors.get(needed, 0) for needed, (_, p) in self.cases.items())

    def worst(self) -> int:
        """The most that any case takes at least."""
        return max(self.floors.get(needed, 0) for needed in self.cases)

    def share(self, whole: Order, base: Needed) -> None:
        """Floors for all cases with at least the operations of ``base``; ``whole``: an order of the largest case.

        Only what further operations change is dealt out: for the base itself the floor is that of all conditions but
        these.
        """
        union = self.problem.union
        order = Orders(only(union, base)).adapted(whole, ())
        parts = _parts(union, set(whole) - set(order)) if order is not None else []
        rest = frozenset(union.conditions).difference(*parts)
        least = self._least(_projected(union, rest, base, [move.name for move in union.moves]))
        known: dict[tuple[int, Needed], int] = {}
        for needed in self.cases:
            if not base <= needed:
                continue
            total = least + self._effort(needed - base)
            for number, part in enumerate(parts):
                own = frozenset(
                    o.name
                    for o in union.operations
                    if o.name in needed - base and part & (o.needs.keys() | o.sets.keys())
                )
                if (number, own) not in known:
                    known[number, own] = _seen(union, part, own)
                total += known[number, own]
            self.floors[needed] = max(self.floors.get(needed, 0), total)

    def _least(self, projected: Problem) -> int:
        return least_effort(outline(projected), self.rests.limits).bound - _running(projected)

    def _effort(self, names: Iterable[str]) -> int:
        return sum(self.problem.union.step(name).effort_tenths for name in names)


def only(union: Problem, needed: Collection[str]) -> Problem:
    """The problem of these operations alone."""
    operations = tuple(
        o.model_copy(update={"after": tuple(name for name in o.after if name in needed)})
        for o in union.operations
        if o.name in needed
    )
    return union.model_copy(update={"operations": operations})


def for_free(step: Step) -> Move:
    """A step that may be done as often as one likes, at no effort."""
    data = {name: getattr(step, name) for name in Move.model_fields}
    return Move.model_construct(**{**data, "hands": 0, "skills": ()})


def _running(problem: Problem) -> int:
    """What is left of running steps, which no plan lists."""
    return sum(task.effort for task in outline(problem).tasks if task.running is not None)


def _parts(union: Problem, moves: Collection[str]) -> list[frozenset[str]]:
    """Conditions these moves set, together where a move needs or sets several of them."""
    steps = [move for move in union.moves if move.name in moves]
    theirs = {name for move in steps for name in move.sets}
    parts: list[frozenset[str]] = []
    for move in steps:
        new = frozenset(theirs & (move.sets.keys() | move.needs.keys()))
        new = new.union(*(part for part in parts if part & new))
        parts = [part for part in parts if not part & new] + [new]
    return parts


def _projected(
    union: Problem, kept: frozenset[str], needed: Needed, costing: Collection[str]
) -> Problem:
    """The problem that knows only these conditions: ``needed`` must be done, other operations may be, for nothing.

    Of the moves only ``costing`` cost what they take.
    """

    def cut(step: Step) -> dict[str, dict[str, object]]:
        return {
            "needs": {name: states for name, states in step.needs.items() if name in kept},
            "sets": {name: state for name, state in step.sets.items() if name in kept},
        }

    moves = [
        (move if move.name in costing else for_free(move)).model_copy(update=cut(move))
        for move in union.moves
        if move.sets.keys() & kept
    ]
    moves += [
        for_free(o).model_copy(update=cut(o))
        for o in union.operations
        if o.name not in needed and o.sets.keys() & kept and o.name not in union.begun
    ]
    return only(union, needed | union.begun).model_copy(
        update={
            "conditions": {name: c for name, c in union.conditions.items() if name in kept},
            "never": tuple(row for row in union.never if row.keys() <= kept),
            "moves": tuple(moves),
            "operations": tuple(
                o.model_copy(update=cut(o)) for o in only(union, needed | union.begun).operations
            ),
        }
    )


def _seen(union: Problem, part: frozenset[str], own: Needed) -> int:
    """The least effort of access steps that change only this part, so that ``own`` can be done; 0 where unknown."""
    costing = {move.name for move in union.moves if move.sets.keys() <= part}
    small = _projected(union, part, own, costing)
    touching = tuple(
        o.model_copy(update={"hands": 0, "after": ()}) for o in small.operations if o.name in own
    )
    states = {n: union.start_state(n) for n in part}
    for running in union.now.running if union.now else ():
        states |= {n: s for n, s in union.step(running.name).sets.items() if n in part}
    conditions = {n: c.model_copy(update={"start": states[n]}) for n, c in small.conditions.items()}
    small = small.model_copy(update={"operations": touching, "conditions": conditions, "now": None})
    seen = reachability(outline(small), least=True)
    return seen.effort or 0 if seen.possible else 0
