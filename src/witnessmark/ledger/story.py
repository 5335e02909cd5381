"""The live entries of a visit: in causal order, less those that were corrected."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, TypeVar

from witnessmark.ledger.bodies import Corrected
from witnessmark.ledger.body import Body
from witnessmark.ledger.causal import Causal
from witnessmark.ledger.entry import Entry

B = TypeVar("B", bound=Body)


class Story:
    """What counts of a visit's entries, and what came before what."""

    def __init__(self, entries: Iterable[Entry]) -> None:
        self.causal = Causal(entries)
        self.undone = _undone(self.causal)  # id -> the entry that corrected it
        self.live = [e for e in self.causal.entries if e.id not in self.undone]
        self.by_id = {entry.id: entry for entry in self.causal.entries}  # the corrected ones too
        self.place = {entry.id: n for n, entry in enumerate(self.live)}
        self._of: dict[type[Body], list[tuple[Entry, Any]]] = {}
        for entry in self.live:
            self._of.setdefault(type(entry.said), []).append((entry, entry.said))

    def of(self, kind: type[B]) -> list[tuple[Entry, B]]:
        """The live entries of one kind with what they say, in causal order."""
        return list(self._of.get(kind, ()))

    def last(self, kind: type[B]) -> tuple[Entry, B] | None:
        """The newest of a kind; of several that did not meet, the same one every time."""
        every = self.of(kind)
        return every[-1] if every else None


def _undone(causal: Causal) -> dict[str, str]:
    """Latest corrections first, so that a corrected correction gives back what it took.

    A correction counts only if its device had seen what it corrects; of what cannot be corrected never.
    """
    undone: dict[str, str] = {}
    by_id = {entry.id: entry for entry in causal.entries}
    for entry in reversed(causal.entries):
        said = entry.said
        if isinstance(said, Corrected) and entry.id not in undone:
            named = by_id.get(said.entry)
            if named is not None and named.said.can_be_corrected and causal.before(named, entry):
                undone[named.id] = entry.id
    return undone
