"""The identification number of a machine: check digit, region and country, model year, and what was mistyped.

ISO 3779 and ISO 3780; 49 CFR part 565 for the North American market.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from witnessmark.decode.errors import DecodeError, plain, shown
from witnessmark.decode.identification_tables import (
    ALIKE,
    CHECK_AT,
    COUNTRIES,
    CYCLE_YEARS,
    FIRST_YEAR,
    LENGTH,
    LESS_MISTAKEN,
    MISTAKEN,
    MOVED,
    NEVER,
    ORDER,
    REGIONS,
    VALUES,
    WEIGHTS,
    YEAR_AT,
    YEAR_SIGNS,
)

SOURCE = "ISO 3779, ISO 3780; 49 CFR 565.13 and 565.15 (check digit, model year)"
PLACE = "identification number"
Market = Literal["north america", "china", "elsewhere"]

_BETWEEN = re.compile(r"[\s\-*._·]+")  # blanks and the signs that frames and papers set between
_MOST = 60  # letters; for the program


@dataclass(frozen=True)
class Slip:
    """One mistake that, put right, would make the check digit right."""

    number: str
    words: str  # "positions 13 and 14 the other way round", "8 in place of B at position 5"


@dataclass(frozen=True)
class Identification:
    """What an identification number of 17 usable characters says.

    ``years``: the model years that position 10 can mean, oldest first; empty where it means none.
    ``market``: whose rule for the check digit the first character points to.
    """

    written: str
    number: str
    region: str
    country: str  # empty: none is assigned that we know of
    few_made: bool  # a maker of few machines: positions 12 to 14 belong to its identifier
    computed: str
    market: Market
    years: tuple[int, ...]

    @property
    def check_fits(self) -> bool:
        """Whether position 9 is the check digit of the rest."""
        return self.number[CHECK_AT - 1] == self.computed

    @property
    def check_expected(self) -> bool:
        """Whether a mismatch tells anything."""
        return self.market != "elsewhere"

    @property
    def parts(self) -> tuple[str, str, str]:
        """Maker's identifier, description, indicator (ISO 3779: 3, 6 and 8 characters)."""
        return self.number[:3], self.number[3:9], self.number[9:]


def read_identification(text: str, this_year: int, *, place: str = PLACE) -> Identification:
    """Read an identification number as typed; blanks, hyphens and asterisks between are let pass.

    Raises DecodeError, with what was probably meant, for a letter that never occurs, a wrong
    length, another sign.
    """
    number = _usable(text, place)
    return Identification(
        written=text,
        number=number,
        region=_region(number[:2]),
        country=_country(number[:2]),
        few_made=number[2] == "9",
        computed=check_digit(number),
        market=_market(number),
        years=model_years(number[YEAR_AT - 1], this_year),
    )


def check_digit(number: str) -> str:
    """The check digit of 17 characters: products with the weights, summed, modulo 11; 10 is X.

    Raises DecodeError for characters that have no value.
    """
    if len(number) != LENGTH or any(sign not in VALUES for sign in number):
        raise DecodeError(PLACE, f"{shown(number)} has no check digit", "give 17 usable characters")
    return "0123456789X"[weighted_sum(number) % 11]


def weighted_sum(number: str) -> int:
    """Sum of value times weight over 17 usable characters."""
    return sum(VALUES[sign] * weight for sign, weight in zip(number, WEIGHTS, strict=True))


def model_years(sign: str, this_year: int) -> tuple[int, ...]:
    """The model years one sign of position 10 can mean, up to next year's. Example: T in 2026 is 1996 and 2026."""
    place = YEAR_SIGNS.find(sign) if len(sign) == 1 else -1
    if place < 0:
        return ()
    return tuple(range(FIRST_YEAR + place, this_year + 2, CYCLE_YEARS))


def slips(number: str) -> tuple[Slip, ...]:
    """The single mistakes that would explain a wrong check digit, the likelier first.

    Look-alikes mistaken, neighbours swapped; `MISTAKEN` says what is alike.
    """
    likely = (*_mistaken(number, MISTAKEN), *_swapped(number), *_mistaken(number, LESS_MISTAKEN))
    return tuple(slip for slip in likely if check_digit(slip.number) == slip.number[CHECK_AT - 1])


def _swapped(number: str) -> Iterator[Slip]:
    for i in range(LENGTH - 1):
        if number[i] != number[i + 1]:
            swapped = number[:i] + number[i + 1] + number[i] + number[i + 2 :]
            yield Slip(swapped, f"positions {i + 1} and {i + 2} the other way round")


def _mistaken(number: str, pairs: tuple[str, ...]) -> Iterator[Slip]:
    for i, sign in enumerate(number):
        for pair in pairs:
            if sign in pair:
                meant = pair.replace(sign, "", 1)
                words = f"{meant} in place of {sign} at position {i + 1}"
                yield Slip(number[:i] + meant + number[i + 1 :], words)


# ---------------------------------------------------------------- what was typed


def _usable(text: str, place: str) -> str:
    number = _BETWEEN.sub("", plain(text))
    if not number:
        raise DecodeError(place, "nothing is written", "read it off the frame: 17 characters")
    meant = number.translate(ALIKE)
    other = [i for i, sign in enumerate(number) if sign not in VALUES and sign not in NEVER]
    if other and meant != number:
        at = next(i for i in other if meant[i] != number[i])
        problem = f"position {at + 1} looks like {meant[at]} but is a letter of another alphabet"
        raise DecodeError(place, problem, f"type it with Latin letters: {shown(_corrected(meant))}")
    if other:
        problem = (
            f"{shown(number[other[0]])} at position {other[0] + 1} does not occur in such a number"
        )
        raise DecodeError(place, problem, "only digits and capital letters without I, O and Q")
    if len(number) != LENGTH:
        raise DecodeError(place, *_length(number))
    bad = [i for i, sign in enumerate(number) if sign in NEVER]
    if bad:
        signs = ", ".join(f"{number[i]} at position {i + 1}" for i in bad)
        problem = f"{signs}: the letters I, O and Q are never used"
        raise DecodeError(place, problem, f"probably meant: {_corrected(number)}")
    return number


def _corrected(number: str) -> str:
    return "".join(NEVER.get(sign, sign) for sign in number)


def _length(number: str) -> tuple[str, str]:
    count = len(number)
    cut = number if count <= _MOST else number[: _MOST - 1] + "…"
    off = f"{LENGTH - count} missing" if count < LENGTH else f"{count - LENGTH} too many"
    expected = (
        "look at the frame again; older machines (before about 1981) carry shorter frame numbers"
    )
    return f"{cut} has {count} characters, not {LENGTH} ({off})", expected


# ---------------------------------------------------------------- where from


def _region(two: str) -> str:
    return MOVED.get(_country(two)) or next(name for signs, name in REGIONS if two[0] in signs)


def _country(two: str) -> str:
    if two[1] not in ORDER:
        return ""
    at = ORDER.index(two[1])
    for span, name in COUNTRIES:
        low, high = span.split("-")
        if two[0] == low[0] and ORDER.index(low[1]) <= at <= ORDER.index(high[1]):
            return name
    return ""


def _market(number: str) -> Market:
    if number[0] in "12345" or _country(number[:2]) == "United States":
        return "north america"
    return "china" if _country(number[:2]) == "China" else "elsewhere"
