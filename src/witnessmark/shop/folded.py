"""What a visit says, folded from its entries once, and kept in this process until another entry of it is sealed.

Whoever asks looks at the newest seal: where it is the one that was folded, nothing is read anew; where others came
after it, they alone are read. Entries and seals are written once, so the newest seal stands for all before it; what
was changed behind the program is for `verify`, which reads everything itself.
"""

from __future__ import annotations

import json
from collections import OrderedDict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from threading import Lock
from typing import Any
from uuid import UUID

from witnessmark.book import Book, steps
from witnessmark.book.model import Step
from witnessmark.book.own_job import OwnJob, beside
from witnessmark.kept_versions import as_newest
from witnessmark.ledger import entry as ledger
from witnessmark.ledger.beyond_book import book_with_own, own_book, with_own
from witnessmark.ledger.effects import effects
from witnessmark.ledger.figures import book_with_overlay
from witnessmark.ledger.fold import visit_state
from witnessmark.ledger.repairs import repairs_in
from witnessmark.ledger.seal import Seal as SealMade
from witnessmark.ledger.state import VisitState
from witnessmark.ledger.table import Table
from witnessmark.shop import content_store
from witnessmark.shop.models import Entry, ProjectionRow, Seal, Shop, Visit

NO_BOOK = Book(format=1, name="none", title="no service book pinned")
MOST = 64  # visits kept: those that are worked on at one time


@dataclass(frozen=True)
class Folded:
    """Entries in the order of their seals, and all that follows from them."""

    entries: tuple[ledger.Entry, ...]
    newest: SealMade | None  # None before the first entry
    table: Table  # of the pinned book alone; with `Table.lines` of the estimates
    pinned: Book  # with the visit's repairs beside its jobs; NO_BOOK before one is
    # What stands in the database for it, where it was written here; empty: to be read.
    rows: list[ProjectionRow] = field(default_factory=list, compare=False, repr=False)

    @cached_property
    def state(self) -> VisitState:
        """What the entries say."""
        return visit_state(self.entries, self.table)

    def with_book(self, pinned: Book) -> Folded:
        """The same beside other words of the pinned book: what the entries say is not folded again."""
        return self if pinned is self.pinned else self._with(pinned=pinned)

    def with_newest(self, newest: SealMade) -> Folded:
        """The same under another newest seal, its rows to be made."""
        return self._with(newest=newest, rows=[])

    def _with(self, **changed: Any) -> Folded:
        made = replace(self, **changed)
        made.__dict__["state"] = self.state
        return made

    @cached_property
    def own(self) -> Book:
        """What was added and written beyond the book (`ledger.beyond_book`)."""
        return own_book({name: one.said for name, one in self.state.own.items()})

    @cached_property
    def with_own(self) -> Book:
        """The pinned book, with what was opened beyond it."""
        return book_with_own(self.pinned, self.own)

    @cached_property
    def book(self) -> Book:
        """That, with the visit's own figures over the pin; its jobs are the book's alone."""
        return book_with_overlay(self.with_own, self.state)

    @cached_property
    def steps(self) -> dict[str, Step]:
        """Every access step and operation by its id; those beyond the book last."""
        return {**steps(self.book), **steps(self.own)}

    @cached_property
    def whole_table(self) -> Table:
        """What each event opens and closes, with what was added beyond the book."""
        return with_own(self.table, self.entries)


def folded(visit: Visit) -> Folded:
    """What the entries of a visit say by now."""
    key = (visit.pk, visit.refuse_unproven_wrench)
    before = _kept.get(key)
    rows = list(_rows(visit, before.newest.number)) if before and before.newest else []
    if not (before and before.newest and rows and sealed(rows[0].seal) == before.newest):
        made = afresh(visit)
    elif not rows[1:]:
        return before
    else:
        every = (*before.entries, *map(entry_of_row, rows[1:]))
        made = fold(visit, every, sealed(rows[-1].seal))
    _kept.put(key, made)
    return made


def kept(visit: Visit) -> Folded | None:
    """What was folded of a visit last in this process; others may have come after it."""
    return _kept.get((visit.pk, visit.refuse_unproven_wrench))


def keep(visit: Visit, made: Folded) -> None:
    """Keep what was folded from entries just sealed. Where they are rolled back, no seal stands for it."""
    _kept.put((visit.pk, visit.refuse_unproven_wrench), made)


def fold(visit: Visit, every: Sequence[ledger.Entry], newest: SealMade | None) -> Folded:
    """Fold these entries, whatever is kept."""
    book = _book_of(visit.shop_id, _pinned(every), _repairs(every))
    return Folded(tuple(every), newest, _table_of(visit, every, book), book)


