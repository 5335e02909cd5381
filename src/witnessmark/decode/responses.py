"""Answers of control units, byte by byte: which codes they list, and what could not be read.

ISO 14229-1 clause 11.3 (service 19), ISO 15031-5 / SAE J1979 (services 03, 07, 0A, 04).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from witnessmark.decode.errors import DecodeError
from witnessmark.decode.trouble_code_tables import (
    CLEARED,
    CODE_FORMATS,
    COUNTS,
    OBD_LISTS,
    READ,
    READ_CLEARED,
    REFUSALS,
    SEVERITY_LISTS,
    STATUS_LISTS,
)
from witnessmark.decode.trouble_codes import Code, code_of

PLACE = "answer"
_PADS = {0x00, 0x55, 0xAA, 0xCC, 0xFF}  # what buses fill a frame with; from memory
_REFUSAL = 0x7F  # ISO 14229-1
ResponseKind = Literal["list", "count", "record", "cleared", "refused"]


@dataclass(frozen=True)
class Listed:
    """A code in an answer; ``status`` None where the service tells none."""

    code: Code
    status: int | None = None


@dataclass(frozen=True)
class Response:
    """What one answer says: in words, its codes, how many it counts, what in it stays in doubt or unread."""

    kind: ResponseKind
    said: str
    listed: tuple[Listed, ...] = ()
    count: int | None = None
    doubts: tuple[str, ...] = ()

    @property
    def lists_nothing(self) -> bool:
        """Whether it says that there is no code."""
        return (self.kind == "list" and not self.listed) or self.count == 0


def read_response(data: bytes, *, place: str = PLACE) -> Response:
    """Read one whole answer, beginning with its service byte (59, 43, 47, 4A, 44, 54, 7F).

    Raises DecodeError for a request, for another service, and where the bytes do not fit its layout.
    """
    if not data:
        raise DecodeError(
            place, "no bytes", "give the answer from its first byte, such as 59 02 7F"
        )
    first = data[0]
    if first in OBD_LISTS:
        return _obd_list(data, place)
    if first == READ:
        return _read_answer(data, place)
    if first in (CLEARED, READ_CLEARED):
        if any(pad not in _PADS for pad in data[1:]):
            problem = f"{_hex(data)} is longer than the answer that codes were cleared"
            raise DecodeError(place, problem, "give one answer a line")
        return Response("cleared", "codes were cleared")
    if first == _REFUSAL:
        return _refusal(data, place)
    if first in (0x03, 0x04, 0x07, 0x0A, 0x14, 0x19):
        raise DecodeError(
            place, f"{_hex(data)} is a request, not an answer", "give what the unit answered"
        )
    raise DecodeError(
        place, f"{first:02X} is no answer that lists codes", "59 (service 19), 43, 47 or 4A"
    )


def _hex(data: bytes, most: int = 12) -> str:
    return data[:most].hex(" ").upper() + (" …" if len(data) > most else "")


def _refusal(data: bytes, place: str) -> Response:
    if len(data) < 3:
        raise DecodeError(place, f"{_hex(data)} is cut off", "a refusal has three bytes")
    reason = REFUSALS.get(data[2], f"reason {data[2]:02X}")
    return Response("refused", f"service {data[1]:02X} refused: {reason}")


# ---------------------------------------------------------------- services 03, 07, 0A


def _obd_list(data: bytes, place: str) -> Response:
    """With a count byte (networks by ISO 15765-4), or pairs alone (the older lines): the length tells.

    The older lines send three codes in each message, filled up with 0000, so six bytes. A list with a
    count has an odd number. Six bytes that would also be a filled frame with a count are in doubt.
    """
    said, rest = OBD_LISTS[data[0]], data[1:]
    counted = _counted(rest)
    if not rest:
        raise DecodeError(
            place, f"{_hex(data)} lists nothing and counts nothing", "give the whole answer"
        )
    if len(rest) % 2:
        if counted is None:
            problem = f"{_hex(data)} counts {rest[0]} codes and brings {(len(rest) - 1) // 2}"
            raise DecodeError(place, problem, "give the whole answer, every frame of it")
        return Response("list", said, counted, count=rest[0])
    pairs = _pairs(rest)
    doubts: tuple[str, ...] = ()
    if counted is not None and counted != pairs:
        other = ", ".join(one.code.written for one in counted) or "no codes"
        doubts = (f"read as pairs; if the first byte is a count, it is {other}",)
    return Response("list", said, pairs, doubts=doubts)


def _counted(rest: bytes) -> tuple[Listed, ...] | None:
    """The list where the first byte is its length and what follows it only fills the frame."""
    if not rest:
        return None
    end = 1 + 2 * rest[0]
    if len(rest) < end or any(pad not in _PADS for pad in rest[end:]):
        return None
    return _pairs(rest[1:end])


def _pairs(data: bytes) -> tuple[Listed, ...]:
    """Two bytes a code; 0000 only fills."""
    values = (int.from_bytes(data[i : i + 2], "big") for i in range(0, len(data), 2))
    return tuple(Listed(code_of(value)) for value in values if value)


# ---------------------------------------------------------------- service 19


def _read_answer(data: bytes, place: str) -> Response:
    if len(data) < 2:
        raise DecodeError(place, "59 alone is cut off", "the sub-function follows, such as 59 02")
    sub = data[1]
    if sub in STATUS_LISTS:
        return _status_list(data, place)
    if sub in COUNTS:
        return _count(data, place)
    if sub in (0x04, 0x06, 0x10):
        return _record(data, place)
    if sub == 0x03:
        return _fours(data[2:], "codes with a stored snapshot", place)
    if sub == 0x14:
        return _fours(data[2:], "codes that are counting up to a fault", place)
    if sub in SEVERITY_LISTS:
        return _severities(data, place)
    raise DecodeError(
        place, f"the layout of answer 59 {sub:02X} is not known here", "59 01 to 59 17 are read"
    )


def _three(data: bytes) -> Code:
    return code_of(data[0] << 8 | data[1], data[2])


def _chunks(data: bytes, size: int, place: str) -> list[bytes]:
    if len(data) % size:
        problem = (
            f"{_hex(data)} is {len(data)} bytes, not a multiple of {size}: cut off, or filled up"
        )
        raise DecodeError(place, problem, "give the answer without what fills its last frame")
    return [data[i : i + size] for i in range(0, len(data), size)]


def _status_list(data: bytes, place: str) -> Response:
    if len(data) < 3:
        raise DecodeError(place, f"{_hex(data)} is cut off", "the availability mask follows")
    body, doubts = _unfilled(data[3:], 4)
    listed = tuple(Listed(_three(c), c[3]) for c in _chunks(body, 4, place))
    return Response(
        "list", f"{STATUS_LISTS[data[1]]}; status bits in use {data[2]:02X}", listed, doubts=doubts
    )


def _unfilled(body: bytes, size: int) -> tuple[bytes, tuple[str, ...]]:
    """The body without what fills its last frame: a short tail of equal filling bytes, and a word on it."""
    tail = len(body) % size
    if tail and len(set(body[-tail:])) == 1 and body[-1] in _PADS:
        return body[:-tail], (
            f"{_hex(body[-tail:])} at the end taken as filling of the last frame",
        )
    return body, ()


def _count(data: bytes, place: str) -> Response:
    if len(data) != 6:
        raise DecodeError(
            place, f"{_hex(data)} has {len(data)} bytes", "an answer that counts has six"
        )
    count = int.from_bytes(data[4:6], "big")
    form = CODE_FORMATS.get(data[3], f"format {data[3]:02X}")
    return Response("count", f"{count} codes match; codes by {form}", count=count)


def _record(data: bytes, place: str) -> Response:
    if len(data) < 6:
        raise DecodeError(
            place, f"{_hex(data)} is cut off", "a code of three bytes and its status follow"
        )
    kind = "snapshot" if data[1] == 0x04 else "extended data"
    rest = data[6:]
    doubts = (
        (f"record {rest[0]:02X}: {_hex(rest[1:], 40)}, the maker's own layout",) if rest else ()
    )
    return Response(
        "record", f"{kind} of one code", (Listed(_three(data[2:5]), data[5]),), doubts=doubts
    )


def _fours(body: bytes, said: str, place: str) -> Response:
    listed = tuple(Listed(_three(chunk)) for chunk in _chunks(body, 4, place))
    return Response("list", said, tuple(dict.fromkeys(listed)))


def _severities(data: bytes, place: str) -> Response:
    if len(data) < 3:
        raise DecodeError(place, f"{_hex(data)} is cut off", "the availability mask follows")
    listed = tuple(Listed(_three(c[2:5]), c[5]) for c in _chunks(data[3:], 6, place))
    return Response("list", f"codes by severity; status bits in use {data[2]:02X}", listed)
