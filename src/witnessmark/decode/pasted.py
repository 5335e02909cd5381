"""What a person pastes from a reader: text, tables and hexadecimal answers, in any mix, line by line.

Nothing is dropped: what is no code is kept as note, heading or unread part, with its line and why.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from witnessmark.decode import frames, rows
from witnessmark.decode.errors import DecodeError, neat, plain, shown
from witnessmark.decode.responses import Response, read_response
from witnessmark.decode.trouble_code_tables import (
    CLEARED,
    OBD_LISTS,
    PENDING,
    PERMANENT,
    READ,
    READ_CLEARED,
    STORED,
)
from witnessmark.decode.trouble_codes import (
    Code,
    apart,
    closed,
    code_of,
    is_there,
    is_untested,
    why_no_code,
)

PLACE = "codes"
MOST_LETTERS = 100_000  # for the program
ANSWERS = frozenset({*OBD_LISTS, READ, CLEARED, READ_CLEARED, 0x7F})  # ISO 15031-5, ISO 14229-1
_MEMORY = {STORED: "stored", PENDING: "pending", PERMANENT: "permanent"}

_CODE = re.compile(
    r"(?<![0-9A-Z])(?P<code>[PCBU][0-3][0-9A-F]{3})(?:[-:/]?(?P<failure>[0-9A-F]{2}))?(?![0-9A-Z])"
)
_NEARLY = re.compile(r"(?<![0-9A-Z])[PCBU][0-9OQILS][0-9A-FOQILS]{1,7}(?![0-9A-Z])")
_STATUS = re.compile(r"(?:\bSTAT(?:US|E)?\b\W{0,3}|\[)(?:0X)?([0-9A-F]{2})\b")
_STATUS_WRITTEN = re.compile(_STATUS.pattern + r"\]?", re.IGNORECASE)
_NOTHING = re.compile(
    r"(?:(?:NO|ZERO|0) (?:(?:TROUBLE|FAULT|STORED|PENDING|ERROR) )*(?:CODES?|FAULTS?|DTCS?|ERRORS?)"
    r"(?: (?:FOUND|STORED|PRESENT))?|NONE)\W*"
)
_CLEAR_WORDS = re.compile(
    r"\b(?:CODES?|FAULTS?|MEMORY) (?:WERE |HAVE BEEN )?(?:CLEARED|ERASED|DELETED)\b"
)
_MEMORY_WORD = re.compile(r"\b(PENDING|PERMANENT|STORED|CONFIRMED)\b")

_BETWEEN = re.compile(
    r"(?:[\s,;:|/&+-]|\bAND\b)*"
)  # two codes with no more than this share what is said
_ONE_NUMBER = (
    "may be a blink code, or one byte of an answer: look a blink code up in the machine's manual; "
    "paste an answer whole, or write “codes were cleared”"
)


@dataclass(frozen=True)
class Seen:
    """One code as it was read: where, with which status, from which unit and memory, and what stood beside it."""

    code: Code
    line: int
    status: int | None = None
    unit: str = ""  # the heading or address it stood under
    memory: str = ""  # stored, pending, permanent; empty where nothing said so
    note: str = ""

    @property
    def there(self) -> bool:
        """Whether the code is there; one only listed or waiting for its test is not."""
        return self.status is None or is_there(self.status)

    @property
    def untested(self) -> bool:
        """Whether its test has not run to the end since the codes were cleared."""
        return self.status is not None and is_untested(self.status)


@dataclass(frozen=True)
class Unread:
    """A part that was not understood: its line, the part, why."""

    line: int
    text: str
    why: str


@dataclass(frozen=True)
class Pasted:
    """Everything a pasted text holds.

    ``nothing``: it says in words or bytes that there is no code. ``cleared``: that codes were cleared.
    """

    seen: tuple[Seen, ...] = ()
    unread: tuple[Unread, ...] = ()
    said: tuple[tuple[int, str], ...] = ()  # line, what an answer or a heading says
    nothing: bool = False
    cleared: bool = False
    joined: tuple[int, ...] = ()  # lines that are further frames of an answer begun before

    @property
    def codes(self) -> tuple[Code, ...]:
        """The codes that are there, each once, in order."""
        return tuple(dict.fromkeys(one.code for one in self.seen if one.there))

    @property
    def conclusive(self) -> bool:
        """Whether it tells what is there: at least one code, or that there is none."""
        return bool(self.seen) or self.nothing


@dataclass
class _Reading:
    seen: list[Seen] = field(default_factory=list)
    unread: list[Unread] = field(default_factory=list)
    said: list[tuple[int, str]] = field(default_factory=list)
    nothing: bool = False
    cleared: bool = False
    joined: list[int] = field(default_factory=list)
    unit: str = ""
    columns: dict[str, int] = field(default_factory=dict)


def read_pasted(text: str) -> Pasted:
    """Read what was pasted; never raises. A text too long to be one is unread as a whole."""
    if len(text) > MOST_LETTERS:
        why = f"longer than {MOST_LETTERS} letters: paste the list of codes alone"
        return Pasted(unread=(Unread(1, text[:80], why),))
    joined = (closed(neat(line)) for line in text.splitlines())
    lines = [(n, plain(line), line) for n, line in enumerate(joined, 1)]
    reading = _Reading()
    rest = iter([line for line in lines if line[1]])
    for number, line, written in _without_frames(rest, reading):
        _line(number, line, written, reading)
    nothing = reading.nothing and not any(one.there for one in reading.seen)
    return Pasted(
        tuple(sorted(reading.seen, key=lambda one: one.line)),
        tuple(sorted(reading.unread, key=lambda one: one.line)),
        tuple(sorted(reading.said)),
        nothing,
        reading.cleared,
        tuple(sorted(reading.joined)),
    )


HexLine = tuple[int, str, str]


def _line(number: int, line: str, written: str, reading: _Reading) -> None:
    if found := frames.hex_line(line):
        _hex(number, line, found, reading)
    elif rows.is_row(line) and _row(number, line, written, reading):
        return
    else:
        _words(number, line, written, reading)


# ---------------------------------------------------------------- frames of a network


def _without_frames(lines: Iterator[HexLine], reading: _Reading) -> Iterator[HexLine]:
    """Every other line; frames are put together on the way, each address for itself."""
    begun: dict[str, list[tuple[HexLine, bytes]]] = {}
    for line in lines:
        found = frames.hex_line(line[1])
        if found and found.data and frames.begins(found, ANSWERS):
            _end(begun.pop(found.head, []), found.head, reading)
            begun[found.head] = [(line, found.data)]
        elif found and found.data and found.head in begun and frames.goes_on(found, found.head):
            begun[found.head].append((line, found.data))
            reading.joined.append(line[0])
        else:
            yield line
    for head, parts in begun.items():
        _end(parts, head, reading)


def _end(parts: Sequence[tuple[HexLine, bytes]], head: str, reading: _Reading) -> None:
    if not parts:
        return
    (number, first, _), _ = parts[0]
    try:
        answer = read_response(frames.joined([data for _, data in parts], PLACE))
    except DecodeError as error:
        text = "; ".join(line for (_, line, _), _ in parts)
        reading.unread.append(Unread(number, text, f"{error.problem}; {error.expected}"))
    else:
        _keep(number, first, answer, unit=f"address {head}" if head else "", reading=reading)


# ---------------------------------------------------------------- hexadecimal lines


def _hex(number: int, line: str, found: frames.HexLine, reading: _Reading) -> None:
    numbers = _as_numbers(line)
    if numbers and not found.parted:
        _numbers(number, line, found, numbers, reading)
        return
    if len(found.data) == 1 and not found.head:
        reading.unread.append(Unread(number, line, _ONE_NUMBER))
        return
    try:
        answer = read_response(found.data)
    except DecodeError as error:
        reading.unread.append(Unread(number, line, f"{error.problem}; {error.expected}"))
        return
    unit = f"address {found.head}" if found.head else reading.unit
    _keep(number, line, answer, unit=unit, reading=reading)


def _numbers(
    number: int, line: str, found: frames.HexLine, numbers: list[Code], reading: _Reading
) -> None:
    """Codes as numbers, where 0x before each says so; else they may be anything, and are asked about."""
    code = ", ".join(one.written for one in numbers)
    if found.data[0] in ANSWERS and _fits(found.data):
        why = f"may be an answer, or the code {code}: write the answer byte by byte, or the code with its letter"
        reading.unread.append(Unread(number, line, why))
    elif all(token.startswith("0X") for token in _tokens(line)):
        reading.seen += [Seen(one, number, unit=reading.unit) for one in numbers]
    else:
        why = f"may be the code {code}, or any number: write the code with its letter, or 0x before it"
        reading.unread.append(Unread(number, line, why))


def _tokens(line: str) -> list[str]:
    return [token for token in re.split(r"[\s,;]+", line) if token]


def _as_numbers(line: str) -> list[Code]:
    """Codes written as numbers of four or six digits; none where anything else stands between."""
    codes = [_number(token) for token in _tokens(line)]
    return [code for code in codes if code] if all(codes) else []


def _number(token: str) -> Code | None:
    digits = token.removeprefix("0X")
    if not re.fullmatch(r"[0-9A-F]{4}|[0-9A-F]{6}", digits):
        return None
    return code_of(int(digits[:4], 16), int(digits[4:], 16) if len(digits) == 6 else None)


def _fits(data: bytes) -> bool:
    try:
        read_response(data)
    except DecodeError:
        return False
    return True


def _keep(number: int, line: str, answer: Response, *, unit: str, reading: _Reading) -> None:
    reading.said.append((number, answer.said))
    reading.cleared = reading.cleared or answer.kind == "cleared"
    memory = next((word for byte, word in _MEMORY.items() if OBD_LISTS[byte] == answer.said), "")
    reading.seen += [Seen(one.code, number, one.status, unit, memory) for one in answer.listed]
    reading.unread += [Unread(number, line, doubt) for doubt in answer.doubts]
    reading.nothing = reading.nothing or answer.lists_nothing


# ---------------------------------------------------------------- tables


def _row(number: int, line: str, written: str, reading: _Reading) -> bool:
    """A row of a table, or its headings; False where it is none, so that it is read as words."""
    columns = rows.columns_of(line)
    if columns:
        reading.columns = columns
        reading.said.append((number, f"a table: {', '.join(sorted(columns))}"))
        return True
    row = rows.row_of(line, written, reading.columns)
    if row is None:
        return False
    unit = row.unit or reading.unit
    reading.seen.append(Seen(row.code, number, row.status, unit, _memory(line), row.note))
    return True


# ---------------------------------------------------------------- words


def _words(number: int, line: str, written: str, reading: _Reading) -> None:
    found = list(_CODE.finditer(line))
    if found:
        reading.seen += _several(number, line, written, found, reading.unit)
    doubts = [
        (text, f"may be the code {text.replace(' ', '')}, or not: write a code without a blank")
        for text in apart(line)
    ]
    reading.unread += [Unread(number, text, why) for text, why in doubts]
    nearly = [m for m in _NEARLY.finditer(line) if _is_nearly(m.group())]
    reading.unread += [Unread(number, m.group(), why_no_code(m.group())) for m in nearly]
    if found or nearly or doubts:
        return
    if _CLEAR_WORDS.search(line):
        reading.cleared = True
        reading.said.append((number, "codes were cleared"))
    elif _NOTHING.fullmatch(line) or (reading.unit and line == "NONE"):
        reading.nothing = True
        reading.said.append((number, "no codes"))
    elif line.endswith(":") and len(line) <= 80:
        reading.unit = written.rstrip(": ")
        reading.said.append((number, f"heading: {reading.unit}"))
    else:
        reading.unread.append(Unread(number, written, f"no code in {shown(written)}"))


def _several(
    number: int, line: str, written: str, found: list[re.Match[str]], unit: str
) -> Iterator[Seen]:
    """The codes of a line, each with what is said after it; what is said before the first belongs to all.

    Codes that only a comma or a blank parts share what stands behind the last of them.
    """
    text = written if len(written) == len(line) else line  # capitals of some letters are longer
    before = text[: found[0].start()]
    ends = [*(match.start() for match in found[1:]), len(line)]
    after = ""
    told: list[Seen] = []
    for match, end in reversed(list(zip(found, ends, strict=True))):
        own = text[match.end() : end]
        after = after if _BETWEEN.fullmatch(own.upper()) and end < len(line) else own
        beside = f"{before} {after}"
        statuses = _STATUS.findall(after.upper()) or _STATUS.findall(before.upper())
        status = int(statuses[0], 16) if len(statuses) == 1 else None
        note = _beside(beside if status is None else _STATUS_WRITTEN.sub(" ", beside))
        failure = int(match["failure"], 16) if match["failure"] else None
        memory = _memory(after.upper()) or _memory(before.upper())
        told.append(Seen(Code(match["code"], failure), number, status, unit, memory, note))
    yield from reversed(told)


def _is_nearly(word: str) -> bool:
    """Whether a word was probably meant as a code; a common word has no two digits."""
    return not _CODE.fullmatch(word) and sum(sign.isdigit() for sign in word) >= 2


def _memory(line: str) -> str:
    words = {w.replace("CONFIRMED", "STORED") for w in _MEMORY_WORD.findall(line)}
    return words.pop().lower() if len(words) == 1 else ""


def _beside(text: str) -> str:
    """What is said beside a code, as it was written."""
    return " ".join(text.split()).strip(" -:,;.[]()")
