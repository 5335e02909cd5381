"""The store of the ledger: takes entries in, seals them, and keeps what is read from them up to date.

`record_all` is the one way in. One transaction composes the entries, seals them and makes the
projections of the visit anew; on SQLite it is IMMEDIATE, on PostgreSQL it locks the visit.
"""

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache, partial
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

import rfc8785
from django.core.exceptions import BadRequest
from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from witnessmark.book import Book
from witnessmark.formats import as_newest
from witnessmark.ledger import entry as ledger
from witnessmark.ledger.effects import effects
from witnessmark.ledger.fold import visit_state
from witnessmark.ledger.own import book_with_own, own_book, with_own
from witnessmark.ledger.seal import Seal as SealMade
from witnessmark.ledger.seal import seal as seal_next
from witnessmark.ledger.state import VisitState
from witnessmark.ledger.table import Table
from witnessmark.ledger.verify import Fault
from witnessmark.shop import heads as beside
from witnessmark.shop import kept, projections, roles
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import Clash, Entry, Machine, ProjectionRow, Seal, Shop, Visit
from witnessmark.shop.scope import Desk
from witnessmark.shop.tickets import Ticket, ticket_of, write_seen

__all__ = ["Ticket", "ticket_of", "write_seen"]  # tickets, as every page has them from here
NO_BOOK = Book(format=1, name="none", title="no service book pinned")
Act = tuple[str, Mapping[str, Any]]  # kind and body of an entry


@dataclass(frozen=True)
class Stored:
    """What became of one entry: stored now, stored before (`again`), or kept apart (`clash`)."""

    entry: ledger.Entry
    again: bool = False
    clash: Clash | None = None


@transaction.atomic
def open_visit(desk: Desk, machine: Machine, key: UUID | None = None) -> Visit:
    """A new visit of a machine, with the shop's next number. The same `key` again: the same visit."""
    shop = Shop.objects.select_for_update().get(pk=desk.shop.pk)
    already = desk.all(Visit).filter(pk=key).first() if key else None
    if already is not None:
        return already
    last = desk.all(Visit).aggregate(last=Max("number"))["last"] or 0
    visit = desk.new(
        Visit,
        id=key or new_id(),
        machine=machine,
        number=last + 1,
        refuse_unproven_wrench=shop.refuse_unproven_wrench,
    )
    visit.save(force_insert=True)
    return visit


def record(
    desk: Desk,
    visit: Visit,
    kind: str,
    body: Mapping[str, Any],
    *,
    entry_id: str | None = None,
    seen: Mapping[str, int] | None = None,
) -> Stored:
    """Store one entry. See `record_all`."""
    ticket = Ticket(entry_id or ledger.new_entry_id(), seen)
    return record_all(desk, visit, ticket, [(kind, body)])[0]


@transaction.atomic
def record_all(desk: Desk, visit: Visit, ticket: Ticket, acts: Iterable[Act]) -> list[Stored]:
    """Store the entries of one form, all or none, and return what became of each.

    The same id with the same content was stored before: answered as before. The same id with other
    content is kept apart as a `Clash`. Without `seen`, everything stored counts as seen.
    Raises `ledger.EntryErrors` when a body is not what its kind asks for.
    """
    locked = lock(desk, visit)
    every = list(_rows(locked))
    answers = []
    for place, (kind, body) in enumerate(acts):
        stored = _record(desk, locked, every, ticket, place, kind, body)
        answers.append(stored)
        if not stored.again and stored.clash is None:
            every.append(stored.entry)
    if any(not one.again and one.clash is None for one in answers):
        refresh(locked, every)
    return answers


def lock(desk: Desk, visit: Visit) -> Visit:
    """The visit's row, locked until the transaction ends: nobody else writes entries of it meanwhile."""
    return Visit.objects.select_for_update().get(pk=visit.pk, shop=desk.shop)


def entries(visit: Visit) -> list[ledger.Entry]:
    """The entries of a visit in the order they were sealed."""
    return list(_rows(visit))


def heads(visit: Visit) -> dict[str, int]:
    """The newest sequence number of every device that worked on the visit."""
    newest = Entry.objects.filter(visit=visit).values_list("device").annotate(Max("seq"))
    return {str(device): seq for device, seq in newest.order_by("device")}


def state(visit: Visit) -> VisitState:
    """What the entries of a visit say."""
    return _state(visit, entries(visit))


def reading(visit: Visit) -> tuple[list[ledger.Entry], VisitState, Book]:
    """Entries in the order of their seals, what they say, and the pinned book (`NO_BOOK` before it is pinned).

    What was read here is what a page made from it has seen: `visit.seen`.
    """
    every = entries(visit)
    read = _state(visit, every)
    if visit.seen is None:
        visit.seen = read.heads
    return every, read, _book(visit, every) or NO_BOOK


