"""Trouble codes: their text, their bytes, their failure type, their status in words.

SAE J2012 / ISO 15031-6; ISO 14229-1 Annex D.2 for the status.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from witnessmark.decode.errors import DecodeError, plain, shown
from witnessmark.decode.trouble_code_tables import (
    FAILURE_GROUPS,
    FAILURES,
    LETTERS,
    NETWORK,
    NOT_TESTED,
    POWERTRAIN,
    STATUS_BITS,
    SYSTEMS,
    THERE,
)

SOURCE = "SAE J2012 / ISO 15031-6 (codes, failure types); ISO 14229-1 Annex D.2 (status bits)"
PLACE = "trouble code"

_CODE = re.compile(r"(?P<code>[PCBU][0-3][0-9A-F]{3})(?:[-:/ ]?(?P<failure>[0-9A-F]{2}))?")
_APART = re.compile(r"(?<![0-9A-Z])([PCBU])([ -])([0-3][0-9A-F]{3})(?![0-9A-Z])", re.IGNORECASE)
_BEGINS = re.compile(
    r"(?:^|[,;:|/(\[]|\band|\b[PCBU][0-3][0-9A-F]{3}(?:[-:/]?[0-9A-F]{2})?)\s*$", re.IGNORECASE
)
_RIGHT = "a letter P, C, B or U, a digit 0 to 3, three hexadecimal digits, perhaps a failure type: P0301, C0123-16"


@dataclass(frozen=True, order=True)
class Code:
    """One trouble code: ``text`` such as P0805, ``failure`` the third byte, None where none was given."""

    text: str
    failure: int | None = None

    @property
    def written(self) -> str:
        """The whole code as it is written. Example: P0805-11."""
        return self.text if self.failure is None else f"{self.text}-{self.failure:02X}"

    @property
    def value(self) -> int:
        """The two bytes."""
        letter, digit = LETTERS.index(self.text[0]), int(self.text[1])
        return letter << 14 | digit << 12 | int(self.text[2:], 16)  # noqa: FURB166 - no prefix to remove: 0 may begin it

    @property
    def words(self) -> str:
        """What the structure says, and no more. Example: powertrain, standard code, ignition or misfire."""
        parts = [SYSTEMS[self.text[0]], _origin(self.text), _group(self.text)]
        if self.failure is not None:
            parts.append(failure_words(self.failure))
        return ", ".join(part for part in parts if part)


def code_of(value: int, failure: int | None = None) -> Code:
    """The code of two bytes, and of a third where there is one. Example: 0x4123 is C0123.

    Raises DecodeError for numbers that are no bytes.
    """
    if not 0 <= value <= 0xFFFF or not (failure is None or 0 <= failure <= 0xFF):
        raise DecodeError(PLACE, f"{value} is not two bytes", "0 to FFFF hexadecimal")
    text = f"{LETTERS[value >> 14]}{value >> 12 & 3}{value & 0xFFF:03X}"
    return Code(text, failure)


def read_code(text: str, *, place: str = PLACE) -> Code:
    """One code as written: P0301, p0805-11, C0123:16. Raises DecodeError with what was probably meant."""
    written = plain(closed(text.strip()))
    found = _CODE.fullmatch(written)
    if found is None:
        raise DecodeError(place, why_no_code(written), _RIGHT)
    failure = found["failure"]
    return Code(found["code"], int(failure, 16) if failure else None)


def closed(text: str) -> str:
    """The text with ``P-0301`` and ``P 0301`` as P0301; with a blank only where a code may begin.

    Inside a sentence "B 1000" may be anything: it stays, and `apart` finds it.
    """
    whole = ""
    at = 0
    for found in _APART.finditer(text):
        whole += text[at : found.start()]
        joined = found[2] == "-" or _BEGINS.search(whole) is not None
        whole += found[1] + found[3] if joined else found.group()
        at = found.end()
    return whole + text[at:]


def apart(text: str) -> list[str]:
    """What may be a code with a blank after its letter, as it stands in a text that went through `closed`."""
    return [found.group() for found in _APART.finditer(text)]


def why_no_code(written: str) -> str:
    """What is wrong with a text that is no code, in words."""
    meant = _meant(written)
    if meant:
        return f"{shown(written)} has a letter where a digit belongs, probably meant: {meant}"
    if re.fullmatch(r"[PCBU][4-9A-F][0-9A-F]{3}", written):
        return f"{shown(written)} cannot be: the first digit of a code is 0 to 3"
    if re.fullmatch(r"[PCBU][0-3][0-9A-F]*", written):
        return f"{shown(written)} has {len(written) - 1} signs after its letter, not 4 or 6"
    return f"{shown(written)} is no trouble code"


def _meant(written: str) -> str:
    """The code with O and Q as 0, I and L as 1 where that makes one."""
    tail = written[1:].translate(str.maketrans("OQILS", "00115"))
    meant = written[:1] + tail
    return meant if meant != written and _CODE.fullmatch(meant) else ""


def _origin(text: str) -> str:
    """Whose code it is (SAE J2012; the third groups from memory)."""
    letter, digit, third = text[0], text[1], text[2]
    if digit == "0" or (letter == "P" and digit == "2"):
        return "standard code"
    if letter == "P" and digit == "3":
        return "the maker's own code" if third < "4" else "standard code"
    if digit == "3":
        return "kept by the standard"
    return "the maker's own code"


def _group(text: str) -> str:
    if text[0] == "P" and text[1] in "02":
        return POWERTRAIN.get(text[1:3], "")
    if text[0] == "U" and text[1] == "0":
        return NETWORK.get(text[1:3], "")
    return ""


def failure_words(failure: int) -> str:
    """A failure type byte in words; the group where the subtype has none, or what is reserved."""
    if failure in FAILURES:
        return FAILURES[failure]
    group = FAILURE_GROUPS.get(failure >> 4)
    if failure >> 4 == 0xF:
        return f"failure type {failure:02X}: the maker's own"
    return f"failure type {failure:02X}: reserved" + (f", {group} group" if group else "")


# ---------------------------------------------------------------- status


def status_bits(status: int) -> tuple[str, ...]:
    """The names of the bits set, lowest first, as ISO 14229-1 writes them."""
    return tuple(name for i, (name, _) in enumerate(STATUS_BITS) if status >> i & 1)


def status_words(status: int) -> str:
    """A status byte in words. Example: 0x09 is "failing at its last test; confirmed and stored"."""
    words = [text for i, (_, text) in enumerate(STATUS_BITS) if status >> i & 1]
    return "; ".join(words) if words else "listed, nothing set: not there now"


def is_there(status: int) -> bool:
    """Whether a code with this status is there; one only listed or not yet tested is not."""
    return bool(status & THERE)


def is_untested(status: int) -> bool:
    """Whether its test has not run to the end since the codes were cleared: its absence proves nothing yet."""
    return bool(status & NOT_TESTED)
