"""How strong bolts, nuts and what they are screwed into are, by class and material.

Every figure here stands with its source; those from memory were held against tables in the
tests where there were any.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from witnessmark.errors import listed, suggestion
from witnessmark.fasteners.errors import FastenerError


@dataclass(frozen=True)
class PropertyClass:
    """A property class of bolts, screws and studs: stresses in MPa, least values."""

    name: str
    tensile_mpa: float  # R_m,min
    yield_mpa: float  # R_eL, R_pf or R_p0.2, min
    proof_mpa: float | None  # S_p; None: the standard gives none
    source: str


_ISO_898_1 = "ISO 898-1:2013 Table 3"
_ISO_3506_1 = "ISO 3506-1:2020, from memory"


@dataclass(frozen=True)
class _Row:
    tensile: float
    yields: float
    proof: float | None


# Up to 16 mm, then above 16 mm. 8.8, 10.9, 12.9 seen in published tables of ISO 898-1; the others from memory.
_BOLTS: dict[str, tuple[_Row, _Row | None]] = {
    "4.6": (_Row(400, 240, 225),) * 2,
    "4.8": (_Row(420, 340, 310),) * 2,
    "5.6": (_Row(500, 300, 280),) * 2,
    "5.8": (_Row(520, 420, 380),) * 2,
    "6.8": (_Row(600, 480, 440),) * 2,
    "8.8": (_Row(800, 640, 580), _Row(830, 660, 600)),
    "9.8": (_Row(900, 720, 650), None),  # up to 16 mm only
    "10.9": (_Row(1040, 940, 830),) * 2,
    "12.9": (_Row(1220, 1100, 970),) * 2,
    "A2-50": (_Row(500, 210, None),) * 2,  # stainless: from memory
    "A2-70": (_Row(700, 450, None),) * 2,
    "A2-80": (_Row(800, 600, None),) * 2,
    "A4-50": (_Row(500, 210, None),) * 2,
    "A4-70": (_Row(700, 450, None),) * 2,
    "A4-80": (_Row(800, 600, None),) * 2,
}
CLASSES: tuple[str, ...] = tuple(_BOLTS)
LARGE_ABOVE_MM = 16.0  # ISO 898-1:2013 Table 3
UP_TO_16_MM = tuple(name for name, (_, large) in _BOLTS.items() if large is None)

WEAKEST, STRONGEST = "4.6", "12.9"  # what a steel bolt of no known class may be


@dataclass(frozen=True)
class NutClass:
    """A class of steel nuts of full height: the bolts it is made for, up to this class."""

    name: str
    for_bolts: str
    source: str = "ISO 898-2:2022, pairs of clause 5, from memory"


NUTS: dict[str, NutClass] = {
    "5": NutClass("5", "5.8"),
    "6": NutClass("6", "6.8"),
    "8": NutClass("8", "8.8"),
    "9": NutClass("9", "9.8"),
    "10": NutClass("10", "10.9"),
    "12": NutClass("12", "12.9"),
}


@dataclass(frozen=True)
class Material:
    """What a bolt is screwed into: its shear strength in MPa, from the least to the most it is likely to be."""

    name: str
    shear_least_mpa: float
    shear_most_mpa: float
    source: str


_RATIO = "tensile strength times the ratio of VDI 2230-1 for shear (steel 0.6, aluminium 0.7), from memory"
MATERIALS: dict[str, Material] = {
    m.name: m
    for m in (
        Material("steel", 240, 600, f"R_m 400 to 1000 MPa; {_RATIO}"),
        Material("cast iron", 180, 350, f"R_m 200 to 250 MPa; 0.9 to 1.4, {_RATIO}"),
        Material("aluminium casting", 110, 220, f"R_m 160 to 310 MPa; {_RATIO}"),
        Material("wrought aluminium", 150, 380, f"R_m 215 to 540 MPa; {_RATIO}"),
        Material("magnesium casting", 100, 160, f"R_m 160 to 240 MPa; about 0.65, {_RATIO}"),
    )
}
_ALSO = {
    "aluminum casting": "aluminium casting", "cast aluminium": "aluminium casting",
    "cast aluminum": "aluminium casting", "aluminium": "aluminium casting", "aluminum": "aluminium casting",
    "wrought aluminum": "wrought aluminium", "magnesium": "magnesium casting",
    "iron": "cast iron", "grey cast iron": "cast iron",
}  # fmt: skip


def bolt_class(text: str, diameter_mm: float = 8.0, *, place: str = "class") -> PropertyClass:
    """The class as it is marked on the head: "8.8", "10,9", "A2-70". Raises FastenerError.

    ``diameter_mm`` decides where the standard has two columns (8.8: up to 16 mm, and above).
    """
    name = " ".join(text.split())[:40].upper().replace(",", ".")
    name = re.sub(r"^([AC]\d) ?(\d\d)$", r"\1-\2", name)
    rows = _BOLTS.get(name)
    if rows is None:
        if name in NUTS:
            expected = f"a bolt for it is of class {NUTS[name].for_bolts} at most; name the bolt's"
            raise FastenerError(place, f"{name} is a class of nuts, not of bolts", expected)
        expected = suggestion(name, CLASSES) or f"classes are {listed(CLASSES, 20)}"
        raise FastenerError(place, f"“{name}” is no property class", expected)
    row = rows[diameter_mm > LARGE_ABOVE_MM]
    if row is None:
        problem = f"class {name} ends at {LARGE_ABOVE_MM:g} mm, and this is {diameter_mm:g} mm"
        raise FastenerError(place, problem, "read the mark on the head and the thread again")
    source = _ISO_3506_1 if "-" in name else _ISO_898_1
    return PropertyClass(name, row.tensile, row.yields, row.proof, source)


def material(text: str, *, place: str = "material") -> Material:
    """What the bolt is screwed into, by name. Raises FastenerError."""
    name = " ".join(text.split())[:60].casefold()
    name = _ALSO.get(name, name)
    if name not in MATERIALS:
        expected = suggestion(name, MATERIALS) or f"there are {listed(MATERIALS)}"
        raise FastenerError(place, f"“{name}” is no material known here", expected)
    return MATERIALS[name]


def marking(bolt: PropertyClass) -> str:
    """What the two numbers on a head say. Example of 8.8: 800 MPa, of which 80 % is its yield."""
    if "-" in bolt.name:
        grade, strength = bolt.name.split("-")
        return f"stainless steel {grade}, tensile strength at least {int(strength) * 10} MPa"
    first, second = bolt.name.split(".")
    nominal = int(first) * 100
    return (
        f"{first} × 100 = {nominal} MPa nominal tensile strength, "
        f"of which {second} tenths, {nominal * int(second) // 10} MPa, is its yield"
    )


def proof_load_n(stress_area_mm2: float, bolt: PropertyClass) -> float | None:
    """A_s × S_p in N (ISO 898-1); None where the class has no proof stress."""
    return None if bolt.proof_mpa is None else stress_area_mm2 * bolt.proof_mpa


def least_ultimate_load_n(stress_area_mm2: float, bolt: PropertyClass) -> float:
    """A_s × R_m,min in N (ISO 898-1)."""
    return stress_area_mm2 * bolt.tensile_mpa
