"""Tables of tyre markings. Load and speed: ISO 4000-1 / UN Regulation 75 Annex 4 (seen in secondary copies).

M marks what is from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

# Load index 20 to 100 in kg. 30 to 95 seen but for 38, 41, 47, 60, 72, 74, 88, 90, 20 to 29 and 96 to 100: from memory.
_FIRST_INDEX = 20  # from memory
# The same.
_LOADS = (
    80, 82.5, 85, 87.5, 90, 92.5, 95, 97.5, 100, 103,
    106, 109, 112, 115, 118, 121, 125, 128, 132, 136,
    140, 145, 150, 155, 160, 165, 170, 175, 180, 185,
    190, 195, 200, 206, 212, 218, 224, 230, 236, 243,
    250, 257, 265, 272, 280, 290, 300, 307, 315, 325,
    335, 345, 355, 365, 375, 387, 400, 412, 425, 437,
    450, 462, 475, 487, 500, 515, 530, 545, 560, 580,
    600, 615, 630, 650, 670, 690, 710, 730, 750, 775, 800,
)  # fmt: skip
LOAD_KG: dict[int, float] = {_FIRST_INDEX + i: float(kg) for i, kg in enumerate(_LOADS)}

# Speed symbols in km/h. H stands between U and V. A1 to A8 (mopeds), C to G, and J, K from memory.
SPEED_KMH: dict[str, int] = {
    "A1": 5, "A2": 10, "A3": 15, "A4": 20, "A5": 25, "A6": 30, "A7": 35, "A8": 40,
    "B": 50, "C": 60, "D": 65, "E": 70, "F": 80, "G": 90, "J": 100, "K": 110, "L": 120, "M": 130, "N": 140,
    "P": 150, "Q": 160, "R": 170, "S": 180, "T": 190, "U": 200, "H": 210, "V": 240, "W": 270, "Y": 300,
}  # fmt: skip
SLOW = "A"  # its digit worn off or not moulded: one of A1 to A8
# From memory.
OVER_KMH = {
    "Z": 240,
    "V": 240,
    "W": 270,
    "Y": 300,
}  # in brackets, or in the size: above this figure

CONSTRUCTIONS = {"R": "radial", "B": "bias belted", "D": "bias (diagonal)", "-": "bias (diagonal)"}

# Letter of an alphanumeric size and the nearest metric width in mm (common practice, no source).
WIDTH_OF_LETTER = {
    "H": 80,
    "J": 90,
    "L": 90,
    "M": 100,
    "N": 110,
    "P": 110,
    "R": 120,
    "T": 130,
    "U": 140,
    "V": 150,
}

# UN Regulation 75 clause 3 and trade usage (from memory).
WORDS: dict[str, str] = {
    "M/C": "motorcycle rim (UN R75)",
    "TUBELESS": "without inner tube, on a rim made for it", "TL": "without inner tube, on a rim made for it",
    "TUBE TYPE": "with inner tube", "TT": "with inner tube", "TUBETYPE": "with inner tube",
    "FRONT": "for the front wheel", "FRONT WHEEL": "for the front wheel", "REAR": "for the rear wheel",
    "REAR WHEEL": "for the rear wheel", "F": "for the front wheel",
    "REINF": "reinforced", "REINFORCED": "reinforced", "REINF.": "reinforced",
    "M+S": "mud and snow", "M&S": "mud and snow", "M.S": "mud and snow", "MST": "multi-service tyre, road and off it",
    "NHS": "not for highway service", "TWI": "the wear indicators stand here", "RADIAL": "radial",
    "MOPED": "for mopeds", "DP": "for off-road competition",
}  # fmt: skip
DIRECTION_WORDS = (
    "ROTATION",
    "DIRECTION",
    "DIRECTION OF ROTATION",
    "DRIVE",
    "→",
    "←",
    "⟶",
    "⇒",
    "->",
    "<-",
)
DIRECTION = (
    "The arrow points the way the tyre turns when the machine rolls forward. "
    "Where front and rear have an arrow each, the word beside it tells which wheel."
)


@dataclass(frozen=True)
class TreadLimit:
    """The least tread depth the law of one place allows for one class; ``seen``: where it was read, or from memory."""

    key: str
    place: str
    applies_to: str
    depth_mm: float
    source: str
    note: str = ""


TREAD_LIMITS = (
    TreadLimit(
        "germany", "Germany", "motorcycles", 1.6, "StVZO section 36",
        "main tread: the middle three quarters of the width",
    ),
    TreadLimit("germany light", "Germany", "mopeds and light motorcycles to 125 cc class", 1.0, "StVZO section 36"),
    TreadLimit("austria", "Austria", "motor vehicles over 25 km/h but mopeds", 1.6, "KDV section 4(4)"),
    TreadLimit("austria moped", "Austria", "mopeds", 1.0, "KDV section 4(4)"),
    TreadLimit(
        "united kingdom", "United Kingdom", "motorcycles over 50 cc", 1.0,
        "Road Vehicles (Construction and Use) Regulations 1986, regulation 27",
        "in a continuous band of three quarters of the width; to 50 cc the tread must be seen",
    ),
    TreadLimit(
        "maryland", "Maryland (US)", "motorcycles at inspection", 0.79375, "COMAR 11.14.03.05",
        "printed as 1/32 in, or the indicator touching",
    ),
    TreadLimit(
        "us indicator", "United States", "wear indicators of new motorcycle tyres", 0.8, "49 CFR 571.119 S6.4",
        "a rule for the product, not a limit in use: each state sets its own",
    ),
)  # fmt: skip
