"""Codes that a lamp blinks: long and short flashes as a technician writes them down, and the number they make.

A long flash counts ten and a short one counts one (common practice, no source); where groups of like flashes make the
digits, that is to be said. What a number means, the machine's manual alone tells.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from witnessmark.decode.errors import DecodeError, neat, shown

SOURCE = "a long flash counts ten, a short one counts one: common practice, no source; the machine's manual decides"
PLACE = "flashes"
Counting = Literal["long is ten", "groups are digits"]
MOST = 9  # of one kind in a row; judged by us: more is miscounted, or no code of two digits
EXPECTED = "write it as 2 long 3 short, as - - . or as LLSSS, a / for a longer pause"

_LONG, _SHORT, _PAUSE = "L", "S", "/"
_COUNT = "count again; a / parts what a pause parts"
_NUMBERS = {"no": 0, "zero": 0} | {
    name: n
    for n, name in enumerate(("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"), 1)
}  # fmt: skip
_KINDS = {"long": _LONG, "longs": _LONG, "l": _LONG, "short": _SHORT, "shorts": _SHORT, "s": _SHORT,
          "pause": _PAUSE, "gap": _PAUSE, "/": _PAUSE, "|": _PAUSE}  # fmt: skip
_KINDS |= dict.fromkeys(
    (",", ";", "+", "and", "then", "flash", "flashes", "blink", "blinks"), ""
)  # parts nothing
_OF = ("×",)
_BARE = ("flash", "flashes", "blink", "blinks", "times")  # behind a number: flashes of one kind
_TIMES = re.compile(r"(\d|[a-z](?= times)) ?(?:[x×]|times(?= long| short)) ?")
_SIGNS = dict.fromkeys("-–—_−", _LONG) | dict.fromkeys(".·•", _SHORT)
_LETTERS = {"L": _LONG, "S": _SHORT}
_WORD = re.compile(r"\d+|[a-z]+|\S")


@dataclass(frozen=True)
class Group:
    """Like flashes in a row."""

    long: bool
    count: int

    @property
    def words(self) -> str:
        """Example: ``2 long``."""
        return f"{self.count} {'long' if self.long else 'short'}"


@dataclass(frozen=True)
class Blinked:
    """One pattern and its number. ``groups`` in the order in which they were seen."""

    written: str
    groups: tuple[Group, ...]
    number: int

    @property
    def words(self) -> str:
        """Example: ``2 long, 3 short``."""
        return ", ".join(group.words for group in self.groups)


def read_blinks(text: str, counting: Counting | None = None, *, place: str = PLACE) -> Blinked:
    """The number of one pattern. Raises DecodeError for what is none, or may be read in two ways."""
    flashes = _flashes(text, place)
    if not flashes or _PAUSE in (flashes[0], flashes[-1]) or "//" in flashes:
        raise DecodeError(place, f"{shown(text)} has a pause with no flash beside it", EXPECTED)
    groups = [
        Group(run[0] == _LONG, len(run)) for part in flashes.split(_PAUSE) for run in _runs(part)
    ]
    for group in groups:
        if group.count > MOST:
            problem = f"{shown(text)}: {group.words} in a row"
            raise DecodeError(place, problem, _COUNT)
    return Blinked(text, tuple(groups), _number(text, groups, counting, place))


def _runs(part: str) -> list[str]:
    return [found.group() for found in re.finditer(r"L+|S+", part)]


def _number(text: str, groups: list[Group], counting: Counting | None, place: str) -> int:
    kinds = [group.long for group in groups]
    if counting == "groups are digits":
        return int("".join(str(group.count) for group in groups))
    if kinds == [True, False]:
        return 10 * groups[0].count + groups[1].count
    if kinds == [False] or (kinds == [True] and counting):
        return groups[0].count * (10 if kinds[0] else 1)
    if kinds == [True]:
        problem = f"{shown(text)} has no short flash: {10 * groups[0].count}, or {groups[0].count}"
        raise DecodeError(
            place, problem, "say how it is counted: long is ten, or groups are digits"
        )
    if len(set(kinds)) == 1 and counting is None:
        problem = f"{shown(text)} has {len(groups)} groups of the same flash"
        raise DecodeError(
            place, problem, "say how it is counted: groups are digits; or write one code a line"
        )
    problem = f"{shown(text)} is {', '.join(group.words for group in groups)}: more than one code"
    raise DecodeError(place, problem, "write one code a line, its long flashes first")  # fmt: skip


def _flashes(text: str, place: str) -> str:
    """The flashes as L and S, pauses as /."""
    if "…" in text:
        raise DecodeError(
            place, f"{shown(text)} has three dots in one sign", "write each flash: . . ."
        )
    plain = neat(text)
    if plain and all(sign in _SIGNS or sign in " /|," for sign in plain):
        return _signs(plain, text, place, _SIGNS)
    if plain and all(sign.upper() in _LETTERS or sign in " /|," for sign in plain):
        return _signs(plain.upper(), text, place, _LETTERS)
    return _worded(plain.casefold(), text, place)


def _signs(plain: str, text: str, place: str, of: dict[str, str]) -> str:
    """Sign by sign. Blanks part single flashes, or a kind from the other; two clumps of one kind are asked about."""
    clumps = re.split(r"[ ,]+", plain.replace("|", "/").replace("/", " / ").strip(" ,"))
    read = ["".join(of.get(sign, sign) for sign in clump) for clump in clumps]
    for one, two in pairwise(read):
        if one[-1] == two[0] != _PAUSE and max(len(one), len(two)) > 1:
            problem = f"{shown(text)}: is there a pause between “{one}” and “{two}”?"
            raise DecodeError(
                place, problem, "write a / where there is one, no blank where there is none"
            )
    return "".join(read)  # fmt: skip


def _worded(plain: str, text: str, place: str) -> str:
    """``2 long 3 short``, ``long long short``, ``2L 3S``, ``two long, pause, three short``."""
    flashes, count, ways = "", None, set[int]()
    for word in _WORD.findall(_TIMES.sub(r"\1 × ", plain)):
        kind = _SHORT if word in _BARE and count is not None else _KINDS.get(word)
        if (word.isdecimal() or word in _NUMBERS) and count is None:
            count = int(word[:4]) if word.isdecimal() else _NUMBERS[word]
        elif kind in (_LONG, _SHORT):
            ways.add(0 if word in _BARE else min(len(word), 2))
            if (count or 0) > MOST:
                raise DecodeError(place, f"{shown(text)}: {count} in a row", _COUNT)
            flashes += kind * (1 if count is None else count)
            count = None
        elif word in _OF and count is not None:
            continue
        elif kind is None or count is not None:
            problem = f"“{word}” is no flash" if count is None else f"{count} of what?"
            raise DecodeError(place, f"{shown(text)}: {problem}", EXPECTED)
        else:
            flashes += kind
    if count is not None:
        raise DecodeError(place, f"{shown(text)}: {count} of what?", EXPECTED)
    if len(ways) > 1 or not flashes:
        problem = "long and short are written in two ways" if ways else "there is no flash in it"
        raise DecodeError(place, f"{shown(text)}: {problem}", EXPECTED)
    return flashes
