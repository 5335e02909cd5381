"""Can everything be done, one step at a time? A search over combined states, without times.

Any plan can be done one step after the other, in the order of its starts: what each step needs holds when it
starts. So if the search has seen every combined state and none is the end, there is no plan. Lapses may
happen here at any moment, which only allows more.
"""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import count
from typing import Any

from witnessmark.planner.form.model import Lapse
from witnessmark.planner.sequence.model.outline import Outline, Task, is_workable

MOST_STATES_SEEN = 20_000

States = tuple[str, ...]
Node = tuple[States, frozenset[str]]


@dataclass(frozen=True)
class Reachability:
    """Whether a way was found (None: the search gave up), its steps in order, its effort."""

    possible: bool | None
    order: tuple[str, ...] = ()
    effort: int | None = None

    @property
    def times(self) -> Counter[str]:
        """How often each step is done in it."""
        return Counter(self.order)


def reachability(
    outline: Outline, most: int = MOST_STATES_SEEN, *, least: bool = False
) -> Reachability:
    """Search for any way to do everything, or with ``least`` for that of the least effort.

    Gives up after ``most`` combined states. ``effort`` is in tenths, and the least where asked for;
    running steps count with what is left of them.
    """
    if not _is_within_sight(outline):
        return Reachability(possible=False)
    return _StateSearch(outline, least=least).search(most)


def _is_within_sight(outline: Outline) -> bool:
    """Whether all could be done if every state reached stayed available: a relaxation."""
    seen = {name: {outline.problem.start_state(name)} for name in outline.conditions}
    for name, condition in outline.conditions.items():
        _add_lapses(seen[name], condition.lapse)
    done: set[str] = set()
    waiting = [t for t in (*outline.tasks, *outline.moves) if is_workable(outline, t)]
    while ready := [t for t in waiting if _is_ready(outline, t, seen, done)]:
        waiting = [t for t in waiting if t not in ready]
        for task in ready:
            done.add(task.name)
            for name, state in task.step.sets.items():
                seen[name].add(state)
                _add_lapses(seen[name], outline.conditions[name].lapse)
    finished = all(c.finish in (None, *seen[name]) for name, c in outline.conditions.items())
    return finished and done.issuperset(task.name for task in outline.tasks)


def _add_lapses(states: set[str], lapse: Mapping[str, Lapse]) -> None:
    pending = [state for state in states if state in lapse]
    while pending:
        state = lapse[pending.pop()].to
        if state not in states:
            states.add(state)
            pending += [state] if state in lapse else []


def _is_ready(outline: Outline, task: Task, seen: dict[str, set[str]], done: set[str]) -> bool:
    if not outline.before.get(task.name, frozenset()) <= done:
        return False
    accepted = ((n, task.accepts(n, outline.conditions[n].states)) for n in task.step.needs)
    return all(seen[name].intersection(states) for name, states in accepted)


