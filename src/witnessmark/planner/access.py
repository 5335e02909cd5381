"""The way from one state of affairs to another: which moves, in which order, quickly and without proof."""

from __future__ import annotations

import heapq
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import count

from witnessmark.planner.problem import Move, Operation, Problem, tenths

FAR = 10**9
MOST_STEPS_OF_A_WAY = 200
MOST_SEEN = 3_000  # states of affairs looked at where the quick way fails
PATIENCE = 4  # waiting so many minutes is worth one of work

States = Mapping[str, str]
Needs = Mapping[str, Collection[str]]
Fact = tuple[str, str]


@dataclass(frozen=True, eq=False)
class Act:
    """A move as the search sees it, or waiting until a state lapses (``step`` None)."""

    step: Move | None
    needs: Mapping[str, frozenset[str]]
    sets: Mapping[str, str]
    cost: int


class Access:
    """Ways within one problem. States are dicts of condition to state."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.rows: dict[str, list[Mapping[str, Collection[str]]]] = {}
        for row in problem.never:
            for name in row:
                self.rows.setdefault(name, []).append(row)
        self.holding = {n: c.holds for n, c in problem.conditions.items() if c.holds}
        self.acts = [act for move in problem.moves if (act := self._act(move)) is not None]
        self.acts += [
            Act(
                None, {name: frozenset((state,))}, {name: lapse.to}, tenths(lapse.after) // PATIENCE
            )
            for name, condition in problem.conditions.items()
            for state, lapse in condition.lapse.items()
        ]
        self.asking: dict[Fact, list[int]] = {}
        for index, act in enumerate(self.acts):
            for name, states in act.needs.items():
                for state in states:
                    self.asking.setdefault((name, state), []).append(index)

    def needs_of(self, step: Move | Operation) -> dict[str, frozenset[str]] | None:
        """What a step needs at its start, forbidden pairs it would complete included; None: never possible."""
        needs = {name: frozenset(states) for name, states in step.needs.items()}
        for name, state in step.sets.items():
            for row in self.rows.get(name, ()):
                if state in row[name] and len(row) == 2:
                    other = next(c for c in row if c != name)
                    out = frozenset(self.problem.conditions[other].states) - frozenset(row[other])
                    needs[other] = needs.get(other, out) & out
                    if step.sets.get(other, "") in row[other]:
                        return None
        return needs if all(needs.values()) else None

    def _act(self, move: Move) -> Act | None:
        needs = self.needs_of(move)
        return None if needs is None else Act(move, needs, move.sets, max(1, move.effort_tenths))

    # -------------------------------------------------------------- prices

    def prices(self, states: States) -> tuple[dict[Fact, int], dict[Fact, Act]]:
        """What each state costs to get at if nothing got in the way of anything, and by which act."""
        price: dict[Fact, int] = dict.fromkeys(states.items(), 0)
        by: dict[Fact, Act] = {}
        heap = [(0, *fact) for fact in states.items()]
        missing = [len(act.needs) for act in self.acts]
        cost = [act.cost for act in self.acts]
        met: set[tuple[int, str]] = set()
        ready = [index for index, act in enumerate(self.acts) if not act.needs]
        while heap or ready:
            for index in ready:
                for fact in self.acts[index].sets.items():
                    if cost[index] < price.get(fact, FAR):
                        price[fact], by[fact] = cost[index], self.acts[index]
                        heapq.heappush(heap, (cost[index], *fact))
            ready = []
            if heap:
                paid, name, state = heapq.heappop(heap)
                if paid > price[name, state]:
                    continue
                for index in self.asking.get((name, state), ()):
                    if (index, name) not in met:
                        met.add((index, name))
                        missing[index] -= 1
                        cost[index] += paid
                        if not missing[index]:
                            ready.append(index)
        return price, by

    def price_of(self, needs: Needs, price: Mapping[Fact, int]) -> int:
        """The sum over what is needed; FAR where something cannot be got at."""
        total = 0
        for name, states in needs.items():
            total += min((price.get((name, state), FAR) for state in states), default=FAR)
        return min(total, FAR)

    # -------------------------------------------------------------- ways

    def way(self, states: States, needs: Needs) -> list[Act] | None:
        """Acts that lead to what is needed; None where none were found."""
        quick = self._quick_way(states, needs)
        return self._searched_way(states, needs) if quick is None else quick

    def _quick_way(self, states: States, needs: Needs) -> list[Act] | None:
        """Again and again the act, of those an unhindered way takes, that hinders the others least."""
        here, taken, seen = dict(states), list[Act](), set[tuple[str, ...]]()
        while not _met(here, needs):
            mark = tuple(here.values())
            if mark in seen or len(taken) > MOST_STEPS_OF_A_WAY:
                return None
            seen.add(mark)
            price, by = self.prices(here)
            if self.price_of(needs, price) >= FAR:
                return None
            wanted = self._unhindered(here, needs, price, by)
            ready = [act for act in wanted if self.can(here, act)]
            if not ready:
                return None
            act = min(ready, key=lambda act: _harm(act, wanted, here, needs))
            here.update(act.sets)
            taken.append(act)
        return taken

    def _unhindered(
        self, here: States, needs: Needs, price: Mapping[Fact, int], by: Mapping[Fact, Act]
    ) -> list[Act]:
        """The acts by which the needed states are got at, if nothing got in the way of anything."""
        wanted: dict[Act, None] = {}
        pending = [_cheapest(name, s, price) for name, s in needs.items() if here[name] not in s]
        while pending:
            act = by.get(pending.pop())
            if act is not None and act not in wanted:
                wanted[act] = None
                pending += [
                    _cheapest(n, s, price) for n, s in act.needs.items() if here[n] not in s
                ]
        return list(wanted)

    def _searched_way(self, states: States, needs: Needs) -> list[Act] | None:
        """The same by a best-first search over states of affairs, as far as ``MOST_SEEN``."""
        names = list(states)
        order = count()
        start = tuple(states.values())
        came: dict[tuple[str, ...], tuple[tuple[str, ...], Act] | None] = {start: None}
        heap = [(0, next(order), 0, start)]
        while heap and len(came) < MOST_SEEN:
            _, _, paid, here = heapq.heappop(heap)
            known = dict(zip(names, here, strict=True))
            if _met(known, needs):
                return _traced(here, came)
            for act in self.acts:
                if not self.can(known, act):
                    continue
                after = known | dict(act.sets)
                there = tuple(after.values())
                if there not in came:
                    came[there] = here, act
                    far = self.price_of(needs, self.prices(after)[0])
                    if far < FAR:
                        item = (paid + act.cost + 3 * far, next(order), paid + act.cost, there)
                        heapq.heappush(heap, item)
        return None

    def can(self, here: States, act: Act) -> bool:
        """Whether an act may be done here: its needs, nothing forbidden, resources enough."""
        if any(here[name] not in states for name, states in act.needs.items()):
            return False
        return self.allows(here, act.sets, act.step.uses if act.step else {})

    def allows(self, here: States, sets: Mapping[str, str], uses: Mapping[str, int]) -> bool:
        """Whether a step setting these forbids nothing, counted as old and new state, and has its resources."""
        for row in (row for name in sets for row in self.rows.get(name, ())):
            if all(here[c] in bad or sets.get(c, "") in bad for c, bad in row.items()):
                return False
        if not uses and not any(name in self.holding for name in sets):
            return True
        return self._enough(here, sets, uses)

    def _enough(self, here: States, sets: Mapping[str, str], uses: Mapping[str, int]) -> bool:
        taken = dict(uses)
        for name, holds in self.holding.items():
            old, new = (holds.get(s, {}) for s in (here[name], sets.get(name, here[name])))
            for resource in old.keys() | new.keys():
                units = max(old.get(resource, 0), new.get(resource, 0))
                taken[resource] = taken.get(resource, 0) + units
        return all(units <= self.problem.resources[name] for name, units in taken.items())


def _met(here: States, needs: Needs) -> bool:
    return all(here[name] in states for name, states in needs.items())


def _cheapest(name: str, states: Collection[str], price: Mapping[Fact, int]) -> Fact:
    return min(((name, s) for s in sorted(states)), key=lambda fact: price.get(fact, FAR))


def _harm(act: Act, wanted: Sequence[Act], here: States, needs: Needs) -> tuple[int, int]:
    """How many others that are wanted, and what of the goal, an act would undo; then its cost."""
    undone = sum(
        here[name] in other.needs[name] and state not in other.needs[name]
        for other in wanted
        if other is not act
        for name, state in act.sets.items()
        if name in other.needs
    )
    undone += sum(
        here[name] in needs[name] and state not in needs[name]
        for name, state in act.sets.items()
        if name in needs
    )
    return undone, act.cost


def _traced(
    here: tuple[str, ...], came: Mapping[tuple[str, ...], tuple[tuple[str, ...], Act] | None]
) -> list[Act]:
    way = []
    while (step := came[here]) is not None:
        here, act = step
        way.append(act)
    return way[::-1]
