"""Battery markings that an open standard explains.

Starter batteries: the European type number of EN 50342-1 (formerly EN 60095-1), nine digits; coin cells of key fobs:
IEC 60086. The usual designations of motorcycle batteries belong to their makers; no open standard for them was found.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from witnessmark.decode.errors import DecodeError, plain, shown

SOURCE = "EN 50342-1 type number (secondary); IEC 60086-1 and -2 coin cells (from memory)"
PLACE = "battery"
_CELLS = {
    "CR": "lithium, 3 V",
    "BR": "lithium, 3 V",
    "LR": "alkaline, 1.5 V",
    "SR": "silver oxide, 1.55 V",
}
_NONE = "the code is its maker's own; no open standard explains it"


@dataclass(frozen=True)
class Battery:
    """What a marking says, name and text."""

    written: str
    facts: tuple[tuple[str, str], ...]


def read_battery(text: str, *, place: str = PLACE) -> Battery:
    """Read 560 049 054 or CR2032. Raises DecodeError for a marking no open standard explains."""
    written = plain(text).replace(" ", "").replace(".", "").replace("-", "")
    if re.fullmatch(r"[0-7]\d{8}", written):
        return Battery(text, _starter(written))
    cell = re.fullmatch(r"(CR|BR|LR|SR)(\d{2})(\d{2})", written)
    if cell:
        kind, across, high = cell.groups()
        facts = (
            ("Cell", _CELLS[kind]),
            ("Diameter", f"{int(across)} mm"),
            ("Height", f"{int(high) / 10:g} mm"),
        )
        return Battery(text, facts)
    raise DecodeError(
        place,
        f"{shown(text)}: {_NONE}",
        "go by voltage, capacity, size and pole of the machine's manual",
    )


def _starter(digits: str) -> tuple[tuple[str, str], ...]:
    """Voltage and capacity, the maker's serial, cold start current."""
    head = int(digits[:3])
    volts, capacity = ("6 V", head) if head < 500 else ("12 V", head - 500)
    return (
        ("Voltage", volts),
        ("Capacity", f"{capacity} Ah at 20 hours"),
        ("Serial", f"{digits[3:6]}: features, no longer registered since 2006"),
        ("Cold start current", f"{int(digits[6:]) * 10} A"),
    )
