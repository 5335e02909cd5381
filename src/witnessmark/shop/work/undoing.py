"""Taking back: what one tap wrote is taken back as one, and stays in the history."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from witnessmark.ledger.state import Happening
from witnessmark.shop import store
from witnessmark.shop.scope import Desk
from witnessmark.shop.tickets import newest_forms
from witnessmark.shop.work import staff
from witnessmark.shop.work.visit import Work

ELSEWHERE = {"arrived", "book_pinned"}  # corrected at arrival, never taken back


@dataclass(frozen=True)
class Together:
    """What one form wrote and still counts, in the order it was written."""

    lines: tuple[Happening, ...]

    @property
    def words(self) -> str:
        """All of it, in words."""
        return "; ".join(line.words for line in self.lines)


def newest(work: Work) -> Together | None:
    """The newest form of which something counts."""
    return next((o for o in _every(work) if {line.kind for line in o.lines} - {"corrected"}), None)


def named(work: Work, entries: Sequence[str]) -> Together | None:
    """What these entries are, where they are all that counts of one form."""
    return next((o for o in _every(work) if [line.entry for line in o.lines] == [*entries]), None)


def of_entry(work: Work, entry: str) -> Together | None:
    """What still counts of the form that wrote an entry."""
    return next((o for o in _every(work) if entry in {line.entry for line in o.lines}), None)


def is_elsewhere(one: Together) -> bool:
    """Whether this is corrected at arrival, whoever asks."""
    return not ELSEWHERE.isdisjoint(line.kind for line in one.lines)


def may_take_back(desk: Desk, work: Work, one: Together) -> bool:
    """Whether this person may take all of this back at the bench."""
    keys = {line.entry for line in one.lines}
    ours = [entry for entry in work.entries if entry.id in keys]
    return not is_elsewhere(one) and keys <= staff.may_take_back(desk, ours)


def acts(one: Together) -> list[store.EntryDraft]:
    """The entries that take it back: all of it."""
    return [("corrected", {"entry": line.entry}) for line in one.lines]


def _every(work: Work) -> Iterator[Together]:
    """Form by form from the newest on, what still counts."""
    counts = {line.entry: line for line in work.state.history if not line.undone}
    for form in newest_forms(work.entries):
        if lines := tuple(counts[e.id] for e in form if e.id in counts):
            yield Together(lines)
