"""The store of the ledger: takes entries in, seals them, and keeps what is read from them up to date.

`record_all` is the one way in. One transaction composes the entries, seals them and makes the
projections of the visit anew; on SQLite it is IMMEDIATE, on PostgreSQL it locks the visit.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

import rfc8785
from django.core.exceptions import BadRequest
from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from witnessmark import ledger
from witnessmark.ledger.account import why_not_corrected
from witnessmark.ledger.seal import Seal as SealMade
from witnessmark.ledger.seal import seal as seal_next
from witnessmark.ledger.state import VisitState
from witnessmark.ledger.table import Table
from witnessmark.ledger.verify import VerifyFault
from witnessmark.shop import last_seals as beside
from witnessmark.shop import projections, roles, sums
from witnessmark.shop.folded import (
    Folded,
    afresh,
    entry_of_row,
    fold,
    folded,
    keep,
    kept,
    sealed,
)
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import (
    Clash,
    Entry,
    Machine,
    ProjectionRow,
    Seal,
    Shop,
    Visit,
    WrenchMark,
)
from witnessmark.shop.scope import Desk
from witnessmark.shop.tickets import Ticket, ticket_of, write_seen
from witnessmark.shop.work import doubtful

# tickets, and the rows as the ledger has them, as every page has them from here
__all__ = ["Ticket", "entry_of_row", "sealed", "ticket_of", "write_seen"]
EntryDraft = tuple[str, Mapping[str, Any]]  # kind and body of an entry


@dataclass(frozen=True)
class Stored:
    """What became of one entry: stored now, stored before (`again`), or kept apart (`clash`)."""

    entry: ledger.Entry
    again: bool = False
    clash: Clash | None = None


@dataclass(frozen=True)
class Ahead:
    """Entries composed, and folded, before the visit is locked: what they are while nothing else came in."""

    before: Folded
    row: Mapping[str, Any]
    entries: tuple[ledger.Entry, ...]
    after: Folded  # under the newest seal of before


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
def record_all(
    desk: Desk, visit: Visit, ticket: Ticket, acts: Iterable[EntryDraft]
) -> list[Stored]:
    """Store the entries of one form, all or none, and return what became of each.

    The same id with the same content was stored before: answered as before. The same id with other
    content is kept apart as a `Clash`. Without `seen`, everything stored counts as seen.
    Raises `ledger.EntryErrors` when a body is not what its kind asks for.
    """
    locked = lock(desk, visit)
    return record_onto(desk, locked, folded(locked), ticket, acts)


def ahead(desk: Desk, visit: Visit, ticket: Ticket, acts: Iterable[EntryDraft]) -> Ahead | None:
    """Work out what `record_onto` needs, before others have to wait for it (on SQLite, for any visit).

    None where it cannot be worked out: then it is told under the lock, where nothing changes any more.
    """
    before = kept(visit)
    if before is None or before.newest is None:
        return None
    every = list(before.entries)
    try:
        for place, (kind, body) in enumerate(acts):
            every.append(
                _composed(desk, visit, every, ticket.seen, kind, body, ticket.id_of(place))
            )
        after = fold(visit, every, before.newest).with_newest(before.newest)
    except ValueError:  # what is wrong with an entry or with what is kept
        return None
    return Ahead(before, _row_says(visit), tuple(every[len(before.entries) :]), after)


def record_onto(
    desk: Desk, locked: Visit, before: Folded, ticket: Ticket, acts: Iterable[EntryDraft],
    made: Ahead | None = None,
) -> list[Stored]:  # fmt: skip
    """The same on a visit locked in this transaction, and folded since; `made`: `ahead` of it."""
    every, newest = list(before.entries), before.newest
    if made and (made.before is not before or made.row != _row_says(locked)):
        made = None
    answers = []
    for place, (kind, body) in enumerate(acts):
        composed = made.entries[place] if made else None
        stored = _record(desk, locked, every, ticket, place, kind, body, composed)
        answers.append(stored)
        if stored.again or stored.clash is not None:
            made = None  # what follows was composed behind an entry that is not stored
        else:
            newest = _write(desk, locked, stored.entry, newest)
            every.append(stored.entry)
    if newest is not None and newest != before.newest:
        after = made.after.with_newest(newest) if made else fold(locked, every, newest)
        after.rows.extend(_projected(locked, after))
        changed = projections.replace(locked, after.rows, before.rows)
        if WrenchMark in changed or doubtful.ABOUT & {one.entry.kind for one in answers}:
            doubtful.keep_of_machine(desk.shop, locked.machine_id)
        keep(locked, after)
    return answers


def lock(desk: Desk, visit: Visit) -> Visit:
    """The visit's row, locked until the transaction ends: nobody else writes entries of it meanwhile."""
    rows = Visit.objects.select_for_update(of=("self",)).select_related("machine")
    locked = rows.get(pk=visit.pk, shop=desk.shop)
    locked.shop = desk.shop
    return locked


