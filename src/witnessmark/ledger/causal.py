"""What came before what, by device sequence and by what was seen; never by clocks.

Each entry gets a vector clock: the newest entry of every device that it, or anything before it, had
seen. The order made from it depends on the set of entries alone, not on how they arrived.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise
from typing import TypeVar

from witnessmark.ledger.entry import Entry

T = TypeVar("T")


class Causal:
    """The entries of one visit with their order."""

    def __init__(self, entries: Iterable[Entry]) -> None:
        every = {entry.id: entry for entry in entries}
        self._clocks = _clocks(list(every.values()))
        self.entries = sorted(every.values(), key=self._place)

    def _place(self, entry: Entry) -> tuple[int, str, int, str]:
        """A linear order that no cause contradicts: a later entry has seen more."""
        return sum(self._clocks[entry.id].values()), entry.device, entry.seq, entry.id

    def before(self, a: Entry, b: Entry) -> bool:
        """Whether b was made with a known to it. Twins (one place, two entries) never are."""
        knows = self._clocks[b.id].get(a.device, 0) >= a.seq
        known = self._clocks[a.id].get(b.device, 0) >= b.seq
        return knows and not known

    def newest(self, things: Iterable[T], entry: Callable[[T], Entry]) -> list[T]:
        """Those that no other of them came after: one, unless some did not see each other.

        As a rule the last one saw all the others, which one pass shows; only else are they all compared.
        """
        every = list(things)
        if not every:
            return []
        last = entry(every[-1])
        unseen = [x for x in every[:-1] if not self.before(entry(x), last)]
        if not unseen:
            return every[-1:]
        return [
            x
            for x in (*unseen, every[-1])
            if not any(self.before(entry(x), entry(y)) for y in every if y is not x)
        ]

    def unreported(self) -> dict[str, tuple[int, ...]]:
        """Per device, the sequence numbers that others have seen, or that lie below one had."""
        had: dict[str, set[int]] = {}
        told: dict[str, int] = {}
        for entry in self.entries:
            had.setdefault(entry.device, set()).add(entry.seq)
            for device, seq in self._clocks[entry.id].items():
                told[device] = max(told.get(device, seq), seq)
        gaps = {d: _missing(had.get(d, set()), last) for d, last in sorted(told.items())}
        return {device: missing for device, missing in gaps.items() if missing}


MOST_NAMED = 20  # a forged "seen" may claim any number: name the first of them


def _missing(had: set[int], last: int) -> tuple[int, ...]:
    return tuple(n for n in range(1, min(last, len(had) + MOST_NAMED) + 1) if n not in had)


def _clocks(entries: list[Entry]) -> dict[str, dict[str, int]]:
    """Grow every clock by those of what it saw: once where each comes behind that, until none grows in a ring."""
    clocks = {e.id: {**e.seen, e.device: e.seq} for e in entries}
    known = _sources(entries)
    if _is_in_order(known):
        _grow(clocks, known, known)
        return clocks
    try:
        _grow(clocks, known, TopologicalSorter(known).static_order())
    except CycleError:
        while _grow(clocks, known, known):
            pass
    return clocks


def _grow(
    clocks: Mapping[str, dict[str, int]], known: Mapping[str, Sequence[str]], order: Iterable[str]
) -> bool:
    """Grow each clock by those of what it follows, in this order. Returns whether any grew."""
    grew = False
    for key in order:
        mine = clocks[key]
        for source in known[key]:
            for device, seq in clocks[source].items():
                if seq > mine.get(device, 0):
                    mine[device] = seq
                    grew = True
    return grew


def _is_in_order(known: Mapping[str, Sequence[str]]) -> bool:
    """Whether each entry comes behind all it follows, as sealed entries do."""
    before: set[str] = set()
    for key, sources in known.items():
        if not before.issuperset(sources):
            return False
        before.add(key)
    return True


def _sources(entries: list[Entry]) -> dict[str, list[str]]:
    """For each entry the ids of what it follows: the one before on its device, and those seen."""
    at: dict[tuple[str, int], list[str]] = {}
    for entry in entries:
        at.setdefault((entry.device, entry.seq), []).append(entry.id)
    below = {high: low for low, high in pairwise(sorted(at)) if low[0] == high[0]}
    sources = {}
    for entry in entries:
        places = [(d, n) for d, n in entry.seen.items()]
        places += [below[here]] if (here := (entry.device, entry.seq)) in below else []
        sources[entry.id] = [i for place in places for i in at.get(place, [])]
    return sources