def book(visit: Visit) -> Book | None:
    """The service book that the visit pinned."""
    pins = Entry.objects.filter(visit=visit, kind__in=["book_pinned", "corrected"])
    return _book(visit, [entry_of_row(row) for row in pins.order_by("seal__number")])


def table(visit: Visit) -> Table:
    """What each event of the visit opens and closes."""
    every = entries(visit)
    return with_own(_table_of(visit, every), every)


def clashes(visit: Visit) -> Iterable[Clash]:
    """Entries kept apart because their form had been stored with other content."""
    return Clash.objects.filter(visit=visit).select_related("author__user").order_by("at")


def refresh(visit: Visit, every: list[ledger.Entry]) -> None:
    """Make the projections of a visit anew."""
    projections.replace(visit, _projected(visit, every))


def _projected(visit: Visit, every: list[ledger.Entry]) -> list[ProjectionRow]:
    """The rows that should stand for a visit; none before its first entry."""
    if not every:
        return []
    last = Seal.objects.filter(visit=visit).order_by("-number").first()
    return list(projections.rows(source(visit, every, last)))


def source(visit: Visit, every: list[ledger.Entry], last: Seal | None) -> projections.Source:
    """What the projections of a visit follow from; `last`: its newest seal."""
    now = _state(visit, every)
    beyond = own_book({name: one.said for name, one in now.own.items()})
    return projections.Source(
        visit=visit,
        entries=every,
        state=now,
        book=book_with_own(_book(visit, every) or NO_BOOK, beyond),
        sealed_at=datetime.fromisoformat(last.at) if last else None,
        lines=_table_of(visit, every).lines,
    )


def rebuild(shop: Shop | None = None, after: UUID | None = None) -> Iterator[UUID]:
    """Make every projection again from the entries alone; yield each visit whose rows are made.

    Each visit is read outside, and written in, a short transaction of its own, so the pages go on meanwhile.
    `after`: begin behind this visit, the last one that a rebuild cut off had yielded.
    """
    visits = Visit.objects.all() if shop is None else Visit.objects.filter(shop=shop)
    if after is not None:
        visits = visits.filter(pk__gt=after)
    for key in list(visits.order_by("pk").values_list("pk", flat=True)):
        _rebuild(Visit.objects.select_related("shop", "machine").get(pk=key))
        yield key


def _rebuild(visit: Visit) -> None:
    every = entries(visit)
    wanted = _projected(visit, every)
    with transaction.atomic():
        locked = Visit.objects.select_for_update().get(pk=visit.pk)
        if Seal.objects.filter(visit=visit).count() != len(every):  # an act came in meanwhile
            wanted = _projected(locked, entries(locked))
        projections.replace(locked, wanted)


def faults(shop: Shop | None = None) -> Iterator[tuple[Visit, Fault]]:
    """What is wrong with the visits; all that is kept, and the anchors: `verifying`."""
    from witnessmark.shop import verifying  # noqa: PLC0415 - it reads through this module

    return verifying.of_visits(shop)


# ---------------------------------------------------------------- taking in


def _record(
    desk: Desk, visit: Visit, every: list[ledger.Entry], ticket: Ticket, place: int,
    kind: str, body: Mapping[str, Any],
) -> Stored:  # fmt: skip
    key = ticket.id_of(place)
    before = Entry.objects.filter(pk=key).first()
    entry = _composed(desk, visit, every, ticket.seen, kind, body, key)
    if before is None:
        undone = entry.body["entry"] if kind == "corrected" else None
        of = next(((e.kind, e.body) for e in every if e.id == undone), None)
        roles.refuse_entry(desk.member.role, kind, entry.body, of)
        _write(desk, visit, entry)
        return Stored(entry)
    if before.visit_id != visit.pk:
        raise BadRequest("this id belongs to another visit")
    if _same(before, entry):
        return Stored(entry_of_row(before), again=True)
    return Stored(entry_of_row(before), clash=_kept_apart(desk, before, entry))


def _composed(
    desk: Desk, visit: Visit, every: list[ledger.Entry], seen: Mapping[str, int] | None,
    kind: str, body: Mapping[str, Any], key: str,
) -> ledger.Entry:  # fmt: skip
    device = str(desk.device)
    mine = [entry for entry in every if entry.device == device]
    return ledger.compose(
        kind,
        {**body, **_row_says(visit)} if kind == "arrived" else body,
        shop=str(desk.shop.pk),
        visit=str(visit.pk),
        device=device,
        author=str(desk.member.pk),
        at=timezone.now().astimezone(ZoneInfo(desk.shop.time_zone)),
        previous=max(mine, key=lambda entry: entry.seq, default=None),
        seen=_really_seen(every, seen),
        entry_id=key,
    )


