"""One visit as the pages see it: row, state, pinned book, and the book with what was proven on the way."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from witnessmark.book import Book, steps
from witnessmark.book.model import Job, Step
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.figures import book_with_overlay
from witnessmark.ledger.own import book_with_own, own_book
from witnessmark.ledger.state import VisitState
from witnessmark.shop import store
from witnessmark.shop.models import Machine, Member, Visit
from witnessmark.shop.scope import Desk


@dataclass(frozen=True)
class Work:
    """A visit read once: its entries folded, its book pinned.

    `book` has the visit's own figures over the pin, and what was opened beyond it; its jobs are the book's alone.
    """

    visit: Visit
    entries: tuple[Entry, ...]  # in the order they were sealed
    state: VisitState
    pinned: Book  # `store.NO_BOOK` where none is
    book: Book
    own: Book  # what was added and written beyond it: `ledger.own`

    @property
    def machine(self) -> Machine:
        """The machine that is here."""
        return self.visit.machine

    @property
    def steps(self) -> dict[str, Step]:
        """Every access step and operation, by the id that entries and plans use; those beyond the book last."""
        return steps(self.book) | steps(self.own)

    @property
    def jobs(self) -> dict[str, Job]:
        """Every job of the book, and beyond it every own line and thing opened."""
        return self.book.jobs | self.own.jobs

    @property
    def closed(self) -> bool:
        """Whether the machine was handed back."""
        return self.state.returned is not None


def work_of(desk: Desk, key: UUID) -> Work:
    """The visit at this address with everything read. Http404 for another shop's."""
    visit = desk.get(Visit, key, "machine__owner", "machine__book", "shop")
    return read(visit)


def read(visit: Visit) -> Work:
    """Fold the visit's entries against its book."""
    every, state, pinned = store.reading(visit)
    own = own_book({name: one.said for name, one in state.own.items()})
    book = book_with_overlay(book_with_own(pinned, own), state)
    return Work(visit, tuple(every), state, pinned, book, own)


def who(desk: Desk) -> dict[str, str]:
    """Names of the shop's members by the id that entries carry."""
    return {str(member.pk): str(member) for member in desk.all(Member).select_related("user")}
