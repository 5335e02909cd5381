"""When the machine is likely to be here again, and what its odometer will then read."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from statistics import median

from witnessmark.facts import Odometer, Riding
from witnessmark.units import System, show

A_YEAR = 365  # days; by definition
LEAST_GAP = 60  # days; visits closer together are one job in two parts (judged by us)
LONGEST_GAP = (
    3 * A_YEAR
)  # three years; who stayed away longer is not expected to do so again (judged by us)


@dataclass(frozen=True, slots=True)
class NextVisit:
    """The next likely visit: the day, the odometer then (None where riding is not known), and why."""

    on: date
    km: float | None
    why: str = ""


def next_likely_visit(
    riding: Riding,
    odometer: Odometer | None,
    today: date,
    visits: Iterable[date] = (),
    *,
    system: System = "metric",
) -> NextVisit:
    """In a year, or after the usual gap between past visits (today's included) if there are two or more.

    Usual is the median of the gaps of `LEAST_GAP` days or more, at most `LONGEST_GAP`. The
    odometer then is today's and what is usually ridden in that time.
    """
    days, why = _gap(today, visits)
    on = today + timedelta(days=days)
    ridden = riding.km_in(days)
    if odometer is None or ridden is None:
        return NextVisit(on, None, f"{why}; how much it is ridden is not known")
    km = odometer.km + max(0.0, ridden)
    return NextVisit(on, km, f"{why}, then at about {show(round(km, -2), 'distance', system)}")


def _gap(today: date, visits: Iterable[date]) -> tuple[int, str]:
    days = sorted({day for day in visits if day <= today} | {today})
    gaps = [(later - earlier).days for earlier, later in pairwise(_apart(days))]
    if len(gaps) < 2:
        return A_YEAR, "in a year"
    usual = min(LONGEST_GAP, round(median(gaps)))
    return usual, f"in {usual} days, the usual time between visits"


def _apart(days: list[date]) -> list[date]:
    """The visits, those within `LEAST_GAP` of the one before taken as one."""
    kept = days[:1]
    for day in days[1:]:
        if (day - kept[-1]).days >= LEAST_GAP:
            kept.append(day)
    return kept
