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

DEEP = 5  # how many access steps one may take because of another. Judged by us


class Orders:
    """Orders for one problem from where it stands; what runs is taken as over."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.steps: dict[str, Move | Operation] = {step.name: step for step in problem.steps}
        self.operations = {operation.name: operation for operation in problem.operations}
        self.start = {name: problem.start_state(name) for name in problem.conditions}
        for running in problem.now.running if problem.now else ():
            self.start |= self.steps[running.name].sets
        self.finish = {n: c.finish for n, c in problem.conditions.items() if c.finish is not None}
        self._needs = {
            n: [(c, frozenset(s)) for c, s in o.needs.items()] for n, o in self.steps.items()
        }
        self._never = {n: self._forbidden(step) for n, step in self.steps.items()}

        self._leading: dict[tuple[str, frozenset[str]], list[Move]] = {}

    def _forbidden(self, step: Move | Operation) -> list[list[tuple[str, frozenset[str]]]]:
        """The combinations that this step could bring about, less what it brings itself."""
        return [
            [(c, frozenset(s)) for c, s in row.items() if step.sets.get(c) not in s]
            for row in self.problem.never
            if step.sets.keys() & row.keys()
        ]

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
        for name, allowed in self._needs[step.name]:
            if states[name] not in allowed:
                return False
        if isinstance(step, Operation) and not over.issuperset(step.after):
            return False
        return not any(
            all(states[name] in forbidden for name, forbidden in row)
            for row in self._never[step.name]
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

    def reading_early(self, order: Sequence[str], readers: Iterable[str]) -> tuple[str, ...]:
        """The same with what only reads done at the first place where it can be done at once."""
        early = list(order)
        for name in [name for name in order if name in readers and not self.steps[name].sets]:
            early.remove(name)
            self._put_in(early, self.operations[name])
        return tuple(early)

    def _put_in(self, order: list[str], operation: Operation) -> bool:
        """Put it in where it can be done at once, the first place; else where access to it and back costs least."""
        best: tuple[int, list[str]] | None = None
        states, over = dict(self.start), set(self.problem.begun)
        for place in range(len(order) + 1):
            if over.issuperset(operation.after):
                if self._may(operation, states, over):
                    tried = [*order[:place], operation.name, *order[place:]]
                    if not operation.sets or self._may_follow(
                        order[place:], states | operation.sets
                    ):
                        order[:] = tried
                        return True
                detour = self._detour(operation, states, over)
                if detour is not None and (best is None or self.effort(detour) < best[0]):
                    best = self.effort(detour), [*order[:place], *detour, *order[place:]]
            if place < len(order):
                step = self.steps[order[place]]
                states |= step.sets
                over.add(step.name)
        if best is not None:
            order[:] = best[1]
        return best is not None

    def _may_follow(self, order: Sequence[str], states: States) -> bool:
        """Whether the states let these steps follow, whatever they come after."""
        every = set(self.steps)
        for name in order:
            if not self._may(self.steps[name], states, every):
                return False
            states = states | self.steps[name].sets
        return True

    def _detour(self, operation: Operation, states: States, over: set[str]) -> list[str] | None:
        """Access steps to an operation, itself, and access steps back to the states before, but for what it sets."""
        path, there = list[str](), dict(states)
        for name, allowed in self._needs[operation.name]:
            if not self._reach(name, allowed, there, path, DEEP):
                return None
        if not self._may(operation, there, over):
            return None
        path.append(operation.name)
        there |= operation.sets
        for name in [name for name in there if there[name] != states[name]]:
            goal = frozenset({operation.sets.get(name, states[name])})
            if not self._reach(name, goal, there, path, DEEP):
                return None
        return path

    def _reach(
        self, name: str, allowed: frozenset[str], states: States, path: list[str], deep: int
    ) -> bool:
        """Bring a condition into an allowed state by moves, each after what it needs itself: the first way found."""
        if states[name] in allowed:
            return True
        if not deep:
            return False
        for move in self._leading_to(name, allowed):
            tried, way = dict(states), list[str]()
            if all(
                self._reach(other, needed, tried, way, deep - 1)
                for other, needed in self._needs[move.name]
            ) and self._may(move, tried, set()):
                states.update(tried | move.sets)
                path += [*way, move.name]
                return True
        return False

    def _leading_to(self, name: str, allowed: frozenset[str]) -> list[Move]:
        """The moves that bring a condition there, the least effort first."""
        key = (name, allowed)
        if key not in self._leading:
            found = [m for m in self.problem.moves if m.sets.get(name) in allowed]
            self._leading[key] = sorted(found, key=lambda move: move.effort_tenths)
        return self._leading[key]

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
