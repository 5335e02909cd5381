"""The best policy by trying all: slow, and written without the solver in mind. One technician, no clocks.

One step after the other; before each, what is known decides. For what is done and known the least expected (or
worst) minutes from every state are found by going backwards from the states in which something new is done.
"""

from __future__ import annotations

import heapq
import math
from functools import cache
from itertools import count, product
from typing import Any

from tests.planner.exhaustive import World

Known = tuple[bool | None, ...]


class Policies:
    """Values of the best policy from any state of affairs."""

    def __init__(self, data: dict[str, Any], goal: str) -> None:
        self.world, self.goal = World(data), goal
        self.unknowns = data["unknowns"]
        self.names = list(self.unknowns)
        self.operations = {one["name"]: one for one in data["operations"]}
        self.moves = [one["name"] for one in data["moves"]]
        self.states = list(product(*(data["conditions"][c]["states"] for c in self.world.names)))
        joint = data.get("joint", {}).get("yes", {})
        self.together = sorted({name for key in joint for name in key.split("+")})
        self.table = {frozenset(key.split("+")): p for key, p in joint.items()}
        self.table[frozenset()] = 1 - sum(joint.values())
        self.values = cache(self._values)

    def best(self) -> float:
        """The value at the door, in tenths; infinite where no policy ends on every way."""
        start = self.world.start()
        if self.world.forbidden(dict(zip(self.world.names, start, strict=True)), []):
            return math.inf
        return self.values(frozenset(), (None,) * len(self.names))[start]

    def asked(self, name: str, done: frozenset[str], known: Known) -> bool:
        return known[self.names.index(name)] is not None

    def out(self, name: str, known: Known) -> bool:
        """Whether it is known that an operation is not needed."""
        return any(
            all(self.never(one, known) for one in row.split("|"))
            for row in self.operations[name].get("only_if", ())
        )

    def never(self, one: str, known: Known) -> bool:
        """Whether it is known that this is not so, or that nobody will ask."""
        unknown, wanted = one.lstrip("!"), not one.startswith("!")
        told = known[self.names.index(unknown)]
        if told is None:
            return self.out(self.unknowns[unknown]["revealed_by"], known)
        return told != wanted

    def may(self, name: str, done: frozenset[str], known: Known) -> bool:
        told = [
            any(
                known[self.names.index(one.lstrip("!"))] == (not one.startswith("!"))
                for one in row.split("|")
            )
            for row in self.operations[name].get("only_if", ())
        ]
        before = self.operations[name].get("after", ())
        return (
            name not in done and all(told) and all(b in done or self.out(b, known) for b in before)
        )

    def probability(self, known: Known) -> float:
        told = dict(zip(self.names, known, strict=True))
        total = 1.0
        for name, yes in told.items():
            p = self.unknowns[name].get("yes")
            if p is not None and yes is not None:
                total *= p if yes else 1 - p
        if self.together:
            total *= sum(
                p
                for row, p in self.table.items()
                if all(told[n] is None or told[n] == (n in row) for n in self.together)
            )
        return total

    def told(self, name: str, known: Known) -> list[tuple[float, Known]]:
        """What an operation may tell."""
        tells = [n for n in self.names if self.unknowns[n]["revealed_by"] == name]
        found = []
        for answers in product((False, True), repeat=len(tells)):
            more = dict(zip(tells, answers, strict=True))
            after = tuple(more.get(n, k) for n, k in zip(self.names, known, strict=True))
            if self.probability(after) > 0:
                found.append((self.probability(after) / self.probability(known), after))
        return found

    def _values(self, done: frozenset[str], known: Known) -> dict[tuple[str, ...], float]:
        over = all(o in done or self.out(o, known) for o in self.operations)
        every = frozenset(self.operations)
        value: dict[tuple[str, ...], float] = {}
        for states in self.states:
            if over and self.world.is_finished(states, every):
                value[states] = 0.0
            for name in self.operations:
                if self.may(name, done, known) and self.can(name, states):
                    there = self.world.after(name, states)
                    ways = [
                        (p, self.values(done | {name}, k)[there]) for p, k in self.told(name, known)
                    ]
                    rest = (
                        sum(p * v for p, v in ways)
                        if self.goal == "attended"
                        else max(v for _, v in ways)
                    )
                    cost = self.world.effort(name) + rest
                    value[states] = min(value.get(states, math.inf), cost)
        return self._backwards(value)

    def can(self, name: str, states: tuple[str, ...]) -> bool:
        step = {**self.world.steps[name], "after": []}
        now = dict(zip(self.world.names, states, strict=True))
        return all(now[c] in allowed for c, allowed in step["needs"].items()) and not (
            self.world.forbidden(now, [name])
        )

    def _backwards(self, value: dict[tuple[str, ...], float]) -> dict[tuple[str, ...], float]:
        before: dict[tuple[str, ...], list[tuple[float, tuple[str, ...]]]] = {}
        for states in self.states:
            for move in self.moves:
                if self.can(move, states):
                    there = self.world.after(move, states)
                    before.setdefault(there, []).append((self.world.effort(move), states))
        order, found = count(), dict.fromkeys(self.states, math.inf)
        heap = [(v, next(order), states) for states, v in value.items()]
        heapq.heapify(heap)
        while heap:
            v, _, states = heapq.heappop(heap)
            if v >= found[states]:
                continue
            found[states] = v
            for cost, earlier in before.get(states, ()):
                if v + cost < found[earlier]:
                    heapq.heappush(heap, (v + cost, next(order), earlier))
        return found


def best_policy(data: dict[str, Any], goal: str = "attended") -> float:
    """Least expected attended tenths over all policies, or of the worst way; infinite where there is none."""
    return Policies(data, goal).best()