def _row_says(visit: Visit) -> dict[str, Any]:
    """What the visit's own row says, kept in the entry: a row can be changed without a trace."""
    return {
        "machine": str(visit.machine_id),
        "number": visit.number,
        "refuse_unproven_wrench": visit.refuse_unproven_wrench,
    }


def _really_seen(every: list[ledger.Entry], told: Mapping[str, int] | None) -> dict[str, int]:
    """What the page had seen, as far as it is stored; no form can claim to have seen more."""
    newest: dict[str, int] = {}
    for entry in every:
        newest[entry.device] = max(newest.get(entry.device, 0), entry.seq)
    if told is None:
        return newest
    return {device: min(seq, newest[device]) for device, seq in told.items() if device in newest}


def _write(desk: Desk, visit: Visit, entry: ledger.Entry) -> None:
    row = Entry(
        id=UUID(entry.id),
        shop=desk.shop,
        visit=visit,
        kind=entry.kind,
        device=UUID(entry.device),
        seq=entry.seq,
        format=entry.format,
        prev=entry.prev or "",
        seen=entry.seen,
        author=desk.member,
        at=entry.at,
        body=_text(entry),
    )
    row.save(force_insert=True)
    last = Seal.objects.filter(visit=visit).order_by("-number").first()
    seal = seal_next(entry, sealed(last) if last else None, at=datetime.now(UTC))
    transaction.on_commit(partial(beside.acknowledge, visit.pk, seal), robust=True)
    Seal(
        shop=desk.shop,
        visit=visit,
        entry=row,
        number=seal.number,
        at=seal.at,
        entry_hash=seal.entry_hash,
        prev=seal.prev or "",
    ).save(force_insert=True)


def _kept_apart(desk: Desk, before: Entry, entry: ledger.Entry) -> Clash:
    """The clash row; the same content again gives the same row."""
    said = {"visit_id": before.visit_id, "entry": before, "author": desk.member,
            "kind": entry.kind, "body": _text(entry)}  # fmt: skip
    already = desk.all(Clash).filter(**said).first()
    if already is not None:
        return already
    clash = desk.new(Clash, **said)
    clash.save(force_insert=True)
    return clash


def _same(before: Entry, entry: ledger.Entry) -> bool:
    """Whether what was sent is what is stored: order and time are the store's, not the form's."""
    return (before.kind, before.body, str(before.author_id), str(before.device)) == (
        entry.kind, _text(entry), entry.author, entry.device)  # fmt: skip


# ---------------------------------------------------------------- reading


def _rows(visit: Visit) -> Iterator[ledger.Entry]:
    for row in Entry.objects.filter(visit=visit).order_by("seal__number"):
        yield entry_of_row(row)


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


def _text(entry: ledger.Entry) -> str:
    return rfc8785.dumps(entry.body).decode()


def _state(visit: Visit, every: list[ledger.Entry]) -> VisitState:
    return visit_state(every, _table_of(visit, every))


def _book(visit: Visit, every: list[ledger.Entry]) -> Book | None:
    pinned = _pinned(every)
    return kept.book_of(visit.shop, pinned) if pinned else None


def _table_of(visit: Visit, every: list[ledger.Entry]) -> Table:
    made = _table(visit.shop_id, _pinned(every), _jobs(every), _refuse(visit, every))
    offers = [e.body for e in every if e.kind == "offered"]
    if all(line in made.lines for offer in offers for line in offer["lines"]):
        return made
    free = kept.lines_of(visit.shop, tuple(offer["estimate"] for offer in offers))
    return made.model_copy(update={"lines": {**free, **made.lines}})


@lru_cache(maxsize=64)
def _table(shop_id: UUID, revision: str, jobs: tuple[str, ...], refuse: bool) -> Table:  # noqa: FBT001
    pinned = kept.book_of(Shop.objects.get(pk=shop_id), revision) if revision else NO_BOOK
    return effects(pinned, jobs, refuse_unproven_wrench=refuse)


def _refuse(visit: Visit, every: list[ledger.Entry]) -> bool:
    """The shop's rule when the visit began, as the arrival has it; its row before that."""
    told = (e.body.get("refuse_unproven_wrench") for e in every if e.kind == "arrived")
    return next((rule for rule in told if rule is not None), visit.refuse_unproven_wrench)


def _pinned(every: list[ledger.Entry]) -> str:
    undone = {e.body["entry"] for e in every if e.kind == "corrected"}
    pins = [e for e in every if e.kind == "book_pinned" and e.id not in undone]
    return str(pins[-1].body["revision"]) if pins else ""


def _jobs(every: list[ledger.Entry]) -> tuple[str, ...]:
    """Jobs ever taken on, in order: their cards are named first where several close an item."""
    return tuple(dict.fromkeys(e.body["job"] for e in every if e.kind == "job_taken"))
