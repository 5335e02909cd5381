"""Deadlocks: states that work can lead to, and from which access steps no longer lead back, each waiting for another.

Work is given up half-way. What an operation alone can put right stays for it; what access steps put right must
be so from wherever steps in their order lead. That is looked at whole, over all states of those conditions.
"""

from __future__ import annotations

import json
import math
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache, reduce
from operator import or_

import numpy as np
from numpy.typing import NDArray

from witnessmark.book.errors import Fault
from witnessmark.book.model import Book, Condition, Step
from witnessmark.book.select import AS_FOUND, found_states, states_from, steps, ways_between
from witnessmark.errors import listed

MOST_STATES = 300_000  # looked at together, within a second or two; a shipped book has up to 74,000

Mask = NDArray[np.bool_]
Bits = int


@dataclass(frozen=True)
class _Change:
    """A step or lapse, as far as it concerns the conditions looked at."""

    needs: Mapping[str, Collection[str]]
    sets: Mapping[str, str]


def faults(book: Book) -> Iterator[Fault]:
    """One fault for the plainest state that there is no way back from."""
    parts = {name: {"needs": s.needs, "sets": s.sets} for name, s in steps(book).items()}
    conditions = {name: c.model_dump() for name, c in book.conditions.items()}
    never = {name: row.when for name, row in book.never.items()}
    key = json.dumps([parts, conditions, never, [*book.access]], sort_keys=True)
    if stuck := _stuck(_Same(key, book)):
        yield _fault(book, stuck)


@dataclass(frozen=True)
class _Same:
    """A book, alike to any with the same conditions and steps: most books extend one and add figures."""

    key: str
    book: Book = field(compare=False)


@lru_cache(maxsize=64)
def _stuck(same: _Same) -> Mapping[str, str]:
    space = _Space(same.book, _looked_at(same.book))
    return space.plainest_stuck() if space.names and space.size <= MOST_STATES else {}


def too_large(book: Book) -> str:
    """In words, where a book has more states than are looked at together; else nothing."""
    size = _Space(book, _looked_at(book)).size
    if size <= MOST_STATES:
        return ""
    return f"not looked for deadlocks: its access steps change conditions with {size:,} states together"


def _looked_at(book: Book) -> list[str]:
    """Conditions put right by access steps, but those that can be had in any state at any time: they stop nothing."""
    names = _put_right_by_access(book)
    kept_apart = {name for row in book.never.values() for name in row.when}
    while True:
        free = [n for n in names if n not in kept_apart and _is_free(book, n, set(names) - {n})]
        if not free:
            return names
        names = [name for name in names if name not in free]


def _is_free(book: Book, name: str, others: set[str]) -> bool:
    setters = [s for s in book.access.values() if name in s.sets]
    plain = [s for s in setters if not others & (s.needs.keys() | s.sets.keys())]
    every = set(book.conditions[name].states)
    ways = ways_between(book.conditions[name], name, plain)
    return all(states_from({state}, ways) == every for state in every)


def _put_right_by_access(book: Book) -> list[str]:
    """Conditions that access steps change and, one by one, can bring to their finish from any state."""
    found = []
    for name, condition in book.conditions.items():
        setters = [step for step in book.access.values() if name in step.sets]
        ways = ways_between(condition, name, setters)
        finish = _finish(condition)
        back = finish is None or all(
            finish in states_from({state}, ways) for state in condition.states
        )
        if setters and back:
            found.append(name)
    return found


def _finish(condition: Condition) -> str | None:
    return condition.start if condition.finish == AS_FOUND else condition.finish


