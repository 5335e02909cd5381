"""Taking a machine in: one form becomes machine, owner, visit and its first entries, all or nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction
from django.utils.translation import gettext as _

from witnessmark.errors import WitnessError
from witnessmark.ledger.entry import Entry
from witnessmark.shop import store
from witnessmark.shop.models import (
    LastDoneKnown,
    Machine,
    Owner,
    PhotoKept,
    Shop,
    ShopRow,
    StoredBook,
    Visit,
    VisitSummary,
)
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.arrival_look import SEEN_AT_ARRIVAL
from witnessmark.shop.work.visit import Work
from witnessmark.units import Amount


class ArrivalError(WitnessError):
    """A machine that cannot be taken in, or an arrival that cannot be changed any more."""


@dataclass(frozen=True)
class OdometerInput:
    """What the odometer says, and why it is right where it seems not to be."""

    amount: Amount
    right_because: str = ""

    def acts(self) -> Iterator[store.EntryDraft]:
        """The entries of it."""
        yield "odometer", {"km": self.amount.value, "text": self.amount.text}
        if self.right_because:
            yield (
                "noted",
                {"text": f"The odometer is right at {self.amount.text}: {self.right_because}."},
            )


@dataclass(frozen=True)
class Arrival:
    """What was written when a machine came in. Machine and owner may be new, with `key_of` as their ids."""

    machine: Machine
    owner: Owner
    said: Mapping[str, Any]  # fields of `arrived`, but machine and owner
    odometer: OdometerInput
    states: Mapping[str, str]
    unsafe: Sequence[str] = ()  # words of the look that must be answered before a ride
    photos: Sequence[PhotoKept] = ()
    known: Sequence[LastDoneKnown] = ()

    def acts(self) -> Iterator[store.EntryDraft]:
        """The first entries of the visit."""
        people = {"machine": str(self.machine.pk), "owner": str(self.owner.pk)}
        yield "arrived", people | dict(self.said)
        yield from self.odometer.acts()
        if self.machine.book is not None:
            yield "book_pinned", {"revision": self.machine.book.current.sha256}
        if self.states:
            yield "states_found", {"states": dict(self.states)}
        yield from found(self.unsafe)
        yield from pictures(self.photos)


def key_of(ticket: store.Ticket, what: str) -> UUID:
    """The id of a row that a form makes: the same form sent twice makes the same row."""
    return uuid5(UUID(ticket.entry_id), what)


@transaction.atomic
def take_in(desk: Desk, ticket: store.Ticket, arrival: Arrival) -> tuple[Visit, list[store.Stored]]:
    """Open the visit and write its first entries; the same form again gives the same visit.

    Raises ArrivalError where the machine is in the shop already.
    """
    Shop.objects.select_for_update().get(pk=desk.shop.pk)
    key = key_of(ticket, "visit")
    already = here(desk, arrival.machine)
    if already is not None and already.pk != key:
        problem = _("it is in the shop already, as visit {number}").format(number=already.number)
        raise ArrivalError("machine", problem, _("go on there, or hand it back first"))
    _save_once(desk, arrival.owner)
    arrival.machine.owner = arrival.owner
    if not _save_once(desk, arrival.machine):
        # the row is there: Django would insert one that was made by a form, whatever fields are named
        arrival.machine.save(force_update=True, update_fields=["owner", "book"])
    visit = store.open_visit(desk, arrival.machine, key)
    stored = store.record_all(desk, visit, ticket, list(arrival.acts()))
    remember(desk, ticket, arrival.machine, arrival.known)
    return visit, stored


def remember(
    desk: Desk, ticket: store.Ticket, machine: Machine, known: Sequence[LastDoneKnown]
) -> None:
    """Keep what was said of work done before; the same form again keeps it once."""
    for place, row in enumerate(known):
        row.id, row.machine = key_of(ticket, f"known {place}"), machine
        _save_once(desk, row)


def here(desk: Desk, machine: Machine) -> Visit | None:
    """The visit of a machine that was not handed back yet."""
    rows = desk.all(VisitSummary).filter(machine_id=machine.pk, handed_back_at=None)
    row = rows.select_related("visit").first()
    return row.visit if row else None


def those_here(desk: Desk, machines: Sequence[Machine]) -> list[tuple[Machine, Visit | None]]:
    """Machines, each with its visit that was not handed back yet."""
    rows = desk.all(VisitSummary).filter(machine__in=machines, handed_back_at=None)
    here = {row.machine_id: row.visit for row in rows.select_related("visit")}
    return [(machine, here.get(machine.pk)) for machine in machines]


def found(unsafe: Sequence[str]) -> Iterator[store.EntryDraft]:
    """What must be answered before anybody rides it, as findings."""
    for words in unsafe:
        yield "found", {"text": SEEN_AT_ARRIVAL.format(words=words), "safety": True}


def pictures(photos: Sequence[PhotoKept]) -> Iterator[store.EntryDraft]:
    """Photos of the machine as it came in."""
    for photo in photos:
        yield (
            "photo",
            {"sha256": photo.sha256, "media_type": photo.media_type, "text": "at arrival"},
        )


def standing(work: Work, kind: str) -> list[Entry]:
    """The entries of a kind that nobody corrected, oldest first."""
    return [entry for entry in work.standing if entry.kind == kind]


def again(
    work: Work, kind: str, acts: Sequence[store.EntryDraft], why: str
) -> list[store.EntryDraft]:
    """Put new entries in the place of all that stand of a kind."""
    gone: list[store.EntryDraft] = [
        ("corrected", {"entry": entry.id, "why": why}) for entry in standing(work, kind)
    ]
    return [*gone, *acts]


def pin(work: Work, book: StoredBook) -> list[store.EntryDraft]:
    """The entry that pins a book's current revision. Raises ArrivalError once jobs were taken on."""
    if work.state.taken:
        problem = _("jobs are booked from the book this visit has")
        raise ArrivalError("book", problem, _("the next visit takes the newer one"))
    return [("book_pinned", {"revision": book.current.sha256})]


def _save_once(desk: Desk, row: ShopRow) -> bool:
    """Save a new row unless it is there; whether it was new."""
    if desk.all(type(row)).filter(pk=row.pk).exists():
        return False
    row.save(force_insert=True)
    return True
