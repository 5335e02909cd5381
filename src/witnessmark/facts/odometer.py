"""What the odometer read, and whether it can have read that."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from witnessmark.days import day
from witnessmark.errors import WitnessError
from witnessmark.units import BOUNDS, convert, show

MOST_KM_A_DAY = (
    1000.0  # further than anyone rides day after day; judged by us, common practice, no source
)


class FactError(WitnessError):
    """A fact that contradicts itself or what is known already."""


@dataclass(frozen=True, slots=True, order=True)
class Odometer:
    """A reading of the odometer: kilometres, the day, and the text as it was typed."""

    on: date
    km: float
    text: str = ""

    def __post_init__(self) -> None:
        """Raise FactError for a distance no machine has run."""
        if not (math.isfinite(self.km) and 0 <= self.km <= BOUNDS["distance"].high):
            raise FactError("odometer", f"{self.km} km cannot be", "read the odometer again")


def plausible_odometer(previous: Iterable[Odometer], new: Odometer) -> FactError | None:
    """What speaks against a new reading, given those before it (in any order), or None.

    It may not be lower than a reading of the same or an earlier day, nor higher than one of a
    later day, nor differ from its neighbours by more than `MOST_KM_A_DAY` a day (a day has passed
    at least). The error is returned, not raised: whoever stands before the machine decides.
    """
    others = sorted(previous)
    before = [other for other in others if other.on <= new.on]
    after = [other for other in others if other.on > new.on]
    highest = max(before, key=lambda other: (other.km, other.on), default=None)
    lowest = min(after, key=lambda other: (other.km, other.on), default=None)
    if highest and new.km < highest.km:
        return _lower(highest, new)
    if lowest and new.km > lowest.km:
        problem = f"{_km(new)} on {day(new.on)} is more than {_km(lowest)} read later, on {day(lowest.on)}"
        return FactError("odometer", problem, "read the odometer again, and look at the day")
    return (highest and _jump(highest, new)) or (lowest and _jump(new, lowest)) or None


def _lower(highest: Odometer, new: Odometer) -> FactError:
    problem = f"{_km(new)} is less than {_km(highest)} read on {day(highest.on)}"
    expected = "read the odometer again"
    as_miles = new.km * 1.609344  # the typed number, had it been miles
    if highest.km <= as_miles <= highest.km + MOST_KM_A_DAY * _days(highest, new):
        typed = f"{show(new.km, 'distance').rsplit(' ', 1)[0]} mi"
        expected += f"; if it counts miles, {typed} would be {show(as_miles, 'distance')}"
    return FactError("odometer", problem, expected)


def _jump(earlier: Odometer, later: Odometer) -> FactError | None:
    days, ridden = _days(earlier, later), later.km - earlier.km
    if ridden <= MOST_KM_A_DAY * days:
        return None
    span = "one day" if days == 1 else f"{days} days"
    distance = show(ridden, "distance")
    problem = f"from {_km(earlier)} on {day(earlier.on)} to {_km(later)} on {day(later.on)} is {distance} in {span}"
    expected = (
        f"nobody rides more than {show(MOST_KM_A_DAY, 'distance')} a day: read the odometer again"
    )
    as_km = convert(later.km, "distance", "mi")
    if earlier.km <= as_km <= earlier.km + MOST_KM_A_DAY * days:
        expected += f"; if it was typed in miles but counts kilometres, it would be {show(as_km, 'distance')}"
    return FactError("odometer", problem, expected)


def _days(earlier: Odometer, later: Odometer) -> int:
    return max(1, (later.on - earlier.on).days)


def _km(reading: Odometer) -> str:
    return show(reading.km, "distance")
