"""What the machine of a visit needs now: what is due, and what its owner declined before."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from witnessmark.due import Due, NextVisit, next_likely_visit, what_is_due
from witnessmark.facts import LastDone, Odometer, Riding, riding
from witnessmark.shop.work.arrival_look import at_the_door, look_of
from witnessmark.shop.work.machine_history import (
    last_done,
    odometer_history,
    readings_taken,
    visit_days,
)
from witnessmark.shop.work.visit import Work
from witnessmark.units import System


@dataclass(frozen=True)
class Declined:
    """A line the owner said no to on an earlier visit, and has not had done since."""

    line: str
    words: str
    on: date


@dataclass(frozen=True)
class Needs:
    """How every job of the book stands, due ones first, and what that rests on."""

    due: tuple[Due, ...]
    odometer: Odometer | None
    riding: Riding
    next_visit: NextVisit
    declined: Mapping[str, Declined]  # by line: a job, or the id of a line written free

    @property
    def proposed(self) -> tuple[str, ...]:
        """The jobs to take on before anybody decided: those that are due."""
        return tuple(one.job for one in self.due if one.state == "due")


def needs_of(work: Work, system: System = "metric") -> Needs:
    """Work out what is due from the visit's odometer and what is known of each job."""
    machine, today = work.machine, timezone.localdate()
    known = last_done(machine)
    odometer = _odometer(work, today)
    ridden = riding([*odometer_history(machine), *_on_record(known)])
    following = next_likely_visit(ridden, odometer, today, visit_days(machine), system=system)
    due = what_is_due(
        work.book,
        odometer,
        today,
        known,
        following,
        readings=readings_taken(machine),
        found=at_the_door(look_of(work)),
        system=system,
    )
    return Needs(tuple(due), odometer, ridden, following, _declined(work, known))


def _odometer(work: Work, today: date) -> Odometer | None:
    km = work.state.odometer_km
    return None if km is None else Odometer(today, km)


def _on_record(known: Mapping[str, LastDone]) -> list[Odometer]:
    """A record of work with day and distance says what the odometer read."""
    return [
        Odometer(done.on, done.km, done.source)
        for done in known.values()
        if done.known == "record" and done.on is not None and done.km is not None
    ]


def _declined(work: Work, known: Mapping[str, LastDone]) -> dict[str, Declined]:
    """Lines declined on other visits, each by its newest no; what was done since is over."""
    rows = work.machine.declined.exclude(visit=work.visit)
    newest = {row.line: Declined(row.line, row.words, row.on) for row in rows.order_by("on", "pk")}
    return {line: one for line, one in newest.items() if not _done_since(known.get(line), one.on)}


def _done_since(done: LastDone | None, on: date) -> bool:
    return done is not None and done.on is not None and done.on >= on
