"""Brake fluid: its class and base, what a circuit may get, and what water does to it.

Glycol, silicone and mineral fluids never mix, and a seal made for one is destroyed or swollen by
another. A class gives least boiling points, dry and with water in it; the maker's book says which.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from witnessmark.errors import listed, nearest
from witnessmark.facts import on_curve
from witnessmark.fluids.grades import plain
from witnessmark.fluids.volume import FluidError
from witnessmark.units import show

Base = Literal["glycol", "silicone", "mineral"]
WATER_WHEN_WET = 3.7  # percent by mass of the reference fluid when "wet"; from memory


@dataclass(frozen=True, slots=True)
class FluidClass:
    """Least boiling points (°C, dry and wet) and viscosities (mm²/s) of a class, and its base."""

    dry_c: float
    wet_c: float
    most_at_minus_40: float
    base: Base
    source: str
    least_at_100: float = 1.5  # 49 CFR 571.116 S5.1


_FMVSS, _ISO = "49 CFR 571.116 (FMVSS 116) S5.1", "ISO 4925:2020"
# FMVSS 116 as seen in tables; DOT 3 and DOT 4 classes also in ISO 4925. ISO 4925 and SAE J1704 from memory.
CLASSES: dict[str, FluidClass] = {
    "DOT 3": FluidClass(205, 140, 1500, "glycol", _FMVSS),
    "DOT 4": FluidClass(230, 155, 1800, "glycol", _FMVSS),
    "DOT 5": FluidClass(260, 180, 900, "silicone", _FMVSS),
    "DOT 5.1": FluidClass(260, 180, 900, "glycol", _FMVSS),
    "ISO 4925 class 3": FluidClass(205, 140, 1500, "glycol", _ISO),
    "ISO 4925 class 4": FluidClass(230, 155, 1500, "glycol", _ISO),
    "ISO 4925 class 5-1": FluidClass(260, 180, 900, "glycol", _ISO),
    "ISO 4925 class 6": FluidClass(250, 165, 750, "glycol", _ISO),
    "ISO 4925 class 7": FluidClass(260, 180, 750, "glycol", _ISO),
    "SAE J1703": FluidClass(205, 140, 1800, "glycol", "SAE J1703"),
    "SAE J1704 standard": FluidClass(230, 155, 1500, "glycol", "SAE J1704"),
    "SAE J1704 low viscosity": FluidClass(250, 165, 750, "glycol", "SAE J1704"),
}
PH = (7.0, 11.5)  # FMVSS 116 S5.1.4, of glycol fluids

_DOT = re.compile(r"\bDOT\s*-?\s*(\d+(?:[.,]\d+)?)(?:\s*(?:class\s*6|LV)\b)?", re.IGNORECASE)
_ISO_CLASS = re.compile(r"\b(?:ISO\s*4925\s*[:,]?\s*)?class\s*(\d(?:-\d)?)\b", re.IGNORECASE)
_SAE = re.compile(r"\bJ\s*(1703|1704)\b(?:\s*(low viscosity|LV))?", re.IGNORECASE)
_MINERAL = re.compile(r"\bmineral\b|\bLHM\b|\bISO\s*7308\b", re.IGNORECASE)


def classes_in(text: str) -> tuple[str, ...]:
    """The brake fluid classes a label or a book names, in `CLASSES`' words.

    Raises FluidError for a class there is none of, such as DOT 6.
    """
    text = plain(text)
    found = [_known(f"DOT {hit[1].replace(',', '.')}", hit[0]) for hit in _DOT.finditer(text)]
    found += [_known(f"ISO 4925 class {hit[1]}", hit[0]) for hit in _ISO_CLASS.finditer(text)]
    for hit in _SAE.finditer(text):
        kind = "" if hit[1] == "1703" else " low viscosity" if hit[2] else " standard"
        found.append(_known(f"SAE J{hit[1]}{kind}", hit[0]))
    return tuple(dict.fromkeys(found))


def read_class(text: str) -> str:
    """The one class a text names. Raises FluidError where it names none, or several of unlike bases."""
    found = classes_in(text)
    if not found:
        raise FluidError(
            "class", f"“{plain(text)[:60]}” names no brake fluid class", "write for instance DOT 4"
        )
    return found[0]


def base_in(text: str) -> Base | None:
    """What a fluid is made of, as far as a text says it. Raises FluidError where it says two things."""
    text = plain(text)
    bases: set[Base] = {CLASSES[name].base for name in classes_in(text)}
    words: tuple[tuple[Base, bool], ...] = (
        ("silicone", bool(re.search(r"\b(?<!non-)silicone?\b", text, re.IGNORECASE))),
        ("mineral", bool(_MINERAL.search(text))),
        ("glycol", bool(re.search(r"\bglycol\b", text, re.IGNORECASE))),
    )
    bases |= {base for base, said in words if said}
    if len(bases) > 1:
        problem = f"“{text[:60]}” names {' and '.join(sorted(bases))}, which never mix"
        raise FluidError(
            "class",
            problem,
            "write what is on this one bottle; DOT 5 is silicone, DOT 5.1 is glycol",
        )
    return next(iter(bases), None)


_NEVER: dict[tuple[Base, Base], str] = {  # (circuit, bottle)
    ("mineral", "glycol"): "brake fluid destroys the seals of a circuit for mineral oil",
    ("mineral", "silicone"): "silicone fluid does not belong into a circuit for mineral oil",
    ("glycol", "mineral"): "mineral oil swells and destroys the seals of a brake circuit",
    ("glycol", "silicone"): "silicone never mixes with glycol: the brake may fail",
    ("silicone", "glycol"): "glycol never mixes with silicone: the brake may fail",
    ("silicone", "mineral"): "mineral oil swells and destroys the seals of a brake circuit",
}


def never_into(circuit: Base, bottle: Base) -> str | None:
    """Why this base may never go into this circuit, in words; None for its own."""
    return None if circuit == bottle else _NEVER[circuit, bottle]


def why_not(wanted: str, label: str) -> tuple[str, ...]:
    """Why a bottle is refused where the book asks for `wanted` (glycol or silicone brake fluid).

    Empty: the book names its class. A higher class is refused too, with how it compares: the book
    or its maker must say that it may be used.
    """
    asked, has = classes_in(wanted), classes_in(label)
    if not asked or not has or set(asked) & set(has):
        return ()
    least = min(asked, key=lambda name: CLASSES[name].wet_c)
    best = max(has, key=lambda name: CLASSES[name].wet_c)
    return (f"{best}, and the book allows {' or '.join(asked)}: {_compared(best, least)}",)


def _compared(has: str, wanted: str) -> str:
    one, two = CLASSES[has], CLASSES[wanted]
    if (one.dry_c, one.wet_c) < (two.dry_c, two.wet_c):
        return f"it may boil at {one.wet_c:g} °C wet, not at {two.wet_c:g} °C"
    if one.wet_c > two.wet_c:
        return f"it boils later ({one.wet_c:g} °C wet, not {two.wet_c:g} °C), but the book does not name it"
    return "its boiling points are the same, but the book does not name it"


# ---------------------------------------------------------------- water

# Percent of water, and °C: where vapour locks the brake (glycol fluids of the 1970s), Transport and Road
# Research Laboratory report LR903; boiling point of a typical DOT 3, a trade article of about 2000.
LR903 = ((0.0, 250.0), (1.0, 180.0), (3.0, 145.0))
# A trade article; the same.
TRADE = ((1.0, 187.2), (2.0, 160.0), (3.0, 145.0))
CHANGE_AT_PERCENT = (
    3.0  # common practice, no source: half of the boiling point's way down is behind it
)
# Report LR903: of cars of equal age, water in the fluid differs widely; no firm relationship was found.
AGE_SAYS_LITTLE = (
    "Age alone predicts little: a water test may shorten the interval, never extend it."
)


@dataclass(frozen=True, slots=True)
class Boiling:
    """Where glycol fluid with that much water boils: the range the published curves give, in °C."""

    low_c: float
    high_c: float

    @property
    def words(self) -> str:
        """Example: ``about 154 to 160 °C``; ``about 145 °C``."""
        low, high = (f"{value:.0f}" for value in (self.low_c, self.high_c))
        return f"about {low} °C" if low == high else f"about {low} to {high} °C"


def boils_at(water_percent: float) -> Boiling:
    """About where glycol brake fluid with that much water boils, by the published curves, 0 to 3 %.

    LR903 between its points along the exponential through them; the article straight from point to
    point. Raises FluidError beyond what they cover: the fluid is spent by then.
    """
    if not 0 <= water_percent <= 100:
        raise FluidError("water", f"{water_percent:g} %", "give percent of water, 0 to 100")
    if water_percent > 3:
        problem = f"{water_percent:g} % is more than the published curves cover"
        raise FluidError("water", problem, "change the fluid: 3 % is already too much")
    values = [_lr903(water_percent)]
    if water_percent >= 1:
        values.append(on_curve(TRADE, water_percent))
    return Boiling(min(values), max(values))


def _lr903(percent: float) -> float:
    """The exponential a + b r^w through the three points: 70 K in the first percent, 35 K in the next two."""
    drop = (math.sqrt(3) - 1) / 2  # r with r (1 + r) = 35 / 70
    b = 70 / (1 - drop)
    return float(250 - b + b * drop**percent)


@dataclass(frozen=True, slots=True)
class WaterTest:
    """What a test of the fluid says: whether to flush now, and why. It never says how long it lasts."""

    flush_now: bool
    said: str


def by_water(percent: float, change_at: float = CHANGE_AT_PERCENT) -> WaterTest:
    """Judge a measured share of water. Below the limit it extends nothing: the interval stands."""
    if not 0 <= percent <= 100:
        raise FluidError("water", f"{percent:g} %", "give percent of water, 0 to 100")
    boiling = f": it boils at {boils_at(percent).words}" if percent <= 3 else ""
    if percent >= change_at:
        return WaterTest(
            True, f"{percent:g} % of water, at or over {change_at:g} %{boiling}: flush now"
        )
    return WaterTest(False, f"{percent:g} % of water{boiling}: the interval stands")


def by_boiling(measured_c: float, label: str) -> WaterTest:
    """Judge a measured boiling point against the least one, wet, of the class in the circuit."""
    name = read_class(label)
    least = CLASSES[name].wet_c
    if not 80 <= measured_c <= 400:
        raise FluidError(
            "boiling_point", f"{measured_c:g} °C", "give what the tester showed, 80 to 400 °C"
        )
    shown = show(measured_c, "temperature")
    if measured_c < least:
        return WaterTest(
            True, f"boils at {shown}, below the {least:g} °C that {name} keeps wet: flush now"
        )
    if measured_c < least + 5:
        return WaterTest(
            True, f"boils at {shown}, at the {least:g} °C that {name} keeps wet: flush now"
        )
    return WaterTest(
        False,
        f"boils at {shown}, above the {least:g} °C that {name} keeps wet: the interval stands",
    )


def _known(name: str, written: str) -> str:
    if name in CLASSES:
        return name
    like = nearest(name, CLASSES)
    expected = f"did you mean {like}?" if like else f"classes are {listed(CLASSES, 12)}"
    raise FluidError("class", f"“{written.strip()}” is no brake fluid class", expected)
