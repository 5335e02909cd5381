"""One visit as the pages see it: row, state, pinned book, and the book with what was proven on the way."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from django.http import Http404

from witnessmark.book import Book, steps
from witnessmark.book.model import Step
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.figures import book_with_overlay
from witnessmark.ledger.state import VisitState
from witnessmark.shop import store
from witnessmark.shop.models import Machine, Member, Visit
from witnessmark.shop.scope import Desk


@dataclass(frozen=True)
class Work:
    """A visit read once: its entries folded, its book pinned. `book` has the visit's own figures over the pin."""

    visit: Visit
    entries: tuple[Entry, ...]  # in the order they were sealed
    state: VisitState
    pinned: Book
    book: Book

    @property
    def machine(self) -> Machine:
        """The machine that is here."""
        return self.visit.machine

    @property
    def steps(self) -> dict[str, Step]:
        """Every access step and operation of the book, by the id that entries and plans use."""
        return steps(self.book)

    @property
    def closed(self) -> bool:
        """Whether the machine was handed back."""
        return self.state.returned is not None


def work_of(desk: Desk, key: UUID) -> Work:
    """The visit at this address with everything read. Http404 for another shop's."""
    visit = desk.get(Visit, key, "machine__owner", "machine__book", "shop")
    return read(visit)


def work_with_book(desk: Desk, key: UUID) -> Work:
    """As `work_of`; Http404 where no service book is pinned yet: that page comes later in the visit."""
    work = work_of(desk, key)
    if work.state.book is None:
        raise Http404("no service book is pinned to this visit yet: begin at arrival")
    return work


def read(visit: Visit) -> Work:
    """Fold the visit's entries against its book."""
    every, state, pinned = store.reading(visit)
    return Work(visit, tuple(every), state, pinned, book_with_overlay(pinned, state))


def who(desk: Desk) -> dict[str, str]:
    """Names of the shop's members by the id that entries carry."""
    return {str(member.pk): str(member) for member in desk.all(Member).select_related("user")}
