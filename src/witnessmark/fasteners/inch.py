"""Unified inch threads, coarse and fine, and the grades of their bolts.

Series and basic sizes ASME B1.1, strengths SAE J429; both from memory, held against handbook tables in the tests.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

from witnessmark.errors import listed
from witnessmark.fasteners.errors import FastenerError
from witnessmark.fasteners.threads import MOST_LETTERS

MM_PER_INCH = 25.4  # by definition
MPA_PER_KSI = 6.894757  # NIST Handbook 44 Appendix C
N_PER_LBF = 4.448222  # the same

# Size: threads to the inch, coarse and fine. ASME B1.1; a number is 0.060 in + 0.013 in for each.
THREADS: dict[str, tuple[int | None, int | None]] = {
    "#0": (None, 80), "#1": (64, 72), "#2": (56, 64), "#3": (48, 56), "#4": (40, 48), "#5": (40, 44),
    "#6": (32, 40), "#8": (32, 36), "#10": (24, 32), "#12": (24, 28), "1/4": (20, 28), "5/16": (18, 24),
    "3/8": (16, 24), "7/16": (14, 20), "1/2": (13, 20), "9/16": (12, 18), "5/8": (11, 18), "3/4": (10, 16),
    "7/8": (9, 14), "1": (8, 12),
}  # fmt: skip
SERIES = ("UNC", "UNF")
# Hexagon heads ASME B18.2.1, across flats; from memory.
HEAD_IN = {
    "1/4": "7/16", "5/16": "1/2", "3/8": "9/16", "7/16": "5/8", "1/2": "3/4", "9/16": "13/16",
    "5/8": "15/16", "3/4": "1 1/8", "7/8": "1 5/16", "1": "1 1/2",
}  # fmt: skip


@dataclass(frozen=True)
class Grade:
    """A grade of SAE J429 in one range of sizes: proof stress, yield and tensile strength in MPa, at least."""

    name: str
    proof_mpa: float
    yield_mpa: float
    tensile_mpa: float


# SAE J429: up to this many inches; proof, yield and tensile strength in ksi, at least.
_GRADES: dict[str, tuple[tuple[float, float, float, float], ...]] = {
    "2": ((0.75, 55, 57, 74), (1.5, 33, 36, 60)),
    "5": ((1.0, 85, 92, 120), (1.5, 74, 81, 105)),
    "8": ((1.5, 120, 130, 150),),
}
MARKS = {"2": 0, "5": 3, "8": 6}  # lines on the head, SAE J429
GRADED_FROM_IN = 0.25  # SAE J429 begins here


@dataclass(frozen=True)
class InchThread:
    """A Unified thread: its size as it is written, diameter in inches, threads to the inch."""

    size: str
    diameter_in: float
    per_inch: int
    left_hand: bool = False

    @property
    def series(self) -> str:
        """UNC or UNF."""
        return SERIES[THREADS[self.size].index(self.per_inch)]

    @property
    def name(self) -> str:
        """As ASME B1.1 writes it: 1/4-20 UNC, #10-32 UNF LH."""
        return f"{self.size}-{self.per_inch} {self.series}{' LH' if self.left_hand else ''}"

    @property
    def diameter_mm(self) -> float:
        """Nominal diameter."""
        return self.diameter_in * MM_PER_INCH

    @property
    def pitch_mm(self) -> float:
        """What one turn moves it."""
        return MM_PER_INCH / self.per_inch

    @property
    def pitch_diameter_in(self) -> float:
        """D − 3/4·H, H = √3/2 of the pitch (ASME B1.1)."""
        return self.diameter_in - 0.75 * math.sqrt(3) / 2 / self.per_inch

    @property
    def minor_diameter_in(self) -> float:
        """D − 5/4·H: of the nut (ASME B1.1)."""
        return self.diameter_in - 1.25 * math.sqrt(3) / 2 / self.per_inch

    @property
    def stress_area_mm2(self) -> float:
        """π/4·(D − 0.9743/n)² (ASME B1.1)."""
        across = (self.diameter_in - 0.9743 / self.per_inch) * MM_PER_INCH
        return math.pi / 4 * across**2


