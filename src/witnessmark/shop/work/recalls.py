"""What a wrench found wrong has closed since its last good check, and what is written into the ledger about it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from django.db.models import Case, Count, Max, When
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from witnessmark.shop import store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import (
    DoubtfulMark,
    Machine,
    Visit,
    VisitSummary,
    Wrench,
    WrenchEvent,
)
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.doubtful import InDoubt, judged, marks_of
from witnessmark.shop.work.wrenches import OnShelf, shelf, to_mind
from witnessmark.wrenches import Check, Doubted, doubted, per_cent


@dataclass(frozen=True)
class MachineInDoubt:
    """One machine with its fasteners in doubt."""

    machine: Machine
    here: bool
    marks: tuple[InDoubt, ...]


@dataclass(frozen=True)
class FoundWrong:
    """A check that found a wrench wrong: since when it is in doubt, and what it closed."""

    event: WrenchEvent
    wrench: Wrench
    doubt: Doubted
    good: WrenchEvent | None  # the last good check before; None: there was none

    @property
    def check(self) -> Check:
        """The check that found it wrong."""
        return self.doubt.check

    @property
    def words(self) -> str:
        """How wrong it was found. Example: ``11.1 % off: fasteners got less than it showed``."""
        less = _("{off} off: fasteners got less than it showed")
        more = _("{off} off: fasteners got more than it showed")
        worst = self.check.worst
        return (less if worst > 0 else more).format(off=per_cent(abs(worst)))

    @property
    def since(self) -> date | None:
        """The day of its last good check before."""
        return self.good.on if self.good else None

    def marks(self, **which: Any) -> list[InDoubt]:
        """What it closed, each as it stands; `which`: of a visit, of some machines."""
        rows = marks_of(self.wrench, self.doubt).filter(**which)
        return judged(self.doubt, list(rows.select_related("visit", "machine__owner")))

    def machines(self) -> Any:
        """The machines of those marks: first those with something to do, then those here, those with safety-critical
        fasteners, the newest.
        """
        to_do = DoubtfulMark.objects.filter(event=self.event).values("machine")
        here = VisitSummary.objects.filter(shop=self.event.shop_id, handed_back_at=None)
        visits = list(here.values_list("visit", flat=True))
        rows = marks_of(self.wrench, self.doubt).order_by().values("machine")
        every = rows.annotate(
            to_do=_any(machine__in=to_do), here=_any(visit__in=visits), safe=_any(safety=True),
            newest=Max("at"),
        )  # fmt: skip
        in_order = every.order_by("-to_do", "-here", "-safe", "-newest", "machine")
        return in_order.values_list("machine", flat=True)

    def groups(self, machines: Sequence[UUID] | None = None) -> list[MachineInDoubt]:
        """The fasteners by machine, in the order of `machines`; None: all."""
        every = list(self.machines()) if machines is None else machines
        by_machine: dict[UUID, list[InDoubt]] = defaultdict(list)
        for one in self.marks(machine__in=every):
            by_machine[one.mark.machine_id].append(one)
        return [_group(by_machine[key]) for key in every if key in by_machine]

    @property
    def to_time(self) -> list[WrenchEvent]:
        """The checks whose time would tell what was made tight before them and what after."""
        known = [one for one in (self.event, self.good) if one and one.at is None]
        days = {one.on for one in known}
        unclear = (
            {m.mark.on for m in self.marks(on__in=days) if m.unclear and m.open} if days else ()
        )
        return [one for one in known if one.on in unclear]


def _any(**which: Any) -> Max:
    """Over the marks of a machine: 1 where any is so."""
    return Max(Case(When(**which, then=1), default=0))


def _group(marks: list[InDoubt]) -> MachineInDoubt:
    return MachineInDoubt(
        marks[0].mark.machine,
        any(not one.handed_back for one in marks),
        tuple(sorted(marks, key=lambda m: (not m.advised, not m.mark.safety, m.mark.at))),
    )


@dataclass(frozen=True)
class Written:
    """What was written into the ledger of one visit."""

    visit: Visit
    marks: int
    handed_back: bool


@dataclass(frozen=True)
class ToSeeTo:
    """A wrench something is to be done about; `doubt`: what it closed that is to be made tight again."""

    wrench: OnShelf
    doubt: FoundWrong | None = None
    fasteners: int = 0

    @property
    def said(self) -> tuple[str, ...]:
        """Why, in words."""
        standing = self.wrench.standing.to_mind
        if self.doubt is None:
            return standing
        words = ngettext(
            "found {found}; {count} fastener to make tight again",
            "found {found}; {count} fasteners to make tight again",
            self.fasteners,
        )
        if self.wrench.standing.proves:
            words = ngettext(
                "found {found}, and put right since; {count} fastener it tightened before is to be made tight again",
                "found {found}, and put right since; {count} fasteners it tightened before are to be made tight again",
                self.fasteners,
            )
        words = words.format(found=self.doubt.words, count=self.fasteners)
        return (*standing, words)


def to_see_to(desk: Desk) -> list[ToSeeTo]:
    """The wrenches of the shop that are due, dropped, found wrong, overdue, or have closed what is now in doubt."""
    left = dict(desk.all(DoubtfulMark).order_by().values_list("event").annotate(Count("id")))
    every = shelf(desk.shop, history=bool(left))
    minded = {one.row.pk for one in to_mind(every)}
    seen = [_to_see_to(one, left) for one in every]
    return [one for one in seen if one.doubt or one.wrench.row.pk in minded]


def _to_see_to(one: OnShelf, left: Mapping[UUID, int]) -> ToSeeTo:
    """With the newest check that found it wrong, while something that rests on it waits."""
    waiting = [event for event in one.events if event.pk in left]
    doubts = doubted(one.tool) if waiting else []
    newest = next((d for d in doubts if UUID(d.check.id) in left), None)
    if newest is None:
        return ToSeeTo(one)
    return ToSeeTo(one, _found_wrong(one, newest), left[UUID(newest.check.id)])


def found_wrong(one: OnShelf, event: WrenchEvent) -> FoundWrong | None:
    """What the wrench closed between its last good check and the one that found it wrong; None if it did not."""
    doubt = next((d for d in doubted(one.tool) if d.check.id == str(event.pk)), None)
    return _found_wrong(one, doubt) if doubt else None


def _found_wrong(one: OnShelf, doubt: Doubted) -> FoundWrong:
    by_id = {str(event.pk): event for event in one.events}
    good = by_id[doubt.good.id] if doubt.good else None
    return FoundWrong(by_id[doubt.check.id], one.row, doubt, good)


def write(desk: Desk, found: FoundWrong, chosen: Collection[str]) -> list[Written]:
    """Doubt the chosen marks (ids of rows) in the ledgers of their visits."""
    by_visit: dict[UUID, list[InDoubt]] = defaultdict(list)
    for one in found.marks(pk__in=_uuids(chosen)):
        if one.open:
            by_visit[one.mark.visit_id].append(one)
    made = []
    for marks in by_visit.values():
        visit = marks[0].mark.visit
        body = {
            "wrench": str(found.event.wrench_id),
            "check": str(found.event.pk),
            "marks": sorted(str(one.mark.entry) for one in marks),
            "found": found.check.worst,
            "since": found.since.isoformat() if found.since else None,
        }
        store.record_all(desk, visit, store.Ticket(str(new_id())), [("wrench_doubted", body)])
        made.append(Written(visit, len(marks), marks[0].handed_back))
    return made


def in_words(written: Iterable[Written]) -> str:
    """What was done, in a sentence or two."""
    every = list(written)
    here = sum(one.marks for one in every if not one.handed_back)
    gone = sum(one.handed_back for one in every)
    sentences = []
    if here:
        words = ngettext(
            "{count} fastener of a machine in the shop is open again.",
            "{count} fasteners of machines in the shop are open again.",
            here,
        )
        sentences.append(words.format(count=here))
    if gone:
        words = ngettext(
            "Call {count} machine back: its hand-back page has the letter.",
            "Call {count} machines back: their hand-back pages have the letters.",
            gone,
        )
        sentences.append(words.format(count=gone))
    return " ".join(sentences)


def _uuids(said: Iterable[str]) -> Iterator[UUID]:
    for one in said:
        with suppress(ValueError):
            yield UUID(one)
