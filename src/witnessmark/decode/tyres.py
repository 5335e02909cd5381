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
    SLOW,
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
    r"(?:(?P<open>\()|(?<![A-Z\d/.(-]))(?P<load>\d{2,3})(?P<second>/\d{2,3})? ?"
    r"(?P<inner>\(?)(?P<speed>A[1-8]?|[B-HJ-NP-WY])\)?(?![A-Z\d/]|-\d)"
)
_TIN = re.compile(r"\bDOT\b")
_GROUP = re.compile(r" ?(?P<sign>[A-Z0-9]{1,13})(?![A-Z0-9.]| ?[/-])(?P<mark>[◁◄△▲Δ<]?)")
_MOST_TIN = 13  # symbols of a new tyre's number (49 CFR 574.5), older ones have fewer
# E4 75R-000123, E 4 1234567; without its E where the line was broken. E4 behind DOT is a works code.
_RULE = r"\d{2,3} ?R ?[-–]? ?"  # 75R: approved under UN Regulation 75
_APPROVAL = re.compile(
    rf"(?<!DOT )\(?\bE ?\d{{1,2}}\)?(?![A-Z\d])(?: ?(?:{_RULE})?\d{{4,8}}(?![\d./]))?|\b{_RULE}\d{{5,8}}\b"
)
_APPROVED = "approved under a UN regulation, by the state of that number"
_PLIES = re.compile(r"\b\d{1,2} ?(?:PR\b|P\.R\.?|PLY(?: RATING)?\b)")
_PLIED = "ply rating: an older mark of its strength; what it bears is told by the load index"
_WORD = re.compile(r"(?<![A-Z])(?P<words>" + "|".join(
    re.escape(word) for word in sorted((*WORDS, *DIRECTION_WORDS), key=len, reverse=True)
) + r")(?![A-Z])")  # fmt: skip


@dataclass(frozen=True)
class Rating:
    """Load index and speed symbol. ``over``: in brackets, the speed is above the figure of its symbol."""

    load: int
    speed: str
    over: bool
    second: int | None = None  # of a twin tyre; none on a motorcycle

    @property
    def load_kg(self) -> float | None:
        """Mass one tyre may carry, None where the index is not in the table (20 to 100)."""
        return LOAD_KG.get(self.load)

    @property
    def words(self) -> str:
        """Example: 73 (365 kg), W (over 270 km/h)."""
        twin = "" if self.second is None else f", /{self.second} where two run side by side"
        return f"{self.load} ({self.load_words}){twin}, {speed_words(self.speed, over=self.over)}"

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
    marks, rest = _taken_out(rest)
    made, number, rest = _made(rest, today, unread)
    found = find_size(rest)
    if found:
        rest = f"{rest[: found.start]} ; {rest[found.end :]}"
    rating, rest = _rating(rest)
    words, directed, rest = _words(rest)
    words += marks + number
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
    if symbol == SLOW:
        return "one of A1 to A8, 5 to 40 km/h: look for its digit"
    if symbol == "Z" or over:
        return f"over {OVER_KMH.get(symbol) or SPEED_KMH[symbol]} km/h"
    return f"{SPEED_KMH[symbol]} km/h"


# ---------------------------------------------------------------- parts of a marking


Marks = tuple[tuple[str, str], ...]


def _taken_out(text: str) -> tuple[Marks, str]:
    """Approval marks and ply ratings, which look like other things, and the text without them."""
    found = []
    for form, means in ((_APPROVAL, _APPROVED), (_PLIES, _PLIED)):
        found += [(hit.group().strip(" ()"), means) for hit in form.finditer(text)]
        text = form.sub(" ; ", text)
    return tuple(found), text


def _made(
    text: str, today: date, unread: list[tuple[str, str]]
) -> tuple[MadeIn | None, Marks, str]:
    """The date code behind DOT, or standing alone; the rest of the number; the text without them."""
    found = _TIN.search(text)
    if found is None:
        alone = re.fullmatch(r"\d{3,4}[◁◄△▲Δ<]?", text)
        return (_dated(text, today, unread), (), "") if alone else (None, (), text)
    code, end, why = _tin(text, found.end())
    written = text[found.start() : end].strip()
    rest = f"{text[: found.start()]} ; {text[end:]}"
    if not code:
        unread.append((written, why))
        return None, (), rest
    before = written.removeprefix("DOT").removesuffix(code).strip()
    number = (
        ((before, "the works, its size and its maker's own signs, in the number"),)
        if before
        else ()
    )
    return _dated(code, today, unread), number, rest


_OTHER_SIDE = "no date behind it: the full number, ending in three or four digits, may stand on the other side"
_NOT_LAST = (
    "the date is the last four digits of the number, and more of it seems to follow: read it again"
)


def _tin(text: str, start: int) -> tuple[str, int, str]:
    """The date digits of the number that begins here, with a triangle behind them; where the number ends;
    why no date was found. The date is the last of it: a group with a digit behind it leaves that open.
    """  # fmt: skip
    groups, at, length = list[re.Match[str]](), start, 0
    while (found := _GROUP.match(text, at)) and not _WORD.fullmatch(found["sign"]):
        length += len(found["sign"])
        if length > _MOST_TIN or (groups and _other_mark(text, found.start("sign"))):
            break
        groups.append(found)
        at = found.end()
    dated = [n for n, group in enumerate(groups) if _date_of(groups, n)]
    if not dated:
        short = [group for group in groups if len(group["sign"]) <= 4]
        return "", short[-1].end() if short else start, _OTHER_SIDE
    last = groups[dated[-1]]
    if any(re.search(r"\d", group["sign"]) for group in groups[dated[-1] + 1 :]):
        return "", groups[-1].end(), _NOT_LAST
    return _date_of(groups, dated[-1]) + last["mark"], last.end(), ""


def _other_mark(text: str, at: int) -> bool:
    """Whether a load and speed, or a size, begins here."""
    size = find_size(text[at:])
    return bool(_SERVICE.match(text, at)) or (size is not None and size.start == 0)


def _date_of(groups: list[re.Match[str]], place: int) -> str:
    """The date that a group of the number is or ends in, empty where it can be none."""
    sign = groups[place]["sign"]
    found = re.search(r"(?:^|\D)(\d{3,4})$", sign) or re.search(r"(\d{4})$", sign)
    if found is None:
        return ""
    length = sum(len(group["sign"]) for group in groups[: place + 1])
    return found[1] if length > 4 or sign == found[1] else ""


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
    second = int(found["second"][1:]) if found["second"] else None
    rating = Rating(int(found["load"]), found["speed"], over, second)
    return rating, f"{text[: found.start()]} ; {text[found.end() :]}"


def _words(text: str) -> tuple[tuple[tuple[str, str], ...], bool, str]:
    words = dict[str, str]()
    directed = False
    for found in _WORD.finditer(text):
        word = found["words"]
        directed = directed or word in DIRECTION_WORDS
        if word in WORDS:
            words[word] = WORDS[word]
    return tuple(words.items()), directed, _WORD.sub(" ; ", text)


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