_SIZE = r"(?:#|no\.?|nr\.?)? ?(?P<number>\d{1,2})(?! ?/)|(?P<fraction>\d{1,2} ?/ ?\d{1,2})|(?P<decimal>[01]?\.\d{1,4})"
_UNIFIED = re.compile(
    rf"(?:{_SIZE}) ?(?:\"|″|''|in\b|inch\b)?"
    r"(?: ?[-x×*/ ] ?(?P<turns>\d{2}|8|9)(?: ?tpi)?)?"
    r"(?: ?-? ?(?P<series>UN[CF])?)?(?: ?-? ?[123][AB])?(?P<left> ?-? ?LH)?",
    re.IGNORECASE | re.ASCII,
)  # a class of fit, 2A, says nothing about strength
_BRITISH = re.compile(r"BS[WFC]|BA\b|CEI|whit", re.IGNORECASE)
_PIPE = re.compile(r"NPT|BSP|^\s*[GR][pc]?\s*\d|\bP[TF]\b", re.IGNORECASE)
_EXAMPLE = "write for instance 1/4-20 UNC, 5/16-24 or #10-32"


def read_inch_thread(text: str, *, place: str = "thread") -> InchThread:
    """Read "1/4-20", "3/8 UNF", "#10-32", "10-24 UNC", "1/4-28 UNF-2A LH". Raises FastenerError.

    A pitch that is left unsaid is asked for, unless the series says it.
    """
    plain = " ".join(text.split()).replace("–", "-").replace("−", "-")
    shown = f"“{plain[:MOST_LETTERS]}”"
    found = _UNIFIED.fullmatch(plain)
    if found is None:
        raise FastenerError(place, *_other(plain, shown))
    sizes = [size for size in THREADS if _is(size, found)]
    if not sizes:
        raise FastenerError(
            place, f"{shown} is no size known here", f"there are {listed(THREADS, 20)}"
        )
    wanted = int(found["turns"]) if found["turns"] else None
    series = (found["series"] or "").upper()
    fits = [
        InchThread(size, inches(size), turns, bool(found["left"]))
        for size in sizes
        for name, turns in zip(SERIES, THREADS[size], strict=True)
        if turns and wanted in (None, turns) and series in ("", name)
    ]
    if len(fits) == 1:
        return fits[0]
    there = [f"{size}-{turns}" for size in sizes for turns in THREADS[size] if turns]
    problem = f"{shown} has no pitch" if fits else f"{shown} is neither coarse nor fine"
    raise FastenerError(place, problem, f"write {' or '.join(there)}")


def inches(size: str) -> float:
    """The nominal diameter of a size of `THREADS` (ASME B1.1)."""
    if size.startswith("#"):
        return round(0.060 + 0.013 * int(size[1:]), 3)
    return float(Fraction(size))


def _is(size: str, found: re.Match[str]) -> bool:
    """Whether a size of the table is the one written; a bare 1 may be the inch or the number."""
    if found["number"]:
        number = str(int(found["number"]))
        hashed = found[0][:1].casefold() in "#n"
        return size == f"#{number}" or (size == number and not hashed)
    if found["fraction"]:
        top, bottom = map(int, found["fraction"].replace(" ", "").split("/"))
        return bottom != 0 and size == f"{top}/{bottom}"
    return (
        abs(inches(size) - float(found["decimal"])) < 5e-4
    )  # a decimal is written to three places


def _other(plain: str, shown: str) -> tuple[str, str]:
    if re.match(r"M ?\d", plain, re.IGNORECASE):
        return f"{shown} is a metric thread", "it has its own: Sizes of a thread (thread)"
    if _PIPE.search(plain):
        return f"{shown} is a pipe thread", "it has its own: Pipe thread of a plug (pipe-thread)"
    if _BRITISH.search(plain):
        return f"{shown} is a British thread, which is not known here", _EXAMPLE
    return f"{shown} is no inch thread that can be read", _EXAMPLE


def inch_grade(name: str, diameter_in: float, *, place: str = "grade") -> Grade:
    """A grade by its number, for a size. Raises FastenerError."""
    for up_to, proof, yields, tensile in _GRADES.get(name, ()):
        if diameter_in <= up_to:
            return Grade(name, *(ksi * MPA_PER_KSI for ksi in (proof, yields, tensile)))
    raise FastenerError(
        place, f"“{name[:MOST_LETTERS]}” is no grade known here", "there are 2, 5 and 8"
    )