def afresh(visit: Visit) -> Folded:
    """Read and fold all entries as they stand in the database, whatever is kept."""
    rows = list(_rows(visit, 1))
    return fold(visit, [*map(entry_of_row, rows)], sealed(rows[-1].seal) if rows else None)


def entry_of_row(row: Entry) -> ledger.Entry:
    """A stored entry as the ledger has it. Raises KeptError for one of a newer version."""
    as_newest("an entry of this visit", {"format": row.format}, ledger.UPCASTS)
    return ledger.Entry(
        format=row.format,
        id=str(row.id),
        shop=str(row.shop_id),
        visit=str(row.visit_id),
        kind=row.kind,
        device=str(row.device),
        seq=row.seq,
        prev=row.prev or None,
        seen=row.seen,
        author=str(row.author_id),
        at=row.at,
        body=json.loads(row.body),
    )


def sealed(row: Seal) -> SealMade:
    """A stored seal as the ledger has it."""
    return SealMade(number=row.number, at=row.at, entry_hash=row.entry_hash, prev=row.prev or None)


# ---------------------------------------------------------------- parts


class _Kept:
    """The newest folds of this process, by visit; its threads share them."""

    def __init__(self) -> None:
        self._folds: OrderedDict[tuple[UUID, bool], Folded] = OrderedDict()
        self._lock = Lock()

    def get(self, key: tuple[UUID, bool]) -> Folded | None:
        with self._lock:
            if key in self._folds:
                self._folds.move_to_end(key)
            return self._folds.get(key)

    def clear(self) -> None:
        with self._lock:
            self._folds.clear()

    def put(self, key: tuple[UUID, bool], made: Folded) -> None:
        with self._lock:
            self._folds[key] = made
            self._folds.move_to_end(key)
            while len(self._folds) > MOST:
                self._folds.popitem(last=False)


_kept = _Kept()


def _rows(visit: Visit, first: int) -> Iterator[Entry]:
    """The rows of the entries from a seal's number on, each with its seal."""
    rows = Entry.objects.filter(visit=visit, seal__number__gte=first).select_related("seal")
    yield from rows.order_by("seal__number")


def _table_of(visit: Visit, every: Sequence[ledger.Entry], book: Book) -> Table:
    made = _table(_Same(book), _jobs(every), _refuse(visit, every))
    offers = [e.body for e in every if e.kind == "offered"]
    if all(line in made.lines for offer in offers for line in offer["lines"]):
        return made
    free = content_store.lines_of(visit.shop, tuple(offer["estimate"] for offer in offers))
    return made.model_copy(update={"lines": {**free, **made.lines}})


@dataclass(frozen=True, eq=False)
class _Same:
    """A book by its identity: each is read once (`_book_of`), and kept as long as its tables are."""

    book: Book

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self.book is other.book

    def __hash__(self) -> int:
        return id(self.book)


@lru_cache(maxsize=64)
def _table(same: _Same, jobs: tuple[str, ...], refuse: bool) -> Table:  # noqa: FBT001
    return effects(same.book, jobs, refuse_unproven_wrench=refuse)


@lru_cache(maxsize=64)
def _book_of(shop_id: UUID, revision: str, repairs: tuple[tuple[str, str], ...]) -> Book:
    """The book of a revision (empty: none), with repairs beside its jobs: each its id, and its job as JSON."""
    pinned = content_store.book_of(Shop.objects.get(pk=shop_id), revision) if revision else NO_BOOK
    return beside(pinned, {name: OwnJob.model_validate_json(job) for name, job in repairs})


def _refuse(visit: Visit, every: Sequence[ledger.Entry]) -> bool:
    """The shop's rule when the visit began, as the arrival has it; its row before that."""
    told = (e.body.get("refuse_unproven_wrench") for e in every if e.kind == "arrived")
    return next((rule for rule in told if rule is not None), visit.refuse_unproven_wrench)


def _pinned(every: Sequence[ledger.Entry]) -> str:
    undone = {e.body["entry"] for e in every if e.kind == "corrected"}
    pins = [e for e in every if e.kind == "book_pinned" and e.id not in undone]
    return str(pins[-1].body["revision"]) if pins else ""


def _repairs(every: Sequence[ledger.Entry]) -> tuple[tuple[str, str], ...]:
    standing = repairs_in(every).items()
    return tuple(
        (name, one.said.job.model_dump_json(exclude_defaults=True)) for name, one in standing
    )


def _jobs(every: Sequence[ledger.Entry]) -> tuple[str, ...]:
    """Jobs ever taken on, in order: their cards are named first where several close an item."""
    return tuple(dict.fromkeys(e.body["job"] for e in every if e.kind == "job_taken"))
