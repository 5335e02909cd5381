"""Orders of steps, one after the other and without a clock: does one hold, and how does one become another's.

A plan known for one case is a guess at one for another: what is not needed is left out, what is needed besides
is put in where it can be done at once, and access that nothing asks for any more is taken out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Move, Operation

States = dict[str, str]


class Orders:
    """Orders for one problem from where it stands; what runs is taken as over."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.steps: dict[str, Move | Operation] = {step.name: step for step in problem.steps}
        self.operations = {operation.name: operation for operation in problem.operations}
        self.start = {name: problem.start_state(name) for name in problem.conditions}
        for running in problem.now.running if problem.now else ():
            self.start |= self.steps[running.name].sets
        self.never = [{c: set(s) for c, s in row.items()} for row in problem.never]
        self.finish = {n: c.finish for n, c in problem.conditions.items() if c.finish is not None}

    def effort(self, order: Iterable[str]) -> int:
        """Hands times attended tenths."""
        return sum(self.steps[name].effort_tenths for name in order)

    def holds(self, order: Sequence[str]) -> bool:
        """Whether each step finds what it needs, and all is left as it must be."""
        states, over = dict(self.start), set(self.problem.begun)
        for name in order:
            step = self.steps[name]
            if not self._may(step, states, over):
                return False
            states |= step.sets
            over.add(name)
        return all(states[name] == finish for name, finish in self.finish.items())

    def _may(self, step: Move | Operation, states: States, over: set[str]) -> bool:
        if isinstance(step, Operation) and not over.issuperset(step.after):
            return False
        if any(states[name] not in allowed for name, allowed in step.needs.items()):
            return False
        return not any(
            step.sets.keys() & row.keys()
            and all(states[c] in s or step.sets.get(c) in s for c, s in row.items())
            for row in self.never
        )

    def adapted(self, order: Iterable[str], gone: Iterable[str]) -> tuple[str, ...] | None:
        """An order made of one for more, fewer or other operations, ``gone`` of it being done; None: none found."""
        left, kept = Counter(gone), list[str]()
        for name in order:
            if left[name]:
                left[name] -= 1
            elif name in self.steps and name not in self.problem.begun:
                kept.append(name)
        there = {*kept, *self.problem.begun}
        missing = [o for o in self.operations.values() if o.name not in there]
        while missing:
            ready = [o for o in missing if not any(m.name in o.after for m in missing)]
            if not ready or not self._put_in(kept, ready[0]):
                return None
            missing.remove(ready[0])
        return self._pruned(kept) if self.holds(kept) else None

    def _put_in(self, order: list[str], operation: Operation) -> bool:
        """Put it in at the first place where it can be done at once and disturbs nothing."""
        states, over = dict(self.start), set(self.problem.begun)
        for place in range(len(order) + 1):
            if self._may(operation, states, over):
                tried = [*order[:place], operation.name, *order[place:]]
                if not operation.sets or self.holds(tried):
                    order[:] = tried
                    return True
            if place < len(order):
                step = self.steps[order[place]]
                states |= step.sets
                over.add(step.name)
        return False

    def _pruned(self, order: list[str]) -> tuple[str, ...]:
        """Without moves that lead a condition from one state back to it, where nothing asked for that."""
        while shorter := self._shorter(order):
            order = shorter
        return tuple(order)

    def _shorter(self, order: list[str]) -> list[str] | None:
        for name in self.start:
            state, trail = self.start[name], list[tuple[int, str]]()
            for place, step in enumerate(order):
                if name not in self.steps[step].sets:
                    continue
                if step in self.operations:
                    trail = []
                else:
                    trail.append((place, state))
                    after = self.steps[step].sets[name]
                    for n in range(len(trail) - 1, -1, -1):
                        if trail[n][1] == after:
                            out = {place for place, _ in trail[n:]}
                            tried = [s for at, s in enumerate(order) if at not in out]
                            if self.holds(tried):
                                return tried
                state = self.steps[step].sets[name]
        return None
