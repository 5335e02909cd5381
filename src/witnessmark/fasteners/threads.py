"""ISO metric threads: which there are, their basic sizes, their stress area.

Basic profile ISO 68-1, diameters and pitches ISO 261 (Table 2), basic sizes ISO 724, stress area
ISO 898-1:2013 clause 9.1.6.1. The table of ISO 261 is from memory, held against a general table of
threads in the tests.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from witnessmark.fasteners.errors import FastenerError

# Diameter: coarse pitch (None: there is none), then the fine ones. ISO 261 Table 2, 1 to 64 mm.
PITCHES_MM: dict[float, tuple[float | None, tuple[float, ...]]] = {
    1.0: (0.25, (0.2,)),
    1.2: (0.25, (0.2,)),
    1.4: (0.3, (0.2,)),
    1.6: (0.35, (0.2,)),
    1.8: (0.35, (0.2,)),
    2.0: (0.4, (0.25,)),
    2.2: (0.45, (0.25,)),
    2.5: (0.45, (0.35,)),
    3.0: (0.5, (0.35,)),
    3.5: (0.6, (0.35,)),
    4.0: (0.7, (0.5,)),
    4.5: (0.75, (0.5,)),
    5.0: (0.8, (0.5,)),
    5.5: (None, (0.5,)),
    6.0: (1.0, (0.75,)),
    7.0: (1.0, (0.75,)),
    8.0: (1.25, (1.0, 0.75)),
    9.0: (1.25, (1.0, 0.75)),
    10.0: (1.5, (1.25, 1.0, 0.75)),
    11.0: (1.5, (1.0, 0.75)),
    12.0: (1.75, (1.5, 1.25, 1.0)),
    14.0: (2.0, (1.5, 1.25, 1.0)),
    15.0: (None, (1.5, 1.0)),
    16.0: (2.0, (1.5, 1.0)),
    17.0: (None, (1.5, 1.0)),
    18.0: (2.5, (2.0, 1.5, 1.0)),
    20.0: (2.5, (2.0, 1.5, 1.0)),
    22.0: (2.5, (2.0, 1.5, 1.0)),
    24.0: (3.0, (2.0, 1.5, 1.0)),
    25.0: (None, (2.0, 1.5, 1.0)),
    26.0: (None, (1.5,)),
    27.0: (3.0, (2.0, 1.5, 1.0)),
    28.0: (None, (2.0, 1.5, 1.0)),
    30.0: (3.5, (3.0, 2.0, 1.5, 1.0)),
    32.0: (None, (2.0, 1.5)),
    33.0: (3.5, (3.0, 2.0, 1.5)),
    35.0: (None, (1.5,)),
    36.0: (4.0, (3.0, 2.0, 1.5)),
    38.0: (None, (1.5,)),
    39.0: (4.0, (3.0, 2.0, 1.5)),
    40.0: (None, (3.0, 2.0, 1.5)),
    42.0: (4.5, (4.0, 3.0, 2.0, 1.5)),
    45.0: (4.5, (4.0, 3.0, 2.0, 1.5)),
    48.0: (5.0, (4.0, 3.0, 2.0, 1.5)),
    50.0: (None, (3.0, 2.0, 1.5)),
    52.0: (5.0, (4.0, 3.0, 2.0, 1.5)),
    55.0: (None, (4.0, 3.0, 2.0, 1.5)),
    56.0: (5.5, (4.0, 3.0, 2.0, 1.5)),
    58.0: (None, (4.0, 3.0, 2.0, 1.5)),
    60.0: (5.5, (4.0, 3.0, 2.0, 1.5)),
    62.0: (None, (4.0, 3.0, 2.0, 1.5)),
    64.0: (6.0, (4.0, 3.0, 2.0, 1.5)),
}

_METRIC = re.compile(
    r"M\s*(?P<d>\d{1,2}(?:[.,]\d{1,2})?)"
    r"(?:\s*[x×*]\s*(?P<p>\d{1,2}(?:[.,]\d{1,3})?))?"
    r"(?:\s*-\s*[3-9][GHegh](?:[3-9][GHegh])?)?"  # a tolerance class says nothing about strength
    r"(?P<left>\s*-?\s*LH)?",
    re.IGNORECASE,
)
_AT_HEAD = re.compile(r"M?\s*(?P<size>\d{1,2}(?:[.,]\d)?)(?![\d.,])", re.IGNORECASE | re.ASCII)
_PITCH = re.compile(
    r"\s*[x×*\s-]\s*([0-9](?:[.,]\d{1,3}|\d{0,3}))(?![\d.,])", re.IGNORECASE | re.ASCII
)
_CLASS = re.compile(
    r"\s*-?\s*(?:[4-6][.,][68]|[89][.,]8|1[02][.,]9|[AC][1-5]-\d\d)\s*", re.IGNORECASE | re.ASCII
)
_INCH = re.compile(
    r"UN|BS[WFPC]|BA\b|NPT|\bPT\b|^\s*[GR][pc]?\s*\d|[\"″]|^\s*#|\d\s*/\s*\d", re.IGNORECASE
)
_TRAPEZOIDAL = re.compile(r"\s*Tr\s*\d", re.IGNORECASE)
_EXAMPLE = "write for instance M8 (coarse) or M10x1.25 (fine)"
_ASCII = re.compile(r"[\x20-\x7e×,″]*")
MOST_LETTERS = 40  # for the program


@dataclass(frozen=True)
class Thread:
    """An ISO metric thread: nominal diameter and pitch in mm."""

    diameter_mm: float
    pitch_mm: float
    left_hand: bool = False

    @property
    def name(self) -> str:
        """As ISO 965-1 writes it: M8 for the coarse pitch, M8x1 for a fine one, -LH for a left hand."""
        pitch = "" if self.coarse else f"x{self.pitch_mm:g}"
        return f"M{self.diameter_mm:g}{pitch}{'-LH' if self.left_hand else ''}"

    @property
    def coarse(self) -> bool:
        """Whether it has the pitch that is left unsaid."""
        return PITCHES_MM.get(self.diameter_mm, (None, ()))[0] == self.pitch_mm

    @property
    def height_mm(self) -> float:
        """H of the fundamental triangle: P·√3/2 (ISO 68-1)."""
        return self.pitch_mm * math.sqrt(3) / 2

    @property
    def pitch_diameter_mm(self) -> float:
        """d2 = D2 = d − 3/4·H (ISO 724)."""
        return self.diameter_mm - 0.75 * self.height_mm

    @property
    def minor_diameter_mm(self) -> float:
        """D1 = d − 5/4·H (ISO 724): of the internal thread."""
        return self.diameter_mm - 1.25 * self.height_mm

    @property
    def root_diameter_mm(self) -> float:
        """d3 = d − 17/12·H: of the bolt, with its rounded root (ISO 898-1)."""
        return self.diameter_mm - 17 / 12 * self.height_mm

    @property
    def stress_diameter_mm(self) -> float:
        """(d2 + d3)/2: of the circle with the stress area."""
        return (self.pitch_diameter_mm + self.root_diameter_mm) / 2

    @property
    def stress_area_mm2(self) -> float:
        """A_s = π/4·((d2 + d3)/2)² (ISO 898-1:2013 clause 9.1.6.1)."""
        return math.pi / 4 * self.stress_diameter_mm**2

    def __str__(self) -> str:
        return self.name


def read_thread(text: str, *, place: str = "thread") -> Thread:
    """Read "M8", "M10x1.25", "M10 × 1,25", "M12x1.5-6g", "M14x1.5 LH".

    Raises FastenerError: for a thread of another system (inch, pipe, trapezoidal: said to be
    unsupported), a diameter or pitch that ISO 261 does not have, and for anything else.
    """
    shown = f"“{' '.join(text.split())[:MOST_LETTERS]}”"
    if not text.strip():
        raise FastenerError(place, "no thread is named", _EXAMPLE)
    plain = " ".join(text.split())
    found = _METRIC.fullmatch(plain) if _ASCII.fullmatch(plain) else None
    if found is None:
        raise FastenerError(place, *_other(plain, shown))
    diameter = _number(found["d"])
    if diameter not in PITCHES_MM:
        sizes = nearest_sizes(diameter)
        raise FastenerError(place, f"ISO 261 has no M{diameter:g}", f"next to it are {sizes}")
    coarse, fine = PITCHES_MM[diameter]
    pitch = _number(found["p"]) if found["p"] else coarse
    if pitch is None:
        expected = f"write the pitch: {_listed(diameter)}"
        raise FastenerError(place, f"M{diameter:g} has no coarse pitch", expected)
    if pitch != coarse and pitch not in fine:
        problem = f"{pitch:g} mm is no pitch of M{diameter:g} in ISO 261"
        expected = f"its pitches are {_listed(diameter)}; a length does not belong here"
        raise FastenerError(place, problem, expected)
    return Thread(diameter, pitch, bool(found["left"]))


def threads() -> list[Thread]:
    """Every thread of the table, by diameter, the coarse one first."""
    return [Thread(diameter, pitch) for diameter in PITCHES_MM for pitch in _pitches(diameter)]


def nearest_sizes(diameter_mm: float) -> str:
    """The sizes of ISO 261 next to a diameter. Example: ``M12 and M14``."""
    below = max((d for d in PITCHES_MM if d < diameter_mm), default=None)
    above = min((d for d in PITCHES_MM if d > diameter_mm), default=None)
    return " and ".join(f"M{d:g}" for d in (below, above) if d is not None)


def _other(plain: str, shown: str) -> tuple[str, str]:
    """What is wrong with a text that names no metric thread, and what would be right."""
    if _TRAPEZOIDAL.match(plain):
        return f"{shown} is a trapezoidal thread, which is not judged here", "leave the thread out"
    if _INCH.search(plain) and not re.match(r"\s*M\s*\d", plain, re.IGNORECASE):
        return (
            f"{shown} is an inch or pipe thread, which is not judged here",
            "leave the thread out",
        )
    return f"{shown} is no thread that can be read", _meant(plain)


def _meant(plain: str) -> str:
    """The thread at the head of a longer text, as a question; never a pitch that was not written.

    Nor one that looks alike: M16x1 is not M6x1 mistyped. Where more is said than size and class ("fine", "x125") the
    pitches of the size are listed.
    """
    found = _AT_HEAD.match(plain)
    size = _number(found["size"]) if found else math.nan
    if found is None or size not in PITCHES_MM:
        return _EXAMPLE
    rest = plain[found.end() :]
    pitch = _pitch_in(size, rest)
    if pitch is None and not _CLASS.fullmatch(rest):
        return f"write size and pitch; the pitches of M{size:g} are {_listed(size)}"
    named = Thread(size, pitch) if pitch else read_thread(f"M{size:g}")
    return f"did you mean {named.name}? Otherwise {_EXAMPLE}"


def _pitch_in(diameter_mm: float, rest: str) -> float | None:
    """The pitch that is written behind a size: after x, a hyphen or a blank, its point perhaps left out."""
    found = _PITCH.match(rest)
    if found is None:
        return None
    written = found[1].replace(",", ".")
    whole = written if "." in written else written[:1] + "." + written[1:]  # 125 is 1.25
    return next((one for one in _pitches(diameter_mm) if one == float(whole)), None)


def _pitches(diameter_mm: float) -> tuple[float, ...]:
    """The pitches of a size, the coarse one first."""
    coarse, fine = PITCHES_MM[diameter_mm]
    return (coarse, *fine) if coarse else fine


def _listed(diameter_mm: float) -> str:
    return ", ".join(f"{pitch:g}" for pitch in _pitches(diameter_mm))


def _number(text: str) -> float:
    return float(text.replace(",", "."))
