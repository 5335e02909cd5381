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
from witnessmark.units import convert, show, usual_unit

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

# DOT 4; DOT 3/4 and DOT 3 & 4 name two; what follows a joint is no pack size: DOT 4 - 500 mL
_MORE = (
    r"\s*(?:[/&+–-]|\band\b|\bor\b)\s*(?:DOT[\s-]*)?\d(?:[.,]\d)?(?![\d.,]|\s*(?:m?l|lit|k?g)\w*\b)"
)
_DOT = re.compile(
    rf"\bDOT[\s-]*\d+(?:[.,]\d+)?(?:{_MORE})*(?:\s*(?:class\s*6|LV)\b)?", re.IGNORECASE
)
_DOT_NUMBER = re.compile(r"\d+(?:[.,]\d+)?(?!\d)")
_ISO_CLASS = re.compile(r"\b(?:ISO\s*4925\s*[:,]?\s*)?class\s*(\d(?:-\d)?)\b", re.IGNORECASE)
_SAE = re.compile(r"\bJ\s*(1703|1704)\b(?:\s*(low viscosity|LV))?", re.IGNORECASE)
_MINERAL = re.compile(r"\bmineral\b|\bLHM\b|\bISO\s*7308\b", re.IGNORECASE)


def classes_in(text: str) -> tuple[str, ...]:
    """The brake fluid classes a label or a book names, in `CLASSES`' words.

    Raises FluidError for a class there is none of, such as DOT 6.
    """
    text = plain(text)
    found = [
        _known(f"DOT {number.replace(',', '.')}", hit[0])
        for hit in _DOT.finditer(text)
        for number in _DOT_NUMBER.findall(re.sub(r"(?i)\bclass\s*6\b", "", hit[0]))
    ]
    found += [_known(f"ISO 4925 class {hit[1]}", hit[0]) for hit in _ISO_CLASS.finditer(text)]
    for hit in _SAE.finditer(text):
        kind = "" if hit[1] == "1703" else " low viscosity" if hit[2] else " standard"
        found.append(_known(f"SAE J{hit[1]}{kind}", hit[0]))
    return tuple(dict.fromkeys(found))


def read_class(text: str) -> str:
    """The class a text is judged by: of several the one that must boil latest, wet.

    Raises FluidError where it names none, or several of unlike bases.
    """
    found = classes_in(text)
    if not found:
        raise FluidError(
            "class", f"“{plain(text)[:60]}” names no brake fluid class", "write for instance DOT 4"
        )
    base_in(text)
    return max(found, key=lambda name: CLASSES[name].wet_c)


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
        unit = usual_unit(0, "temperature")
        low, high = (
            f"{convert(value, 'temperature', unit):.0f}" for value in (self.low_c, self.high_c)
        )
        return f"about {low} {unit}" if low == high else f"about {low} to {high} {unit}"


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
class FluidTest:
    """What tests of the fluid say: whether to flush now, and why. They never say how long it lasts."""

    flush_now: bool
    said: str


MARGIN_K = 5.0  # above the least, wet, a fluid is at it: what a tester may be off; judged by us
MEASURED_C = (80.0, 400.0)  # what a tester may show; beyond it is a slip or °F; judged by us
CURVE_OF = "DOT 3"  # what the water curves were measured on


def judged(label: str, *, water: float | None = None, boils_c: float | None = None) -> FluidTest:
    """Judge the fluid of that class by its share of water, by where it was measured to boil, or by both.

    One rule: it must boil later than the least, wet, of its class. Water is held against it by where
    DOT 3 fluid with so much boils at the earliest, and `CHANGE_AT_PERCENT` is too much in any. One
    test that fails is enough; none extends anything.
    """
    name = read_class(label)
    tests = [_by_water(water, name)] if water is not None else []
    tests += [_by_boiling(boils_c, name)] if boils_c is not None else []
    if not tests:
        return FluidTest(False, "")
    flush = any(test.flush_now for test in tests)
    verdict = "flush now" if flush else "the interval stands"
    return FluidTest(flush, f"{'; '.join(test.said for test in tests)}: {verdict}")


def _by_water(percent: float, name: str) -> FluidTest:
    if not 0 <= percent <= 100:
        raise FluidError("water", f"{percent:g} %", "give percent of water, 0 to 100")
    if percent > LR903[-1][0]:
        return FluidTest(True, f"{percent:g} % of water is too much in any class")
    boils = boils_at(percent)
    flush, against = _against(boils.low_c, name)
    said = f"with {percent:g} % of water {CURVE_OF} fluid boils at {boils.words}, {against}"
    return FluidTest(flush or percent >= CHANGE_AT_PERCENT, said)


def _by_boiling(measured_c: float, name: str) -> FluidTest:
    least, most = MEASURED_C
    if not least <= measured_c <= most:
        problem, expected = f"{measured_c:g} °C", f"{least:g} to {most:g} °C"
        raise FluidError("boiling_point", problem, f"give what the tester showed, {expected}")
    flush, against = _against(measured_c, name)
    return FluidTest(flush, f"it boils at {show(measured_c, 'temperature')}, {against}")


def _against(boils_c: float, name: str) -> tuple[bool, str]:
    """Whether it boils too early for its class, and how it stands to the least, wet."""
    least = CLASSES[name].wet_c
    stands = "below" if boils_c < least else "at" if boils_c < least + MARGIN_K else "above"
    return stands != "above", f"{stands} the {show(least, 'temperature')} that {name} keeps wet"


def _known(name: str, written: str) -> str:
    if name in CLASSES:
        return name
    like = nearest(name, CLASSES)
    expected = f"did you mean {like}?" if like else f"classes are {listed(CLASSES, 12)}"
    raise FluidError("class", f"“{written.strip()}” is no brake fluid class", expected)
