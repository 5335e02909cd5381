"""One visit as the pages see it: row, state, pinned book, and the book with what was proven on the way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode
from uuid import UUID

from django.urls import reverse

from witnessmark.book import Book
from witnessmark.book.model import Job, Step
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.state import VisitState
from witnessmark.shop import store
from witnessmark.shop.folded import Folded
from witnessmark.shop.models import Machine, Member, Visit
from witnessmark.shop.scope import Desk


@dataclass(frozen=True)
class Work:
    """A visit read once: its row, its entries folded, its book pinned."""

    visit: Visit
    folded: Folded

    @property
    def entries(self) -> tuple[Entry, ...]:
        """In the order they were sealed."""
        return self.folded.entries

    @property
    def standing(self) -> tuple[Entry, ...]:
        """Those that nobody took back."""
        undone = self.state.undone
        return tuple(entry for entry in self.entries if entry.id not in undone)

    @property
    def state(self) -> VisitState:
        """What the entries say."""
        return self.folded.state

    @property
    def pinned(self) -> Book:
        """The service book pinned; `folded.NO_BOOK` where none is."""
        return self.folded.pinned

    @property
    def book(self) -> Book:
        """The pinned book with the visit's own figures and what was opened beyond it; its jobs are the pin's alone."""
        return self.folded.book

    @property
    def own(self) -> Book:
        """What was added and written beyond the book: `ledger.beyond_book`."""
        return self.folded.own

    @property
    def machine(self) -> Machine:
        """The machine that is here."""
        return self.visit.machine

    @property
    def steps(self) -> dict[str, Step]:
        """Every access step and operation, by the id that entries and plans use; those beyond the book last."""
        return self.folded.steps

    @property
    def jobs(self) -> dict[str, Job]:
        """Every job of the book, and beyond it every own line and thing opened."""
        return self.book.jobs | self.own.jobs

    @property
    def has_codes(self) -> bool:
        """Whether trouble codes may be kept or were written down: not where its build has no control unit."""
        known = self.pinned.build and not any(c.trouble_codes for c in self.book.circuits.values())
        return not known or any(entry.kind.startswith("codes_") for entry in self.entries)

    @property
    def closed(self) -> bool:
        """Whether the machine was handed back."""
        return self.state.returned is not None


def work_of(desk: Desk, key: UUID) -> Work:
    """The visit at this address with everything read. Http404 for another shop's."""
    visit = desk.get(Visit, key, "machine__owner", "machine__book")
    visit.shop = desk.shop
    return read(visit)


def read(visit: Visit) -> Work:
    """Fold the visit's entries against its book."""
    return Work(visit, store.reading(visit))


def who(desk: Desk) -> dict[str, str]:
    """Names of the shop's members by the id that entries carry."""
    return {str(member.pk): str(member) for member in desk.all(Member).select_related("user")}


def bench_address(work: Work, card: str = "", kept: Mapping[str, str] | None = None) -> str:
    """The bench, at a card; `kept`: the wrench chosen on it."""
    path = reverse("bench", args=[work.visit.pk])
    query = ({"card": card} if card else {}) | dict(kept or {})
    return f"{path}?{urlencode(query)}" if query else path
