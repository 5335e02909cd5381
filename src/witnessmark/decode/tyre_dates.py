"""The date a tyre was made, and its age. 49 CFR 574.5 (64 FR 36807 of 8 July 1999: four digits since July 2000)."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, timedelta

from witnessmark.decode.errors import DecodeError, plain, shown

SOURCE = "49 CFR 574.5; week 1 is the first full week of the year"
PLACE = "date code"
_NINETIES = (
    "◁◄△▲Δ<"  # a small triangle after three digits: the nineties (common practice, no source)
)
_FIRST_YEAR = 1971  # tyres carry the code since then (from memory)
_LAST_OF_THREE = 1999  # three digits until then (from memory)
_MOST_WEEK = 53  # ISO 8601
LOOK_YEARS, REPLACE_YEARS = 5, 10  # common practice, no source


@dataclass(frozen=True)
class MadeIn:
    """Week and year a tyre was made; ``years`` newest first: several where the decade is not coded."""

    written: str
    week: int
    years: tuple[int, ...]

    @property
    def year(self) -> int:
        """The newest year it can be."""
        return self.years[0]

    @property
    def words(self) -> str:
        """Example: week 23 of 2019."""
        if len(self.years) == 1:
            return f"week {self.week} of {self.year}"
        several = " or ".join(str(year) for year in self.years)
        return f"week {self.week} of {several}: three digits do not tell the decade"


def read_date_code(text: str, today: date, *, place: str = PLACE) -> MadeIn:
    """The date code alone: 2319 is week 23 of 2019; 317 is week 31 of 1997, 1987 or 1977.

    Raises DecodeError for a week that is none, and for a date that is yet to come.
    """
    written = plain(text).replace(" ", "")
    found = re.fullmatch(
        rf"(?P<week>[0-9]{{2}})(?P<year>[0-9]{{1,2}})(?P<mark>[{_NINETIES}]?)", written
    )
    if found is None:
        raise DecodeError(
            place,
            f"{shown(text)} is no date code",
            "the last three or four digits after DOT, such as 2319",
        )
    week = int(found["week"])
    if not 1 <= week <= _MOST_WEEK:
        raise DecodeError(
            place, f"{written} would be week {week}", "the first two digits are a week, 01 to 53"
        )
    if len(found["year"]) == 2:
        return MadeIn(written, week, (_century(written, week, int(found["year"]), today, place),))
    digit = int(found["year"])
    years = tuple(range(_LAST_OF_THREE - 9 + digit, _FIRST_YEAR - 1, -10))
    return MadeIn(written, week, years[:1] if found["mark"] else years)


def _century(written: str, week: int, two: int, today: date, place: str) -> int:
    year = 2000 + two
    if made_on(week, year) > today + timedelta(days=7):
        old = (
            f"; a tyre of 19{two:02} carries three digits, {week:02}{two % 10}" if two >= 90 else ""
        )
        raise DecodeError(
            place, f"{written} is week {week} of {year}, yet to come{old}", "read it again"
        )
    return year


def made_on(week: int, year: int) -> date:
    """The Sunday its week began; week 1 is the first full week, Sunday to Saturday (days from memory)."""
    first = date(year, 1, 1)
    sunday = first + timedelta(days=(6 - first.weekday()) % 7)
    return sunday + timedelta(weeks=week - 1)


def age_years(made: MadeIn, today: date) -> float:
    """The least age in years: from the newest year it can be. Good to a week."""
    return max(0.0, (today - made_on(made.week, made.year)).days / 365.2425)


def age_words(made: MadeIn, today: date) -> str:
    """The age and what it asks for: no law read here sets an age; the rest is common practice."""
    years = age_years(made, today)
    least = "at least " if len(made.years) > 1 else ""
    whole, months = divmod(int(years * 12), 12)
    said = f"{least}{_counted(whole, 'year')} {_counted(months, 'month')} old"
    if years >= REPLACE_YEARS:
        return (
            f"{said}: replaced at {REPLACE_YEARS} years at the latest (common practice, no source)"
        )
    if years >= LOOK_YEARS:
        return f"{said}: from {LOOK_YEARS} years on looked at closely for cracks (common practice, no source)"
    return said


def _counted(number: int, name: str) -> str:
    return f"{number} {name}" if number == 1 else f"{number} {name}s"
