"""What is printed on a bottle of oil: SAE J300 and J306 grades, API gear oil classes; read, judged, compared.

A grade is a range of measured viscosity, and its "W" a limit in the cold: it says nothing about
fork oil, whose makers print a W without any standard behind it.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import Literal

from witnessmark.errors import listed
from witnessmark.fluids.volume import FluidError

Standard = Literal["SAE J300", "SAE J306"]
MOST_LETTERS = 400  # for the program


@dataclass(frozen=True, slots=True)
class Cold:
    """A winter grade. J300: cranking and pumping (°C, most mPa·s); J306: 150 000 mPa·s no warmer than."""

    least_100: float  # mm²/s at 100 °C
    cranking: tuple[float, float] | None = None
    pumping: tuple[float, float] | None = None
    warmest_150_000: float | None = None


@dataclass(frozen=True, slots=True)
class Warm:
    """A summer grade: mm²/s at 100 °C from least up to, not including, most; HTHS in mPa·s at 150 °C."""

    least_100: float
    most_100: float | None
    hths: float | None = None


# SAE J300 (2015 and later; 8 and 12 since then). Grade 12 and its HTHS from memory.
J300_COLD: dict[str, Cold] = {
    "0W": Cold(3.8, (-35, 6200), (-40, 60_000)),
    "5W": Cold(3.8, (-30, 6600), (-35, 60_000)),
    "10W": Cold(4.1, (-25, 7000), (-30, 60_000)),
    "15W": Cold(5.6, (-20, 7000), (-25, 60_000)),
    "20W": Cold(5.6, (-15, 9500), (-20, 60_000)),
    "25W": Cold(9.3, (-10, 13_000), (-15, 60_000)),
}
# The same.
J300_WARM: dict[str, Warm] = {
    "8": Warm(4.0, 6.1, 1.7),
    "12": Warm(5.0, 7.1, 2.0),
    "16": Warm(6.1, 8.2, 2.3),
    "20": Warm(6.9, 9.3, 2.6),
    "30": Warm(9.3, 12.5, 2.9),
    "40": Warm(12.5, 16.3, 3.7),
    "50": Warm(16.3, 21.9, 3.7),
    "60": Warm(21.9, 26.1, 3.7),
}
HTHS_40_LIGHT = 3.5  # of a 40 with 0W, 5W or 10W before it (SAE J300)
# SAE J306 (February 2019).
J306_COLD: dict[str, Cold] = {
    "70W": Cold(3.8, warmest_150_000=-55),
    "75W": Cold(3.8, warmest_150_000=-40),
    "80W": Cold(8.5, warmest_150_000=-26),
    "85W": Cold(11.0, warmest_150_000=-12),
}
# The same.
J306_WARM: dict[str, Warm] = {
    "65": Warm(3.8, 5.0), "70": Warm(5.0, 6.5), "75": Warm(6.5, 8.5), "80": Warm(8.5, 11.0),
    "85": Warm(11.0, 13.5), "90": Warm(13.5, 18.5), "110": Warm(18.5, 24.0), "140": Warm(24.0, 32.5),
    "190": Warm(32.5, 41.0), "250": Warm(41.0, None),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Grade:
    """An oil grade as it is printed; one of the two halves may be empty."""

    standard: Standard
    cold: str  # "10W" or ""
    warm: str  # "40" or ""

    @property
    def words(self) -> str:
        """Example: ``SAE 10W-40``."""
        return "SAE " + "-".join(half for half in (self.cold, self.warm) if half)

    @property
    def range_100(self) -> tuple[float, float | None]:
        """mm²/s at 100 °C: at least, and less than (None: no upper limit)."""
        cold, warm = _tables(self.standard)
        if self.warm:
            return warm[self.warm].least_100, warm[self.warm].most_100
        return cold[self.cold].least_100, None

    @property
    def hths(self) -> float | None:
        """Least viscosity at 150 °C under high shear, in mPa·s; None where the standard sets none."""
        if self.standard != "SAE J300" or not self.warm:
            return None
        if self.warm == "40" and self.cold in ("0W", "5W", "10W"):
            return HTHS_40_LIGHT
        return J300_WARM[self.warm].hths


# "10W-40", "SAE 10W40", "10 W – 40", "80W-90", "SAE 90"; a bare number needs its SAE.
_MULTI = re.compile(
    r"(?<![\d.])(?:SAE\s*)?(\d{1,3})\s*W\s*[-/ ]?\s*(\d{1,3})(?![\d.]|\s*W\b)", re.IGNORECASE
)
_COLD = re.compile(r"(?<![\d.])(?:SAE\s*)?(\d{1,3})\s*W(?![A-Z0-9])", re.IGNORECASE)
_WARM = re.compile(r"\bSAE\s*(\d{1,3})(?![\d.]|\s*W)", re.IGNORECASE)


def plain(text: str) -> str:
    """The text with other scripts' digits, blanks and dashes made plain. Raises FluidError when too long."""
    if len(text) > MOST_LETTERS:
        raise FluidError(
            "grade", "this is too long for what is printed on a bottle", "write its grade alone"
        )
    text = unicodedata.normalize("NFKC", text)
    text = re.sub(r"[‐-―−]", "-", text)
    return " ".join(text.split())


