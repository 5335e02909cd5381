"""Hexadecimal text: bytes of one answer, put together from the frames of a network where they were pasted so.

ISO 15765-2: single frame 0L, first frame 1L LL, consecutive frames 2N.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.decode.errors import DecodeError

_TOKEN = re.compile(r"(?:0X)?([0-9A-F]+)")
_HEADS = (3, 8)  # hexadecimal digits of an address on the network, 11 and 29 bits (ISO 11898-1)
_MOST_FRAME = 8  # bytes, ISO 11898-1


@dataclass(frozen=True)
class HexLine:
    """One line of hexadecimal digits: the address before it, empty where none stands, and its bytes."""

    head: str
    data: bytes
    parted: bool  # written byte by byte, so that it cannot be codes written as numbers


def hex_line(line: str) -> HexLine | None:
    """The line as bytes; None where it holds anything else."""
    tokens = [_TOKEN.fullmatch(token) for token in re.split(r"[\s,;:]+", line.strip()) if token]
    if not tokens or any(token is None for token in tokens):
        return None
    digits = [token[1] for token in tokens if token]
    head = ""
    if len(digits) > 1 and len(digits[0]) in _HEADS and all(len(d) == 2 for d in digits[1:]):
        head, digits = digits[0], digits[1:]
    if any(len(d) % 2 for d in digits):
        return None
    return HexLine(head, bytes.fromhex("".join(digits)), parted=all(len(d) == 2 for d in digits))


def joined(frames: Sequence[bytes], place: str) -> bytes:
    """The answer that frames of one address carry, in the order pasted.

    Raises DecodeError where a frame is missing, out of turn, or the length does not fit.
    """
    first = frames[0]
    kind = first[0] >> 4
    if kind == 0 and len(frames) == 1 and 0 < first[0] <= len(first) - 1:
        return first[1 : 1 + first[0]]
    if kind != 1 or len(first) < 2:
        raise DecodeError(
            place, f"{first.hex(' ').upper()} begins no answer", "give its first frame, too"
        )
    length = (first[0] & 0xF) << 8 | first[1]
    data = first[2:]
    for n, frame in enumerate(frames[1:], 1):
        if frame[0] != 0x20 | n % 16:
            problem = f"frame {frame[0]:02X} comes where {0x20 | n % 16:02X} should"
            raise DecodeError(place, problem, "give every frame, in order")
        data += frame[1:]
    if len(data) < length:
        problem = f"{len(data)} of {length} bytes are here"
        raise DecodeError(place, problem, "give every frame of the answer")
    return data[:length]


def begins(line: HexLine, answers: frozenset[int]) -> bool:
    """Whether the line is the frame an answer begins with: its length says so, and a known answer follows it."""
    data = line.data
    if len(data) > _MOST_FRAME or not (line.head or len(data) == _MOST_FRAME):
        return False
    if data[0] >> 4 == 1:
        return len(data) > 2 and data[2] in answers
    return 0 < data[0] < len(data) and data[1] in answers


def goes_on(line: HexLine, head: str) -> bool:
    """Whether the line is a further frame of the answer that this address began."""
    return line.head == head and len(line.data) <= _MOST_FRAME and line.data[0] >> 4 == 2
