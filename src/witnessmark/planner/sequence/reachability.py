"""Can everything be done, one step at a time? A search over combined states, without times.

Any plan can be done one step after the other, in the order of its starts: what each step needs holds when it
starts. So if the search has seen every combined state and none is the end, there is no plan. Lapses may
happen here at any moment, which only allows more.
"""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import count
from typing import NamedTuple

from witnessmark.planner.problem.model import Lapse
from witnessmark.planner.sequence.model.outline import Outline, Task, is_workable

MOST_STATES_SEEN = 20_000


@dataclass(frozen=True)
class Reachability:
    """Whether a way was found (None: the search gave up), its steps in order but those under way, its effort."""

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


class _Act(NamedTuple):
    """A step or a lapse, in bits of the combined state."""

    name: str
    own: int  # its bit among the steps to be done; 0 for an access step and a lapse
    wrong: int  # states in which it cannot start
    earlier: int  # the steps that must be done before it
    cleared: int
    put: int


class _StateSearch:
    """The search itself: the most done first, or the least effort first.

    A combined state is one number: a bit for each state of each condition, of which one is set, and above
    them a bit for each step that is still to be done.
    """

    def __init__(self, outline: Outline, *, least: bool) -> None:
        self.outline, self.least = outline, least
        conditions = outline.conditions
        every = [
            (name, state) for name, condition in conditions.items() for state in condition.states
        ]
        self.bit = {named: 1 << place for place, named in enumerate(every)}
        self.whole = {name: self._bits(name, c.states) for name, c in conditions.items()}
        self.states = (1 << len(every)) - 1
        self.pending = {
            task.name: 1 << len(every) + place
            for place, task in enumerate(t for t in outline.tasks if t.running is None)
        }
        self.steps = [self._act(task) for task in outline.tasks if task.running is None]
        self.others = [self._act(move) for move in outline.moves if is_workable(outline, move)]
        self.others += [
            _Act(
                "", 0, self.whole[name] & ~self.bit[name, state], 0, *self._change({name: lapse.to})
            )
            for name, condition in conditions.items()
            for state, lapse in condition.lapse.items()
        ]
        self.unfinished = sum(
            self.whole[name] & ~self.bit[name, condition.finish]
            for name, condition in conditions.items()
            if condition.finish is not None
        )
        self.never = [
            [self._bits(name, states) for name, states in combination.items()]
            for combination in outline.problem.never
        ]
        self.effort = {name: task.effort for name, task in outline.startable.items()}
        self.uses = {name: task.step.uses for name, task in outline.startable.items()}
        self.holds = [
            {
                self.bit[name, state]: held
                for state, held in c.holds.items()
                if set(held) & outline.scarce
            }
            for name, c in conditions.items()
        ]
        self._known: dict[int, bool] = {}

    def _bits(self, name: str, states: Iterable[str]) -> int:
        return sum(self.bit[name, state] for state in set(states))

    def _change(self, sets: Mapping[str, str]) -> tuple[int, int]:
        """The bits that are cleared, and those that are put in their place."""
        return sum(self.whole[name] for name in sets), sum(self.bit[one] for one in sets.items())

    def _act(self, task: Task) -> _Act:
        wrong = sum(
            self.whole[name] & ~self._bits(name, states) for name, states in task.step.needs.items()
        )
        before = self.outline.before.get(task.name, frozenset())
        earlier = sum(self.pending.get(name, 0) for name in before)
        own = self.pending.get(task.name, 0)
        return _Act(task.name, own, wrong, earlier, *self._change(task.step.sets))

    def _start(self) -> int:
        states = {name: self.outline.problem.start_state(name) for name in self.outline.conditions}
        for task in self.outline.begun:
            states |= task.step.sets
        return sum(self.bit[one] for one in states.items()) + sum(self.pending.values())

    def search(self, most: int) -> Reachability:
        start, order = self._start(), count()
        if self._is_forbidden(start & self.states):
            return Reachability(possible=False)
        end = self.unfinished | sum(self.pending.values())
        came: dict[int, tuple[int, str] | None] = {}
        heap: list[tuple[int, int, int, int, tuple[int, str] | None]] = [
            (0, next(order), self._spent(), start, None)
        ]
        while heap:
            _, _, rank, here, origin = heapq.heappop(heap)
            if here in came:
                continue
            came[here] = origin
            if not here & end:
                effort = rank if self.least else None
                return Reachability(possible=True, order=self._order_to(here, came), effort=effort)
            if len(came) > most:
                return Reachability(possible=None)
            for act, there in self._next(here):
                if there not in came:
                    spent = self._rank(rank, act)
                    ahead = 0 if self.least else self._ahead(there)
                    heapq.heappush(
                        heap, (spent + ahead, next(order), spent, there, (here, act.name))
                    )
        return Reachability(possible=False)

    def _spent(self) -> int:
        return sum(task.effort for task in self.outline.begun) if self.least else 0

    def _rank(self, rank: int, act: _Act) -> int:
        if self.least:
            return rank + self.effort.get(act.name, 0)
        return rank - 1000 * bool(act.own) + 1

    def _ahead(self, there: int) -> int:
        """How many conditions stand in the way of the nearest step to be done, or of the end."""
        ways = [
            (there & act.wrong).bit_count()
            for act in self.steps
            if there & act.own and not there & act.earlier
        ]
        return 4 * (min(ways) if ways else (there & self.unfinished).bit_count())

    def _next(self, here: int) -> Iterator[tuple[_Act, int]]:
        for act in self.steps:
            if (
                here & act.own
                and not here & (act.wrong | act.earlier)
                and self._is_allowed(here, act)
            ):
                yield act, here & ~(act.cleared | act.own) | act.put
        for act in self.others:
            if not here & act.wrong and self._is_allowed(here, act):
                yield act, here & ~act.cleared | act.put

    def _is_allowed(self, here: int, act: _Act) -> bool:
        """A condition being changed counts as in its old and in its new state."""
        return not self._is_forbidden(here & self.states | act.put) and self._suffices(here, act)

    def _is_forbidden(self, states: int) -> bool:
        known = self._known.get(states)
        if known is None:
            known = any(all(states & one for one in combination) for combination in self.never)
            self._known[states] = known
        return known

    def _suffices(self, here: int, act: _Act) -> bool:
        """Whether there is enough of each resource while this step alone is done."""
        if not self.outline.scarce:
            return True
        needed: Counter[str] = Counter(self.uses.get(act.name, {}))
        for holds in self.holds:
            for_all: Counter[str] = Counter()
            for bit, held in holds.items():
                if (here | act.put) & bit:
                    for_all |= Counter(held)  # the larger while it changes
            needed.update(for_all)
        capacities = self.outline.problem.resources
        return all(needed[resource] <= capacities[resource] for resource in self.outline.scarce)

    def _order_to(self, here: int, came: Mapping[int, tuple[int, str] | None]) -> tuple[str, ...]:
        names = []
        while (step := came[here]) is not None:
            here, name = step
            names.append(name)
        return tuple(name for name in reversed(names) if name)
