"""Sizes of motorcycle tyres: metric, inch, alphanumeric. UN Regulation 75 and ISO 5751-1 (from memory)."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from witnessmark.decode.tyre_tables import CONSTRUCTIONS, OVER_KMH, SPEED_KMH, WIDTH_OF_LETTER

MM_PER_IN = 25.4  # by definition
System = Literal["metric", "inch", "alphanumeric"]

_RIM = r"(?P<rim>[1-3]?\d(?:\.5)?|[1-3]?\d 1/2)"
_MIDDLE = r"[ ]?(?P<letters>[A-Z]{0,2})[ ]?(?P<dash>-?)[ ]?"
_METRIC = rf"(?P<mm>\d{{2,3}}) ?/ ?(?P<ratio>\d{{2,3}}){_MIDDLE}{_RIM}"
_ALPHA = rf"M(?P<width>[A-Z])(?P<ratio>\d{{2}}){_MIDDLE}{_RIM}"
_INCH = rf"(?P<inch>\d{{1,2}}\.\d{{1,2}}|\d{{1,2}} \d/\d{{1,2}}|\d)(?: ?/ ?(?P<ratio>\d{{2,3}}))?{_MIDDLE}{_RIM}"
_EDGE = r"(?![\d/.])"
_FORMS: tuple[tuple[System, re.Pattern[str]], ...] = (
    ("metric", re.compile(rf"(?<![\d.]){_METRIC}{_EDGE}")),
    ("alphanumeric", re.compile(rf"(?<![A-Z\d]){_ALPHA}{_EDGE}")),
    ("inch", re.compile(rf"(?<![\d./]){_INCH}{_EDGE}")),
)
# An inch size without a ratio is about as high as wide (common practice, no source).
_INCH_RATIO = 100


@dataclass(frozen=True)
class TyreSize:
    """A size as marked. ``width_mm`` is nominal; of an alphanumeric one the nearest metric width.

    ``ratio``: height in percent of the width; None where the marking tells none. ``speed``: the symbol
    inside the size, Z for ZR.
    """

    written: str
    system: System
    width_mm: float
    ratio: int | None
    construction: str
    rim_in: float
    speed: str = ""

    @property
    def height_mm(self) -> float:
        """Nominal section height."""
        return self.width_mm * (self.ratio if self.ratio is not None else _INCH_RATIO) / 100

    @property
    def diameter_mm(self) -> float:
        """Nominal outer diameter: rim and twice the height. A new tyre may differ by some percent."""
        return self.rim_in * MM_PER_IN + 2 * self.height_mm


@dataclass(frozen=True)
class SizeFound:
    """A size and where in the text it stands."""

    size: TyreSize
    start: int
    end: int


def find_size(text: str) -> SizeFound | None:
    """The first size in a text in capitals; None where there is none that can be."""
    for system, form in _FORMS:
        for found in form.finditer(text):
            size = _size(system, found)
            if size is not None:
                return SizeFound(size, found.start(), found.end())
    return None


def _size(system: System, found: re.Match[str]) -> TyreSize | None:
    width, rim = _width(system, found), _number(found["rim"])
    letters = _letters(found["letters"])
    ratio = int(found["ratio"]) if found["ratio"] else None
    believable = 40 <= width <= 400 and 8 <= rim <= 30 and (ratio is None or 25 <= ratio <= 110)
    if not believable or letters is None:
        return None
    if not (found["letters"] or found["dash"] or " " in found.group() or system != "inch"):
        return None
    speed, construction = letters
    return TyreSize(found.group().strip(), system, width, ratio, construction, rim, speed)


def _width(system: System, found: re.Match[str]) -> float:
    if system == "metric":
        return float(found["mm"])
    if system == "alphanumeric":
        return float(WIDTH_OF_LETTER.get(found["width"], 0))
    return _number(found["inch"]) * MM_PER_IN


def _number(text: str) -> float:
    try:
        return float(sum(Fraction(part) for part in text.split()))
    except ZeroDivisionError:
        return 0.0


def _letters(letters: str) -> tuple[str, str] | None:
    """Speed symbol and construction of the letters in a size: ZR, HB, R, H; None where they are none."""
    if not letters:
        return "", CONSTRUCTIONS["-"]
    if letters in ("R", "B", "D"):
        return "", CONSTRUCTIONS[
            letters
        ]  # R alone is radial: as a speed symbol it stands behind the size
    speed, rest = letters[0], letters[1:]
    if speed not in SPEED_KMH and speed not in OVER_KMH:
        return None
    if rest and rest not in CONSTRUCTIONS:
        return None
    return speed, CONSTRUCTIONS[rest or "-"]
