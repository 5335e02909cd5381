"""What is known of a machine's past: odometer, when each job was last done, and how that is known."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import cast

from django.utils.translation import gettext as _

from witnessmark.facts import LastDone, Odometer, ReadingTaken
from witnessmark.shop.models import (
    LastDoneKnown,
    LastDoneRow,
    Machine,
    ReadingRow,
    Visit,
    VisitSummary,
)
from witnessmark.units import Quantity


def odometer_history(machine: Machine, but: Visit | None = None) -> list[Odometer]:
    """What the odometer read on each visit, oldest first; `but`: a visit to leave out."""
    rows = VisitSummary.objects.filter(machine=machine).exclude(odometer_km=None)
    if but is not None:
        rows = rows.exclude(visit=but)
    return sorted(
        Odometer(row.arrived_on, row.odometer_km)
        for row in rows
        if row.arrived_on is not None and row.odometer_km is not None
    )


def visit_days(machine: Machine, but: Visit | None = None) -> list[date]:
    """The days on which it came in, oldest first."""
    rows = VisitSummary.objects.filter(machine=machine).exclude(arrived_on=None)
    if but is not None:
        rows = rows.exclude(visit=but)
    return sorted(row.arrived_on for row in rows if row.arrived_on is not None)


def last_done(machine: Machine) -> dict[str, LastDone]:
    """By job: the later of what our own ledger has and what records or the owner's word say.

    Of what was told about a job, the newest told counts. A job of which nothing is known is left out.
    """
    found = {one.job: one for one in _told(machine)}
    for ours in _done_here(machine):
        told = found.get(ours.job)
        if told is None or not _later(told, ours):
            found[ours.job] = ours
    return found


def _told(machine: Machine) -> Iterator[LastDone]:
    seen = set()
    for row in LastDoneKnown.objects.filter(machine=machine).order_by("-told_at", "-pk"):
        if row.job not in seen:
            seen.add(row.job)
            yield LastDone(row.job, row.known, row.km, row.on, row.source)  # type: ignore[arg-type]


def _done_here(machine: Machine) -> Iterator[LastDone]:
    rows = LastDoneRow.objects.filter(machine=machine).select_related("visit")
    newest: dict[str, LastDoneRow] = {}
    for row in rows.order_by("on", "visit__number"):
        newest[row.job] = row
    for row in newest.values():
        source = _("our own record, visit {number}").format(number=row.visit.number)
        yield LastDone(row.job, "record", row.km, row.on, source)


def readings_taken(machine: Machine) -> list[ReadingTaken]:
    """Every value read on the machine, on this visit and before, oldest first."""
    return [
        ReadingTaken(
            row.reading, row.value, cast("Quantity", row.quantity), row.on, row.km, row.words
        )
        for row in ReadingRow.objects.filter(machine=machine).order_by("on", "visit__number", "pk")
    ]


def _later(told: LastDone, ours: LastDone) -> bool:
    if told.known == "never":
        return False
    if told.on is not None and ours.on is not None:
        return told.on > ours.on
    return told.km is not None and ours.km is not None and told.km > ours.km