def heads(visit: Visit) -> dict[str, int]:
    """The newest sequence number of every device that worked on the visit."""
    newest = Entry.objects.filter(visit=visit).values_list("device").annotate(Max("seq"))
    return {str(device): seq for device, seq in newest.order_by("device")}


def entries(visit: Visit) -> list[ledger.Entry]:
    """The entries of a visit in the order they were sealed."""
    return list(folded(visit).entries)


def state(visit: Visit) -> VisitState:
    """What the entries of a visit say."""
    return folded(visit).state


def reading(visit: Visit) -> Folded:
    """The visit folded, for a page that is made from it: it has seen what was read here (`visit.seen`)."""
    read = folded(visit)
    if visit.seen is None:
        visit.seen = read.state.heads
    return read


def table(visit: Visit) -> Table:
    """What each event of the visit opens and closes."""
    return folded(visit).whole_table


def clashes(visit: Visit) -> Iterable[Clash]:
    """Entries kept apart because their form had been stored with other content."""
    return Clash.objects.filter(visit=visit).select_related("author__user").order_by("at")


def source(visit: Visit, read: Folded, sealed_at: str | None) -> projections.Source:
    """What the projections of a visit follow from; `sealed_at`: the time of its newest seal."""
    return projections.Source(
        visit=visit,
        entries=read.entries,
        state=read.state,
        book=read.with_own,
        sealed_at=datetime.fromisoformat(sealed_at) if sealed_at else None,
        lines=read.table.lines,
    )


def _projected(visit: Visit, read: Folded) -> list[ProjectionRow]:
    """The rows that should stand for a visit; none before its first entry."""
    if read.newest is None:
        return []
    return list(projections.rows(source(visit, read, read.newest.at)))


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
    _sums(shop)


def _rebuild(visit: Visit) -> None:
    read = afresh(visit)
    wanted = _projected(visit, read)
    with transaction.atomic():
        locked = Visit.objects.select_for_update().get(pk=visit.pk)
        if Seal.objects.filter(visit=visit).count() != len(
            read.entries
        ):  # an act came in meanwhile
            wanted = _projected(locked, afresh(locked))
        projections.replace(locked, wanted)


def first_sums(**signal: Any) -> None:
    """Receiver of post_migrate: fill what the migration that brought the sums left empty."""
    for shop in Shop.objects.all() if sums.are_there() else ():
        if sums.lacking(shop):
            _sums(shop)


def _sums(shop: Shop | None) -> None:
    """Make again what follows from the visits of a shop together."""
    for one in [shop] if shop else Shop.objects.all():
        with transaction.atomic():
            doubtful.rebuild(one)
            sums.rebuild(one)


def faults(shop: Shop | None = None) -> Iterator[tuple[Visit, VerifyFault]]:
    """What is wrong with the visits; all that is kept, and the anchors: `verifying`."""
    from witnessmark.shop import verifying  # noqa: PLC0415 - it reads through this module

    return verifying.of_visits(shop)


# ---------------------------------------------------------------- taking in


def _record(
    desk: Desk, visit: Visit, every: list[ledger.Entry], ticket: Ticket, place: int,
    kind: str, body: Mapping[str, Any], composed: ledger.Entry | None,
) -> Stored:  # fmt: skip
    key = ticket.id_of(place)
    before = Entry.objects.filter(pk=key).first()
    entry = composed or _composed(desk, visit, every, ticket.seen, kind, body, key)
    if before is None:
        undone = entry.body["entry"] if kind == "corrected" else None
        named = next((e for e in every if e.id == undone), None)
        of = (named.kind, named.body) if named else None
        if named and (why := why_not_corrected(named, every)):
            raise BadRequest(why)
        roles.refuse_entry(desk.member.role, kind, entry.body, of)
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


def _write(desk: Desk, visit: Visit, entry: ledger.Entry, last: SealMade | None) -> SealMade:
    """Keep an entry, and seal it after the visit's last seal."""
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
    seal = seal_next(entry, last, at=datetime.now(UTC))
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
    return seal


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


def _text(entry: ledger.Entry) -> str:
    return rfc8785.dumps(entry.body).decode()
