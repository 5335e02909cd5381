"""An identification number in sentences: for the arrival, the machine's page and the calculators."""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.decode.errors import DecodeError
from witnessmark.decode.identification import (
    Identification,
    read_identification,
    slips,
)
from witnessmark.decode.identification_tables import CHECK_AT, YEAR_AT

MOST_SLIPS = 4  # told at once; for the program


@dataclass(frozen=True)
class Described:
    """A number in words: facts as name and text, and what to look at again."""

    facts: tuple[tuple[str, str], ...]
    warnings: tuple[str, ...]


def told(text: str, this_year: int) -> Described:
    """What a number says and what is odd about it; never raises, an empty text says nothing."""
    if not text.strip():
        return Described((), ())
    try:
        read = read_identification(text, this_year)
    except DecodeError as error:
        return Described((), (f"{_sentence(error.problem)} {_sentence(error.expected)}",))
    return Described(facts_of(read), warnings_of(read))


def facts_of(read: Identification) -> tuple[tuple[str, str], ...]:
    """Name and text of each thing the number says."""
    maker, description, indicator = read.parts
    few = ", a maker of few machines" if read.few_made else ""
    return (
        ("Parts", f"{maker} maker, {description} description, {indicator} this machine"),
        ("Maker registered in", f"{read.country or 'a country not in our table'}, {read.region}{few}"),
        ("Model year", year_words(read)),
        ("Check digit", check_words(read)),
    )  # fmt: skip


def year_words(read: Identification) -> str:
    """The model year with its doubt."""
    sign = read.number[YEAR_AT - 1]
    if read.market == "north america":
        if not read.years:
            return f"{sign} at position 10 is no model year"
        several = " or ".join(str(year) for year in read.years)
        if len(read.years) == 1:
            return several
        return f"{several}: the signs repeat after 30 years, and on motorcycles no other position tells which"
    if not read.years:
        return f"not told: {sign} at position 10 is no model year"
    several = " or ".join(str(year) for year in read.years)
    return f"{several}, if position 10 is a year at all: outside North America it need not be"


def check_words(read: Identification) -> str:
    """Whether position 9 fits, and what that is worth."""
    found = read.number[CHECK_AT - 1]
    if read.check_fits:
        return f"{found}, as computed: no single slip is likely"
    if read.market == "north america":
        return f"{found} stands there, {read.computed} is computed: typed wrongly, or not the frame's number"
    if read.market == "china":
        return f"{found} stands there, {read.computed} is computed: China's own rule asks for it (from memory)"
    return (
        f"{found} stands there, {read.computed} is computed: proves nothing outside North America"
    )


def warnings_of(read: Identification) -> tuple[str, ...]:
    """What to look at again; a mismatch only where the rule holds."""
    if read.check_fits or not read.check_expected:
        return ()
    found = read.number[CHECK_AT - 1]
    words = f"Position 9 is {found}; by the rest it would be {read.computed}. Read the number off the frame again."
    likely = slips(read.number)[:MOST_SLIPS]
    if not likely:
        return (words,)
    ways = "; ".join(f"{slip.words}: {slip.number}" for slip in likely)
    return (words, f"It would be right with {ways}. Only the frame tells.")


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') else '.'}" if text else ""