class _StateSearch:
    """The search itself: the most done first, or the least effort first."""

    def __init__(self, outline: Outline, *, least: bool) -> None:
        self.outline, self.least = outline, least
        self.effort = {task.name: task.effort for task in (*outline.moves, *outline.tasks)}
        self.names = list(outline.conditions)
        self.at = {name: place for place, name in enumerate(self.names)}
        self.never = [
            [(self.at[name], frozenset(states)) for name, states in combination.items()]
            for combination in outline.problem.never
        ]
        self.running = [task for task in outline.tasks if task.running is not None]
        self.steps = [self._plain(task) for task in outline.tasks if task.running is None]
        self.access = [self._plain(m) for m in outline.moves if is_workable(outline, m)]
        self.holds = [
            {state: held for state, held in condition.holds.items() if set(held) & outline.scarce}
            for condition in outline.conditions.values()
        ]
        self.uses = {task.name: task.step.uses for task in (*outline.moves, *outline.tasks)}

    def _plain(
        self, task: Task
    ) -> tuple[str, list[tuple[int, frozenset[str]]], list[tuple[int, str]], frozenset[str]]:
        needs = [(self.at[name], frozenset(states)) for name, states in task.step.needs.items()]
        sets = [(self.at[name], state) for name, state in task.step.sets.items()]
        return task.name, needs, sets, self.outline.before.get(task.name, frozenset())

    def _start(self) -> Node:
        states = [self.outline.problem.start_state(name) for name in self.names]
        for task in self.running:
            for name, state in task.step.sets.items():
                states[self.at[name]] = state
        return tuple(states), frozenset(task.name for task in self.running)

    def search(self, most: int) -> Reachability:
        start, order = self._start(), count()
        if self._is_forbidden(start[0], ()):
            return Reachability(possible=False)
        came: dict[Node, tuple[Node, str] | None] = {}
        heap: list[Any] = [(0, next(order), self._spent(), start, None)]
        while heap:
            _, _, rank, here, origin = heapq.heappop(heap)
            if here in came:
                continue
            came[here] = origin
            if self._is_end(here):
                effort = rank if self.least else None
                return Reachability(possible=True, order=self._order_to(here, came), effort=effort)
            if len(came) > most:
                return Reachability(possible=None)
            for name, there in self._next(here):
                if there not in came:
                    spent = self._rank(rank, name, here, there)
                    ahead = 0 if self.least else self._ahead(there)
                    heapq.heappush(heap, (spent + ahead, next(order), spent, there, (here, name)))
        return Reachability(possible=False)

    def _spent(self) -> int:
        return sum(task.effort for task in self.running) if self.least else 0

    def _rank(self, rank: int, name: str, here: Node, there: Node) -> int:
        if self.least:
            return rank + self.effort.get(name, 0)
        return rank - 1000 * (len(there[1]) > len(here[1])) + 1

    def _ahead(self, there: Node) -> int:
        """How many conditions stand in the way of the nearest step to be done, or of the end."""
        states, done = there
        ways = [
            sum(states[c] not in s for c, s in needs)
            for name, needs, _, before in self.steps
            if name not in done and before <= done
        ]
        if ways:
            return 4 * min(ways)
        return 4 * sum(
            c.finish not in (None, state)
            for c, state in zip(self.outline.conditions.values(), states, strict=True)
        )

    def _is_end(self, here: Node) -> bool:
        states, done = here
        return len(done) == len(self.outline.tasks) and all(
            condition.finish in (None, state)
            for condition, state in zip(self.outline.conditions.values(), states, strict=True)
        )

    def _next(self, here: Node) -> Iterator[tuple[str, Node]]:
        states, done = here
        for name, needs, sets, before in self.steps:
            if name not in done and before <= done and all(states[c] in s for c, s in needs):
                yield from self._after(name, states, sets, done | {name})
        for name, needs, sets, _ in self.access:
            if all(states[c] in s for c, s in needs):
                yield from self._after(name, states, sets, done)
        for place, (state, condition) in enumerate(
            zip(states, self.outline.conditions.values(), strict=True)
        ):
            if state in condition.lapse:
                yield from self._after("", states, [(place, condition.lapse[state].to)], done)

    def _after(
        self, name: str, states: States, sets: list[tuple[int, str]], done: frozenset[str]
    ) -> Iterator[tuple[str, Node]]:
        if not self._is_forbidden(states, sets) and self._suffices(name, states, sets):
            after = list(states)
            for place, state in sets:
                after[place] = state
            yield name, (tuple(after), done)

    def _is_forbidden(self, states: States, sets: tuple[()] | list[tuple[int, str]]) -> bool:
        """A condition being changed counts as in its old and in its new state."""
        new = dict(sets)
        return any(
            all(states[place] in s or new.get(place) in s for place, s in combination)
            for combination in self.never
        )

    def _suffices(self, name: str, states: States, sets: list[tuple[int, str]]) -> bool:
        """Whether there is enough of each resource while this step alone is done."""
        if not self.outline.scarce:
            return True
        needed: Counter[str] = Counter(self.uses.get(name, {}))
        new = dict(sets)
        for place, held in enumerate(self.holds):
            before, after = held.get(states[place], {}), held.get(new.get(place, states[place]), {})
            needed.update(Counter(before) | Counter(after))  # the larger while it changes
        capacities = self.outline.problem.resources
        return all(needed[resource] <= capacities[resource] for resource in self.outline.scarce)

    def _order_to(self, here: Node, came: dict[Node, tuple[Node, str] | None]) -> tuple[str, ...]:
        names = []
        while (step := came[here]) is not None:
            here, name = step
            names.append(name)
        begun = [task.name for task in self.running]
        return (*begun, *(name for name in reversed(names) if name))
