"""Taking back: what one tap wrote is taken back as one, and stays in the history."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.ledger.state import Happening
from witnessmark.shop import store
from witnessmark.shop.scope import Desk
from witnessmark.shop.tickets import of_one_form
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


def newest(work: Work, desk: Desk) -> Together | None:
    """The newest form of which something counts, where this person may take it back."""
    for one in reversed(_every(work)):
        if {line.kind for line in one.lines} - {"corrected"}:
            return one if may_take_back(desk, one) else None
    return None


def named(work: Work, entries: Sequence[str]) -> Together | None:
    """What these entries are, where they are all that counts of one form."""
    return next((o for o in _every(work) if [line.entry for line in o.lines] == [*entries]), None)


def may_take_back(desk: Desk, one: Together) -> bool:
    """Whether this person may take this back at the bench: the one place where that is decided."""
    return not ELSEWHERE.intersection(line.kind for line in one.lines)


def acts(one: Together) -> list[store.Act]:
    """The entries that take it back: all of it."""
    return [("corrected", {"entry": line.entry}) for line in one.lines]


def _every(work: Work) -> list[Together]:
    """Form by form, what still counts."""
    counts = {line.entry: line for line in work.state.history if not line.undone}
    forms = [[counts[e.id] for e in form if e.id in counts] for form in of_one_form(work.entries)]
    return [Together(tuple(lines)) for lines in forms if lines]
