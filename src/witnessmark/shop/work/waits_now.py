"""The waits that run: unattended parts of steps that were begun and are not ended."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil

from django.utils import timezone
from django.utils.translation import gettext as _

from witnessmark.ledger import ids
from witnessmark.ledger.bodies import WaitBegun
from witnessmark.planner import lasting
from witnessmark.shop.models import OpenItemRow, Visit
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.visit import Work, read


@dataclass(frozen=True)
class Wait:
    """A wait that was begun and is not ended."""

    visit: Visit
    entry: str  # that began it
    step: str
    minutes: float
    began: datetime
    by: str  # the member who began it
    seconds_left: int  # by the clock of the store, whatever a tablet's says; 0: long enough
    waits_for: str

    @property
    def left(self) -> int:
        """Whole minutes still to wait; 0: long enough."""
        return ceil(self.seconds_left / 60)

    @property
    def over(self) -> datetime:
        """When it is long enough."""
        return self.began + timedelta(minutes=self.minutes)

    @property
    def words(self) -> str:
        """What the tap says. Example: ``Wait over: lever held under pressure, 15 min``."""
        said = _("Wait over: {what}, {minutes}")
        return said.format(what=self.waits_for, minutes=lasting(self.minutes))


def waits_of(work: Work) -> list[Wait]:
    """The waits of a visit that are not ended, the first to be over first."""
    now = timezone.now()
    begun = {
        entry.id: entry
        for one in work.state.steps.values()
        if one.status == "waiting"
        for entry in work.entries
        if entry.id == one.entries[-1]
    }
    found = []
    for entry in begun.values():
        said = entry.said
        if isinstance(said, WaitBegun) and said.step in work.steps:
            step = work.steps[said.step]
            over = entry.instant + timedelta(minutes=said.minutes)
            found.append(
                Wait(
                    visit=work.visit,
                    entry=entry.id,
                    step=said.step,
                    minutes=said.minutes,
                    began=entry.instant,
                    by=entry.author,
                    seconds_left=max(ceil((over - now).total_seconds()), 0),
                    waits_for=step.waits_for or step.text,
                )
            )
    return sorted(found, key=lambda wait: wait.over)


def running(desk: Desk, visit: Visit | None = None) -> list[Wait]:
    """The waits not ended of all machines in the shop, or of one visit; only these visits are read."""
    rows = desk.all(OpenItemRow).filter(
        item__startswith=ids.wait(""), visit__summary__handed_back_at=None
    )
    rows = rows.filter(visit=visit) if visit else rows
    visits = {r.visit_id: r.visit for r in rows.select_related("visit__machine", "visit__shop")}
    found = (wait for one in visits.values() for wait in waits_of(read(one)))
    return sorted(found, key=lambda wait: wait.over)
