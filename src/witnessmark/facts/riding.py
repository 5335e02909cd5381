"""How much a machine is ridden, from its odometer readings."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from witnessmark.days import day
from witnessmark.facts.odometer import Odometer
from witnessmark.units import show

LEAST_DAYS = 30  # from less, nothing is said (judged by us)
WHOLE_YEAR = (
    365  # riding has seasons: a year is taken where the readings reach that far (judged by us)
)


@dataclass(frozen=True, slots=True)
class Riding:
    """Kilometres a day, None where not known, with the two readings it comes from, in words."""

    km_per_day: float | None
    since: Odometer | None = None
    until: Odometer | None = None
    why: str = "how much it is ridden is not known"

    def km_in(self, days: int) -> float | None:
        """Kilometres ridden in so many days, None where not known."""
        return None if self.km_per_day is None else self.km_per_day * days


def riding(history: Iterable[Odometer], *, new_on: date | None = None) -> Riding:
    """Estimate riding from the newest reading back to the newest one at least a year older.

    Where the readings do not reach that far, from the oldest, if that is `LEAST_DAYS` before or
    more. ``new_on``: the day the machine was first on the road, taken as 0 km. Readings that go
    down (an exchanged or misread instrument) end the stretch that is used.
    """
    readings = sorted([*history, *([Odometer(new_on, 0.0, "new")] if new_on else [])])
    stretch = _unbroken(readings)
    if len(stretch) < 2:
        return Riding(None)
    until = stretch[-1]
    year_ago = until.on - timedelta(days=WHOLE_YEAR)
    since = next((reading for reading in reversed(stretch) if reading.on <= year_ago), stretch[0])
    days = (until.on - since.on).days
    if days < LEAST_DAYS:
        return Riding(None)
    ridden = until.km - since.km
    part = "" if days >= WHOLE_YEAR else ", less than a year: the season counts"
    why = f"{show(ridden, 'distance')} in {days} days ({day(since.on)} to {day(until.on)}{part})"
    return Riding(ridden / days, since, until, why)


def _unbroken(readings: list[Odometer]) -> list[Odometer]:
    """The newest run of readings that never goes down."""
    start = 0
    for place in range(1, len(readings)):
        if readings[place].km < readings[place - 1].km:
            start = place
    return readings[start:]
