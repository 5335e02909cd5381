"""What a wrench found wrong has closed: how each fastener stands, and which are to be made tight again.

Those are kept as rows (`DoubtfulMark`): the day's page counts them without reading every mark of the wrench. They
follow from the marks, the checks and the ledgers; `keep_of_machine` and `keep_of_wrench` keep them.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction
from django.db.models import Min
from django.utils.translation import gettext as _

from witnessmark.shop.dates import day_text
from witnessmark.shop.models import (
    DoubtfulMark,
    Entry,
    Shop,
    VisitSummary,
    Wrench,
    WrenchEvent,
    WrenchMark,
)
from witnessmark.shop.sums import lock_table
from witnessmark.shop.work.wrenches import in_turn, tool_of
from witnessmark.wrenches import Doubted, doubted, true_torque

Fastener = tuple[UUID, str, int]  # machine, fastener, place
ABOUT = frozenset(
    {"corrected", "returned", "wrench_doubted"}
)  # entries that bear on it beside marks
A_DAY = timedelta(days=1)  # by which a mark's day may lie beside a check's, in another zone


@dataclass(frozen=True)
class InDoubt:
    """One fastener: the mark, what the torque likely was, and what has become of it."""

    mark: WrenchMark
    likely_nm: float
    deviation: float
    handed_back: bool
    written: bool  # stands in the ledger of its visit as doubted
    unclear: bool  # made on the day of a check of which only the day is known
    again: WrenchMark | None  # made tight again since

    @property
    def side(self) -> str:
        """Where the likely torque lies against the figure: low, high, within, unknown."""
        mark = self.mark
        if mark.low_nm is None and mark.high_nm is None:
            return "unknown"
        if mark.low_nm is not None and self.likely_nm < mark.low_nm * (1 - 1e-9):
            return "low"
        over = mark.high_nm is not None and self.likely_nm > mark.high_nm * (1 + 1e-9)
        return "high" if over else "within"

    @property
    def words(self) -> str:
        """How it stands."""
        if self.again is not None:
            again = _("made tight again on {day} with the same wrench")
            if self.again.wrench != self.mark.wrench:
                again = _("made tight again on {day} with another wrench")
            return again.format(day=day_text(self.again.on))
        if not self.mark.stands and not self.written:
            return _("made tight another way since, or taken back")
        how = {
            "low": _("too loose"),
            "high": _("too tight: look at the thread, too"),
            "within": _("still within its figure"),
            "unknown": _("its figure has no limits: judge it"),
        }[self.side]
        unsure = _("{how}; whether before or after the check is not known")
        return unsure.format(how=how) if self.unclear else how

    @property
    def open(self) -> bool:
        """Whether the fastener still rests on this mark alone, and nobody has written it down yet."""
        return self.mark.stands and self.again is None and not self.written

    @property
    def advised(self) -> bool:
        """Whether it should be made tight again: out of its figure, or safety-critical and here."""
        return self.open and (self.side != "within" or (self.mark.safety and not self.handed_back))


def marks_of(wrench: Wrench, doubt: Doubted) -> Any:
    """Queryset of what the wrench closed between its last good check and the one that found it wrong."""
    marks = WrenchMark.objects.filter(wrench=wrench.pk, at__lte=doubt.check.last)
    return marks.filter(at__gte=doubt.good.first) if doubt.good else marks


def judged(doubt: Doubted, rows: Collection[WrenchMark]) -> list[InDoubt]:
    """Such marks, each with what has become of its fastener."""
    gone = _handed_back(rows)
    written = _written(rows, doubt.check.id)
    later = _later(rows)
    return [_in_doubt(doubt, row, gone, written, later) for row in rows]


# ---------------------------------------------------------------- rows


def keep_of_machine(shop: Shop, machine: UUID) -> None:
    """Keep the rows of a machine, after a mark of it or something about one was recorded."""
    lock_table(DoubtfulMark, "ROW EXCLUSIVE")
    marks = WrenchMark.objects.filter(machine=machine, stands=True).order_by()
    first = dict(marks.values_list("wrench").annotate(Min("on")))
    checks = WrenchEvent.objects.filter(shop=shop, wrench__in=list(first), taken_back_at=None)
    since = min(first.values(), default=None)
    checked = (
        set(checks.filter(on__gte=since - A_DAY).values_list("wrench", flat=True))
        if since
        else set()
    )
    wrenches = Wrench.objects.filter(pk__in=checked)
    wanted = [row for wrench in wrenches for row in _rows(shop, wrench, marks)]
    _replace(DoubtfulMark.objects.filter(machine=machine), wanted)


@transaction.atomic
def keep_of_wrench(wrench: Wrench) -> None:
    """Keep the rows of a wrench, after something happened to it or its figures were changed."""
    lock_table(DoubtfulMark, "SHARE ROW EXCLUSIVE")
    wanted = _rows(wrench.shop, wrench, WrenchMark.objects.filter(stands=True))
    _replace(DoubtfulMark.objects.filter(event__wrench=wrench), list(wanted))


def keep(instance: Wrench | WrenchEvent, **signal: Any) -> None:
    """Receiver: a wrench, or what happened to one, was written down, changed or deleted."""
    keep_of_wrench(instance.wrench if isinstance(instance, WrenchEvent) else instance)


def rebuild(shop: Shop) -> None:
    """Make the rows of a shop again."""
    for wrench in Wrench.objects.filter(shop=shop).select_related("shop"):
        keep_of_wrench(wrench)


def differing(shop: Shop) -> Iterator[str]:
    """In words, where the rows are not what follows."""
    for wrench in Wrench.objects.filter(shop=shop).select_related("shop"):
        wanted = {row.pk for row in _rows(shop, wrench, WrenchMark.objects.filter(stands=True))}
        here = set(DoubtfulMark.objects.filter(event__wrench=wrench).values_list("pk", flat=True))
        if wanted - here:
            yield f"{len(wanted - here)} missing of {wrench}"
        if here - wanted:
            yield f"{len(here - wanted)} of {wrench} that do not follow"


def _replace(standing: Any, wanted: Collection[DoubtfulMark]) -> None:
    here = set(standing.values_list("pk", flat=True))
    gone = here - {row.pk for row in wanted}
    if gone:
        standing.filter(pk__in=gone).delete()
    DoubtfulMark.objects.bulk_create([row for row in wanted if row.pk not in here], batch_size=500)


def _rows(shop: Shop, wrench: Wrench, among: Any) -> Iterator[DoubtfulMark]:
    """The rows that should stand for a wrench and some marks; a mark may be doubted by several checks."""
    events = sorted(events_of(shop, wrench), key=in_turn)
    for doubt in doubted(tool_of(wrench, events)):
        for one in judged(doubt, list(among & marks_of(wrench, doubt))):
            if one.advised:
                yield DoubtfulMark(
                    id=uuid5(UUID(doubt.check.id), str(one.mark.entry)),
                    shop=shop,
                    event_id=UUID(doubt.check.id),
                    machine_id=one.mark.machine_id,
                    entry=one.mark.entry,
                )


def events_of(shop: Shop, wrench: Wrench) -> list[WrenchEvent]:
    """What happened to a wrench and was not taken back."""
    events = list(WrenchEvent.objects.filter(wrench=wrench, taken_back_at=None))
    for event in events:
        event.shop = shop  # its zone is asked for
    return events


# ---------------------------------------------------------------- one mark


def _in_doubt(
    doubt: Doubted,
    row: WrenchMark,
    gone: Collection[UUID],
    written: Collection[str],
    later: dict[Fastener, list[WrenchMark]],
) -> InDoubt:
    true = true_torque(doubt.check, row.shown_nm)
    after = later.get((row.machine_id, row.fastener, row.place), [])
    again = next((one for one in after if one.at > row.at), None)
    return InDoubt(
        mark=row,
        likely_nm=true.likely_nm * row.got_nm / row.shown_nm,
        deviation=true.deviation,
        handed_back=row.visit_id in gone,
        written=str(row.entry) in written,
        unclear=doubt.reaches(row.at) == "unclear",
        again=again,
    )


def _handed_back(rows: Iterable[WrenchMark]) -> set[UUID]:
    visits = {row.visit_id for row in rows}
    gone = VisitSummary.objects.filter(visit__in=visits).exclude(handed_back_at=None)
    return set(gone.values_list("visit", flat=True))


def _written(rows: Iterable[WrenchMark], check: str) -> set[str]:
    """Entries that a doubt of this check names already, and that nobody has undone."""
    visits = {row.visit_id for row in rows}
    said = Entry.objects.filter(visit__in=visits, kind__in=["wrench_doubted", "corrected"])
    bodies = [(str(row.pk), row.kind, json.loads(row.body)) for row in said]
    undone = {body["entry"] for _, kind, body in bodies if kind == "corrected"}
    return {
        mark
        for key, kind, body in bodies
        if kind == "wrench_doubted" and body["check"] == check and key not in undone
        for mark in body["marks"]
    }


def _later(rows: Collection[WrenchMark]) -> dict[Fastener, list[WrenchMark]]:
    """Marks of the same machines from the first of these on, by fastener."""
    found: dict[Fastener, list[WrenchMark]] = defaultdict(list)
    if rows:
        machines = {row.machine_id for row in rows}
        since = min(row.at for row in rows)
        for row in WrenchMark.objects.filter(machine__in=machines, at__gte=since):
            found[row.machine_id, row.fastener, row.place].append(row)
    return found