class _Space:
    """All states of some conditions together: an axis for each."""

    def __init__(self, book: Book, names: list[str]) -> None:
        self.book, self.names = book, names
        self.axis = {name: n for n, name in enumerate(names)}
        self.shape = tuple(len(book.conditions[name].states) for name in names)
        self.size = math.prod(self.shape)

    def plainest_stuck(self) -> dict[str, str]:
        """The state led to and not led back from that differs least from the finish; empty where there is none."""
        there = self._led_to(self._changes(steps(self.book).values()))
        back = self._led_back_from(self._changes(self.book.access.values()))
        if not there & ~back:
            return {}
        stuck = np.argwhere(self._mask(there & ~back))
        finish = [_finish(self.book.conditions[name]) for name in self.names]
        states = [
            {name: self.book.conditions[name].states[at] for name, at in zip(self.names, row, strict=True)}
            for row in stuck.tolist()
        ]  # fmt: skip
        return min(
            (
                {n: s for (n, s), end in zip(one.items(), finish, strict=True) if end not in (None, s)}
                for one in states
            ),
            key=len,
        )  # fmt: skip

    def _changes(self, of: Iterable[Step]) -> list[_Change]:
        made = [
            _Change(
                {name: states for name, states in step.needs.items() if name in self.axis},
                {name: state for name, state in step.sets.items() if name in self.axis},
            )
            for step in of
        ]
        made += [
            _Change({name: [state]}, {name: lapse.to})
            for name in self.names
            for state, lapse in self.book.conditions[name].lapse.items()
        ]
        return [change for change in made if change.sets]

    def _led_to(self, changes: list[_Change]) -> Bits:
        found = np.ones(self.shape, dtype=bool)
        for name in self.names:
            found &= self._in(name, found_states(self.book.conditions[name]))
        return self._grown(self._bits(found), changes, forward=True)

    def _led_back_from(self, changes: list[_Change]) -> Bits:
        found = np.ones(self.shape, dtype=bool)
        for name in self.names:
            finish = _finish(self.book.conditions[name])
            found &= self._in(
                name, self.book.conditions[name].states if finish is None else [finish]
            )
        return self._grown(self._bits(found), changes, forward=False)

    def _grown(self, found: Bits, changes: list[_Change], *, forward: bool) -> Bits:
        """With all that is led to from there, or all that leads there."""
        able = [self._bits(self._able(change)) for change in changes]
        before = None
        while before != found:
            before = found
            for change, allowed in zip(changes, able, strict=True):
                if forward:
                    found |= self._made(found & allowed, change)
                else:
                    found |= self._unmade(found, change) & allowed
        return found

    def _made(self, found: Bits, change: _Change) -> Bits:
        """Those states with the conditions as the change sets them, whatever they were."""
        for name, state in change.sets.items():
            found = self._joined(
                self._moved(found & here, name, one, state)
                for one, here in self.where[name].items()
            )
        return found

    def _unmade(self, found: Bits, change: _Change) -> Bits:
        """What the change makes those states of: the conditions it sets may have been in any state."""
        for name, state in change.sets.items():
            here = found & self.where[name][state]
            found = self._joined(self._moved(here, name, state, one) for one in self.where[name])
        return found

    @staticmethod
    def _joined(several: Iterable[Bits]) -> Bits:
        return reduce(or_, several, 0)

    def _moved(self, found: Bits, name: str, state: str, to: str) -> Bits:
        """The same places along the axis of a condition, from one of its states to another."""
        states = self.book.conditions[name].states
        by = (states.index(to) - states.index(state)) * self.stride[name]
        return found << by if by >= 0 else found >> -by

    def _bits(self, mask: Mask) -> Bits:
        """One whole number, a bit for each state: far quicker to shift and join than an array of many short axes."""
        flat = np.broadcast_to(mask, self.shape).reshape(-1)
        return int.from_bytes(np.packbits(flat, bitorder="little").tobytes(), "little")

    def _mask(self, found: Bits) -> Mask:
        data = np.frombuffer(found.to_bytes(-(-self.size // 8), "little"), dtype=np.uint8)
        return (
            np.unpackbits(data, count=self.size, bitorder="little").astype(bool).reshape(self.shape)
        )

    @cached_property
    def where(self) -> dict[str, dict[str, Bits]]:
        """By condition and state: all places where it is so."""
        return {
            name: {s: self._bits(self._in(name, [s])) for s in self.book.conditions[name].states}
            for name in self.names
        }

    @cached_property
    def stride(self) -> dict[str, int]:
        """By condition: how many places its next state is away."""
        return {name: math.prod(self.shape[at + 1 :]) for name, at in self.axis.items()}

    def _able(self, change: _Change) -> Mask:
        """Where a change may be made: its needs hold, and it brings about nothing that must never be.

        As wide as what it speaks of: an axis of which nothing is said has one place for all.
        """
        able = np.ones([1] * len(self.names), dtype=bool)
        for name, states in change.needs.items():
            able = able & self._in(name, states)
        for row in self.book.never.values():
            if row.when.keys() <= self.axis.keys():
                holds = np.ones_like(able, shape=[1] * len(self.names))
                for name, states in row.when.items():
                    if change.sets.get(name) not in states:
                        holds = holds & self._in(name, states)
                able = able & ~holds
        return able

    def _in(self, name: str, states: Collection[str]) -> Mask:
        shape = [1] * len(self.names)
        shape[self.axis[name]] = -1
        every = self.book.conditions[name].states
        return np.array([state in states for state in every]).reshape(shape)


def _fault(book: Book, stuck: Mapping[str, str]) -> Fault:
    """What is stuck, what each way back waits for, and at which line."""
    first = next(iter(stuck))
    where = " and ".join(f'{name} "{state}"' for name, state in stuck.items())
    waits = [
        f"{step} needs {name} {listed(allowed)}"
        for step, one in book.access.items()
        for set_name, state in one.sets.items()
        if set_name in stuck and state == _finish(book.conditions[set_name])
        for name, allowed in one.needs.items()
        if name in stuck and stuck[name] not in allowed
    ]
    problem = f"with {where} no access step leads back to the finish: {'; '.join(waits)}"
    expected = (
        "let one of these steps be done in that state, or add an access step that leads out of it"
    )
    return Fault(("conditions", first, "finish"), problem, expected)
