"""What people were told is stored, and which of it stands; `model` says what follows from it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from tests.model.books import Book

OPEN, CLOSED, UNSURE = "open", "closed", "unsure"


@dataclass
class Told:
    """An entry somebody was told is stored. `seen` are the places in the log it came after."""

    id: str
    kind: str
    person: str
    device: str
    body: dict[str, Any]
    tap: int  # entries of one tap share it
    seen: frozenset[int] = frozenset()


class Log:
    """One visit: what was told as stored, in the order it was told."""

    def __init__(self, book: Book, jobs: list[str], states: dict[str, str]) -> None:
        self.book = book
        self.jobs = self._with_brought(jobs)
        self.states = {one: said["start"] for one, said in book.table("conditions").items()}
        self.states.update(states)
        self.log: list[Told] = []
        self.returned = False

    def _with_brought(self, jobs: list[str]) -> list[str]:
        found, look = [], list(jobs)
        while look:
            job = look.pop(0)
            if job not in found:
                found.append(job)
                look += self.book.all["jobs"][job].get("brings", [])
        return found

    def add(self, entry: Told, before: frozenset[int]) -> None:
        """Append; it came after `before`, what those came after, and its device's own entries."""
        seen = set(before)
        seen |= {at for at, one in enumerate(self.log) if one.device == entry.device}
        for at in list(seen):
            seen |= self.log[at].seen
        entry.seen = frozenset(seen)
        self.log.append(entry)

    def live(self) -> list[int]:
        """Entries that no living correction names; an undo can be undone."""
        gone: set[int] = set()
        places = {one.id: at for at, one in enumerate(self.log)}
        for at in range(len(self.log) - 1, -1, -1):
            one = self.log[at]
            if one.kind == "corrected" and at not in gone:
                gone |= {places[target] for target in one.body["entries"] if target in places}
        return [at for at in range(len(self.log)) if at not in gone]

    def _entries(self, *kinds: str) -> Iterator[tuple[int, Told]]:
        for at in self.live():
            if self.log[at].kind in kinds:
                yield at, self.log[at]

    def rides(self) -> list[int]:
        """The road tests done."""
        return [
            at
            for at, one in self._entries("done")
            if self.book.steps[one.body["step"]].gate == "road test"
        ]