def grades_in(text: str) -> tuple[Grade, ...]:
    """Every SAE grade that a text names, in its order; none is no fault.

    Raises FluidError for what looks like a grade and is none: ``10W-45``.
    """
    text = plain(text)
    found: list[tuple[int, Grade]] = []
    taken: list[tuple[int, int]] = []
    for pattern in (_MULTI, _COLD, _WARM):
        for hit in pattern.finditer(text):
            if any(start < hit.end() and hit.start() < end for start, end in taken):
                continue
            taken.append(hit.span())
            found.append((hit.start(), _grade(hit, pattern)))
    return tuple(dict.fromkeys(grade for _, grade in sorted(found, key=lambda pair: pair[0])))


def grade_of(viscosity_100: float) -> tuple[Grade, ...]:
    """The grades, engine and gear, whose range at 100 °C a viscosity lies in; ranges of thin grades overlap."""
    if not 0 < viscosity_100 < 1000:
        raise FluidError("viscosity", f"{viscosity_100:g} mm²/s", "give mm²/s at 100 °C, above 0")
    tables: tuple[tuple[Standard, dict[str, Warm]], ...] = (
        ("SAE J300", J300_WARM),
        ("SAE J306", J306_WARM),
    )
    return tuple(
        Grade(standard, "", name)
        for standard, table in tables
        for name, warm in table.items()
        if warm.least_100 <= viscosity_100
        and (warm.most_100 is None or viscosity_100 < warm.most_100)
    )


# API gear oil classes still in use; GL-5 in a gearbox made for GL-4 may attack yellow metal (common
# practice, no source): the manual says which.
_GEAR_CLASS = re.compile(r"\bGL\s*-?\s*(\d)\b", re.IGNORECASE)


def gear_classes_in(text: str) -> tuple[str, ...]:
    """API gear oil classes a text names: ``("GL-4", "GL-5")``."""
    return tuple(dict.fromkeys(f"GL-{number}" for number in _GEAR_CLASS.findall(plain(text))))


def _tables(standard: Standard) -> tuple[dict[str, Cold], dict[str, Warm]]:
    return (J300_COLD, J300_WARM) if standard == "SAE J300" else (J306_COLD, J306_WARM)


def _grade(hit: re.Match[str], pattern: re.Pattern[str]) -> Grade:
    cold = f"{int(hit[1])}W" if pattern is not _WARM else ""
    warm = str(int(hit[2])) if pattern is _MULTI else str(int(hit[1])) if pattern is _WARM else ""
    standards: tuple[Standard, ...] = ("SAE J300", "SAE J306")
    for standard in standards:
        colds, warms = _tables(standard)
        if cold in ("", *colds) and warm in ("", *warms):
            return Grade(standard, cold, warm)
    raise FluidError("grade", f"“{hit[0].strip()}” is no SAE grade", _nearest_grades(cold, warm))


def _nearest_grades(cold: str, warm: str) -> str:
    """Which grades there are, of the standard that the readable half points to."""
    standard: Standard = (
        "SAE J306" if cold in J306_COLD or (not cold and warm in J306_WARM) else "SAE J300"
    )
    colds, warms = _tables(standard)
    if cold and cold not in colds:
        return f"winter grades of {standard} are {listed(colds)}"
    return f"grades of {standard} are {listed(warms, 12)}"
