"""What stands on the side of a tyre: size, load, speed, date, direction; what could not be read is shown."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from witnessmark.decode.errors import DecodeError, plain, shown
from witnessmark.decode.tyre_dates import MadeIn, read_date_code
from witnessmark.decode.tyre_sizes import TyreSize, find_size
from witnessmark.decode.tyre_tables import (
    DIRECTION_WORDS,
    LOAD_KG,
    OVER_KMH,
    SPEED_KMH,
    TREAD_LIMITS,
    WORDS,
    TreadLimit,
)
from witnessmark.facts import Limit, judge

SOURCE = "UN Regulation 75, ISO 5751, ISO 4000-1 (load and speed); 49 CFR 574.5 (date)"
PLACE = "tyre marking"
_MOST = 400  # letters; for the program

_SERVICE = re.compile(
    r"(?:(?P<open>\()|(?<![A-Z\d/.(]))(?P<load>\d{2,3})(?:/\d{2,3})? ?"
    r"(?P<inner>\(?)(?P<speed>[B-HJ-NP-WY])\)?(?![A-Z\d/])"
)
_TIN = re.compile(r"\bDOT\b")
_GROUP = re.compile(r" ?(?P<sign>[A-Z0-9]{1,13})(?P<mark>[◁◄△▲Δ<]?)")
_MOST_TIN = 13  # symbols of a new tyre's number (49 CFR 574.5), older ones have fewer
_APPROVAL = re.compile(r"\(?\bE ?(?P<country>\d{1,2})\)? ?(?P<number>(?:75R?-?)?\d{5,8})?\b")
_WORD = re.compile(r"(?<![A-Z])(?P<words>" + "|".join(
    re.escape(word) for word in sorted((*WORDS, *DIRECTION_WORDS), key=len, reverse=True)
) + r")(?![A-Z])")  # fmt: skip


@dataclass(frozen=True)
class Rating:
    """Load index and speed symbol. ``over``: in brackets, the speed is above the figure of its symbol."""

    load: int
    speed: str
    over: bool

    @property
    def load_kg(self) -> float | None:
        """Mass one tyre may carry, None where the index is not in the table (20 to 100)."""
        return LOAD_KG.get(self.load)

    @property
    def words(self) -> str:
        """Example: 73 (365 kg), W (over 270 km/h)."""
        return f"{self.load} ({self.load_words}), {speed_words(self.speed, over=self.over)}"

    @property
    def load_words(self) -> str:
        """What the load index stands for. Example: 365 kg."""
        return f"{self.load_kg:g} kg" if self.load_kg else "not in our table"


@dataclass(frozen=True)
class Marking:
    """What a marking says; ``unread`` holds each part that was not understood, and why."""

    written: str
    size: TyreSize | None
    rating: Rating | None
    made: MadeIn | None
    directed: bool
    words: tuple[tuple[str, str], ...]
    unread: tuple[tuple[str, str], ...]

    @property
    def words_of_speed(self) -> str:
        """The speed it is made for: by its symbol, else by the letters in the size; empty where neither stands."""
        if self.rating:
            return speed_words(self.rating.speed, over=self.rating.over)
        return speed_words(self.size.speed) if self.size and self.size.speed else ""


def read_marking(text: str, today: date, *, place: str = PLACE) -> Marking:
    """Read a marking, or some of it, in any order. Raises DecodeError where nothing in it is understood."""
    written = plain(text)
    if not written or len(written) > _MOST:
        raise DecodeError(
            place,
            "nothing is written" if not written else "too long",
            "such as 120/70 ZR 17 M/C (58W) DOT 2319",
        )
    rest, unread = written, list[tuple[str, str]]()
    made, rest = _made(rest, today, unread)
    found = find_size(rest)
    if found:
        rest = f"{rest[: found.start]} ; {rest[found.end :]}"
    rating, rest = _rating(rest)
    words, directed, rest = _words(rest)
    unread += [(part, "not understood") for part in _parts(rest)]
    if not (
        found
        or rating
        or made
        or words
        or directed
        or any(w != "not understood" for _, w in unread)
    ):
        raise DecodeError(
            place,
            f"{shown(text)} is no tyre marking we can read",
            "such as 120/70 ZR 17 M/C (58W) DOT 2319",
        )
    return Marking(
        text, found.size if found else None, rating, made, directed, words, tuple(unread)
    )


def speed_words(symbol: str, *, over: bool = False) -> str:
    """A speed symbol in words. Example: H (210 km/h); W (over 270 km/h)."""
    return f"{symbol} ({speed_kmh(symbol, over=over)})"


def speed_kmh(symbol: str, *, over: bool = False) -> str:
    """What a speed symbol stands for. Example: 210 km/h; over 270 km/h."""
    if symbol == "Z" or over:
        return f"over {OVER_KMH.get(symbol) or SPEED_KMH[symbol]} km/h"
    return f"{SPEED_KMH[symbol]} km/h"


# ---------------------------------------------------------------- parts of a marking


def _made(text: str, today: date, unread: list[tuple[str, str]]) -> tuple[MadeIn | None, str]:
    """The date code behind DOT, or standing alone."""
    found = _TIN.search(text)
    if found is None:
        alone = re.fullmatch(r"\d{3,4}[◁◄△▲Δ<]?", text)
        return (_dated(text, today, unread), "") if alone else (None, text)
    code, end = _tin(text, found.end())
    rest = f"{text[: found.start()]} ; {text[end:]}"
    if not code:
        why = "no date behind it: the full number, ending in three or four digits, may stand on the other side"
        unread.append((text[found.start() : end], why))
        return None, rest
    return _dated(code, today, unread), rest


def _tin(text: str, start: int) -> tuple[str, int]:
    """The date digits of the number that begins here, with a triangle behind them, and where the number ends.

    It ends with the first group that is, or ends in, the date; without one it takes groups of up to four signs.
    """
    at, length, without = start, 0, start
    while found := _GROUP.match(text, at):
        length += len(found["sign"])
        if length > _MOST_TIN:
            break
        date_code = re.search(r"(?:^|\D)(\d{3,4})$", found["sign"]) or re.search(
            r"(\d{4})$", found["sign"]
        )
        if date_code and (length > 4 or found["sign"] == date_code[1]):
            return date_code[1] + found["mark"], found.end()
        at = found.end()
        without = at if len(found["sign"]) <= 4 else without
    return "", without


def _dated(code: str, today: date, unread: list[tuple[str, str]]) -> MadeIn | None:
    try:
        return read_date_code(code, today)
    except DecodeError as error:
        unread.append((code, error.problem))
        return None


def _rating(text: str) -> tuple[Rating | None, str]:
    found = _SERVICE.search(text)
    if found is None:
        return None, text
    over = bool(found["open"] or found["inner"])
    rating = Rating(int(found["load"]), found["speed"], over)
    return rating, f"{text[: found.start()]} ; {text[found.end() :]}"


def _words(text: str) -> tuple[tuple[tuple[str, str], ...], bool, str]:
    words = dict[str, str]()
    directed = False
    for found in _WORD.finditer(text):
        word = found["words"]
        directed = directed or word in DIRECTION_WORDS
        if word in WORDS:
            words[word] = WORDS[word]
    rest = _WORD.sub(" ; ", text)
    for found in _APPROVAL.finditer(rest):
        words[found.group().strip(" ()")] = (
            "approved under a UN regulation, by the state of that number"
        )
    return tuple(words.items()), directed, _APPROVAL.sub(" ; ", rest)


def _parts(text: str) -> Iterator[str]:
    for part in re.split(r"[;,]| {2,}", text):
        stripped = part.strip(" ()-–./")
        if stripped:
            yield stripped


# ---------------------------------------------------------------- tread


def tread_limit(key: str, *, place: str = "country") -> TreadLimit:
    """The legal least depth of one place and class. Raises DecodeError with those we have."""
    for limit in TREAD_LIMITS:
        if limit.key == plain(key).lower():
            return limit
    named = ", ".join(limit.key for limit in TREAD_LIMITS)
    raise DecodeError(
        place,
        f"no limit of {shown(key)} is kept here",
        f"one of {named}; else ask the law of the place",
    )


def tread_words(depth_mm: float, limit: TreadLimit, resolution_mm: float = 0.0) -> str:
    """A depth against a limit: `facts.judge` in words, the law as its source."""
    low = Limit(limit.depth_mm, f"{limit.place}, {limit.applies_to}: {limit.source}")
    return judge(depth_mm, "length", low=low, resolution=resolution_mm, unit="mm").words
