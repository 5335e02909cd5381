"""Which tool fits a head, by thread and kind of head. Sizes in mm; from memory, held against tables in the tests.

A head of another kind takes another size: the drive does not tell the thread, nor the thread the drive.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.errors import listed
from witnessmark.fasteners.errors import FastenerError
from witnessmark.fasteners.threads import Thread

# Width across flats by nominal diameter.
HEX_SOCKET: dict[str, dict[float, float]] = {
    "ISO 4762": {  # cylinder head
        1.6: 1.5, 2: 1.5, 2.5: 2, 3: 2.5, 4: 3, 5: 4, 6: 5, 8: 6, 10: 8, 12: 10, 14: 12, 16: 14, 20: 17,
        24: 19, 30: 22,
    },
    "ISO 7380-1": {3: 2, 4: 2.5, 5: 3, 6: 4, 8: 5, 10: 6, 12: 8, 16: 10},  # button head
    "ISO 10642": {3: 2, 4: 2.5, 5: 3, 6: 4, 8: 5, 10: 6, 12: 8, 14: 10, 16: 10, 20: 12},  # countersunk
}  # fmt: skip
HEX_HEAD: dict[str, dict[float, float]] = {
    "ISO 4014": {
        1.6: 3.2, 2: 4, 2.5: 5, 3: 5.5, 3.5: 6, 4: 7, 5: 8, 6: 10, 8: 13, 10: 16, 12: 18, 14: 21, 16: 24,
        18: 27, 20: 30, 22: 34, 24: 36, 27: 41, 30: 46, 33: 50, 36: 55, 39: 60, 42: 65, 45: 70, 48: 75,
        52: 80, 56: 85, 60: 90, 64: 95,
    },
    "DIN 931": {
        4: 7, 5: 8, 6: 10, 8: 13, 10: 17, 12: 19, 14: 22, 16: 24, 18: 27, 20: 30, 22: 32, 24: 36, 27: 41,
        30: 46,
    },
    "ISO 15071": {5: 7, 6: 8, 8: 10, 10: 13, 12: 15, 14: 18, 16: 21},  # with flange, small series
    "small hexagon": {5: 8, 6: 10, 8: 12, 10: 14, 12: 17},  # common with some makers; no standard named
}  # fmt: skip
HEAD_WORDS = {
    "ISO 4762": "cylinder head, hexagon socket",
    "ISO 7380-1": "button head, hexagon socket",
    "ISO 10642": "countersunk head, hexagon socket",
    "ISO 4014": "hexagon head",
    "DIN 931": "hexagon head, older standard",
    "ISO 15071": "hexagon head with flange, small",
    "small hexagon": "hexagon head, narrow",
    "ISO 14579": "cylinder head, star",
    "pan head": "pan head, star",
}
_SAME_AS = {
    "ISO 4017": "ISO 4014",
    "DIN 933": "DIN 931",
    "DIN 912": "ISO 4762",
    "DIN 7991": "ISO 10642",
    "ISO 15072": "ISO 15071",  # the same heads, fine threads
}

# ISO 10664: A, over the lobes, and B, across them (the newer figures).
STAR_MM: dict[str, tuple[float, float]] = {
    "T6": (1.75, 1.27), "T8": (2.4, 1.75), "T10": (2.8, 2.05), "T15": (3.35, 2.4), "T20": (3.95, 2.85),
    "T25": (4.5, 3.25), "T30": (5.6, 4.05), "T40": (6.75, 4.85), "T45": (7.93, 5.64), "T50": (8.95, 6.45),
    "T55": (11.35, 8.05), "T60": (13.45, 9.6), "T70": (15.7, 11.2), "T80": (17.75, 12.8),
    "T90": (20.2, 14.4), "T100": (22.4, 16.0),
}  # fmt: skip
STAR_FOR: dict[str, dict[float, str]] = {
    "ISO 14579": {
        2: "T6", 2.5: "T8", 3: "T10", 4: "T20", 5: "T25", 6: "T30", 8: "T45", 10: "T50", 12: "T55", 14: "T60",
        16: "T70", 18: "T80", 20: "T90",
    },
    "pan head": {2: "T6", 2.5: "T8", 3: "T10", 4: "T20", 5: "T25", 6: "T30", 8: "T40"},
}  # fmt: skip


@dataclass(frozen=True)
class Drive:
    """The tool for one kind of head: "13 mm", "5 mm key", "T30"."""

    head: str
    standard: str
    size: str


def across_flats_mm(standard: str, diameter_mm: float) -> float | None:
    """The width across flats; None where the standard has none for that diameter.

    Raises FastenerError for a kind of head that is not known.
    """
    standard = _SAME_AS.get(standard, standard)
    table = HEX_SOCKET.get(standard) or HEX_HEAD.get(standard)
    if table is None:
        known = listed([*HEX_SOCKET, *HEX_HEAD, *_SAME_AS])
        raise FastenerError(
            "head", f"“{standard}” is no kind of head known here", f"there are {known}"
        )
    return table.get(diameter_mm)


def across_corners_mm(flats_mm: float) -> float:
    """A hexagon of that width, over its sharp corners: 2·s/√3."""
    return 2 * flats_mm / math.sqrt(3)


def drives_of(thread: Thread) -> list[Drive]:
    """What the heads of that size take, kind by kind."""
    size, found = thread.diameter_mm, []
    for standard, widths in HEX_HEAD.items():
        if size in widths:
            found.append(Drive(HEAD_WORDS[standard], standard, f"{widths[size]:g} mm across flats"))
    for standard, widths in HEX_SOCKET.items():
        if size in widths:
            found.append(Drive(HEAD_WORDS[standard], standard, f"{widths[size]:g} mm key"))
    for standard, stars in STAR_FOR.items():
        if size in stars:
            found.append(Drive(HEAD_WORDS[standard], standard, stars[size]))
    return found
