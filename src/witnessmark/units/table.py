"""Which units a quantity may have, how people write them, and which values are believable."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Literal, get_args

Quantity = Literal[
    "torque", "volume", "length", "pressure", "distance", "duration",
    "voltage", "current", "charge", "resistance", "angle", "rotation", "temperature", "mass", "force",
    "speed", "power", "consumption", "count", "words",
]  # fmt: skip
System = Literal["metric", "us", "imperial"]
QUANTITIES: tuple[Quantity, ...] = get_args(Quantity)


@dataclass(frozen=True)
class Unit:
    """One unit of one quantity.

    ``size`` is one of it in the base unit, and exact: an answer is rounded once, at its end. ``zero`` is its
    zero in the base unit (a temperature's). ``spellings`` are those besides the name, without blanks,
    dots and hyphens (``key``); ``finest`` is the most decimals that a tool in this unit shows.
    ``inverse``: it counts the other way round (more miles per gallon is less fuel per mile), and
    ``size`` is that of one divided by it.
    """

    name: str
    size: Fraction | int
    spellings: tuple[str, ...] = ()
    finest: int = 2
    one: str = ""  # singular, where it differs
    zero: Fraction | int = 0
    inverse: bool = False

    def to_base(self, value: Fraction) -> Fraction:
        """A value in this unit, in the base unit of its quantity. ZeroDivisionError for nothing in an inverse one."""
        return (1 / value if self.inverse else value) * self.size + self.zero

    def from_base(self, value: Fraction) -> Fraction:
        """A value in the base unit, in this one. ZeroDivisionError as above."""
        line = (value - self.zero) / self.size
        return 1 / line if self.inverse else line


@dataclass(frozen=True)
class Believable:
    """Believable values in the base unit; both ends belong to them, but for ``low`` where open."""

    low: float
    high: float
    open_low: bool = False


BASE: dict[Quantity, str] = {
    "torque": "N·m", "volume": "mL", "length": "mm", "pressure": "kPa", "distance": "km",
    "duration": "months", "voltage": "V", "current": "A", "charge": "Ah", "resistance": "Ω",
    "angle": "°", "rotation": "rpm", "temperature": "°C", "mass": "g", "force": "N",
    "speed": "km/h", "power": "kW", "consumption": "L/100 km", "count": "", "words": "",
}  # fmt: skip

# What can stand on a motorcycle or in its workshop. Beyond it something was mistyped.
# Judged by us; common practice, no source.
BOUNDS: dict[Quantity, Believable] = {
    "torque": Believable(0, 1_000, open_low=True),
    "volume": Believable(0, 250_000, open_low=True),  # a drum
    "length": Believable(0, 10_000),
    "pressure": Believable(0, 100_000),  # 1000 bar; a flat tyre reads 0
    "distance": Believable(0, 2_000_000),
    "duration": Believable(0, 1_200, open_low=True),  # a century
    "voltage": Believable(0, 1_000),
    "current": Believable(0, 2_000),  # a starter draws a few hundred
    "charge": Believable(0, 1_000, open_low=True),
    "resistance": Believable(0, 10_000_000),
    "angle": Believable(-360, 36_000),
    "rotation": Believable(0, 50_000),
    "temperature": Believable(-90, 1_500),
    "mass": Believable(0, 2_000_000, open_low=True),
    "force": Believable(0, 2_000_000),  # the preload of a large bolt is a few hundred kN
    "speed": Believable(0, 600),
    "power": Believable(0, 1_000, open_low=True),
    "consumption": Believable(0, 300, open_low=True),  # one mile to the gallon
    "count": Believable(0, 1_000_000),
}

# What the units are made of; each is exact by definition.
_INCH_MM = Fraction("25.4")  # NIST SP 811 (2008) App. B.8, as are foot, mile, pound and ounce
_FOOT_MM = 12 * _INCH_MM
_MILE_KM = 5280 * _FOOT_MM / 10**6
_POUND_G = Fraction("453.59237")
_FREE_FALL = Fraction("9.80665")  # m/s², standard: 3rd CGPM (1901)
_KILOGRAM_FORCE_N = _FREE_FALL
_POUND_FORCE_N = _POUND_G / 1000 * _FREE_FALL
_PSI_KPA = _POUND_FORCE_N / _INCH_MM**2 * 1000
_MERCURY_KPA = (
    Fraction("13.5951") * _FREE_FALL / 1000
)  # a millimetre of it, conventional: SP 811 App. B.8
_US_GALLON_ML = 231 * _INCH_MM**3 / 1000  # 231 in³: NIST Handbook 44 App. C
_IMPERIAL_GALLON_ML = Fraction("4546.09")  # UK Weights and Measures Act 1985
_MONTH_DAYS = Fraction("365.25") / 12  # of the Julian year; common practice, no source

_POUNDS = ("lb", "lbs", "lbf", "lbsf", "pound", "pounds", "poundforce")


def _lever_of(forces: tuple[str, ...], arms: tuple[str, ...], between: str = "") -> tuple[str, ...]:
    """A force on an arm, in either order: foot-pounds, pounds-foot; with a sign ``between`` that people write."""
    return tuple(
        f"{one}{sign}{two}"
        for f in forces
        for a in arms
        for one, two in ((f, a), (a, f))
        for sign in ("", *between)
    )


# One word, two measures: the fluid units of the United States and of the Empire.
_FLUID: dict[str, tuple[str, ...]] = {
    "qt": ("qt", "qts", "quart", "quarts", "liquidquart", "liquidquarts"),
    "pt": ("pt", "pts", "pint", "pints"),
    "gal": ("gal", "gals", "gallon", "gallons"),
    "fl oz": ("floz", "oz", "fluidounce", "fluidounces", "ounce", "ounces"),
}
_WHOSE = {"US": ("us", "usa", "american"), "imp": ("imp", "imperial", "uk", "british")}
_MPG = ("mpg", "mi/gal", "miles/gallon", "milespergallon")
_HP = ("hp", "horsepower", "horsepowers")


@dataclass(frozen=True)
class TwoMeanings:
    """Two units that are written alike: of which quantity, their names, and who means which."""

    quantity: Quantity
    names: tuple[str, str]
    why: str


_TWO_GALLONS = "is one thing in the United States and another in Britain"
TWO_MEANINGS: dict[str, TwoMeanings] = {
    **{
        spelling: TwoMeanings("volume", (f"US {short}", f"imp {short}"), _TWO_GALLONS)
        for short, spellings in _FLUID.items() for spelling in spellings
    },
    **{spelling: TwoMeanings("consumption", ("US mpg", "imp mpg"), _TWO_GALLONS) for spelling in _MPG},
    **{
        spelling: TwoMeanings(
            "power", ("hp (mechanical)", "PS"), "is 745.7 W in Britain and the United States, often 735.5 W elsewhere"
        )
        for spelling in _HP
    },
}  # fmt: skip


def _owned(whose: str, words: tuple[str, ...]) -> tuple[str, ...]:
    """Spellings with whose it is before or behind."""
    return tuple(
        text for word in words for own in _WHOSE[whose] for text in (own + word, word + own)
    )


def _fluid_units(whose: str, gallon_ml: Fraction, ounces: int) -> tuple[Unit, ...]:
    """Quart, pint, gallon and fluid ounce of one of the two, whose it is before or behind."""
    finest = {"gal": 3, "fl oz": 1}
    parts = {"qt": 4, "pt": 8, "gal": 1, "fl oz": ounces}  # of a gallon
    return tuple(
        Unit(
            f"{whose} {short}", gallon_ml / parts[short], _owned(whose, words), finest.get(short, 2),
        )
        for short, words in _FLUID.items()
    )  # fmt: skip


# What a bare number's own unit may also be called.
SAME_UNIT: dict[str, tuple[str, ...]] = {
    "mm²/s": ("mm2/s", "cst", "centistoke", "centistokes"), "%": ("percent", "pct"),
    "°": ("deg", "degs", "degree", "degrees"),
    "mm²": ("mm2", "sqmm", "qmm", "squaremm"), "N/mm²": ("n/mm2", "mpa"),
}  # fmt: skip

_TABLE: dict[Quantity, tuple[Unit, ...]] = {
    "torque": (
        Unit("N·m", 1, ("newtonmetre", "newtonmeter", "newtonmetres", "newtonmeters")),
        Unit("lbf·ft", _POUND_FORCE_N * _FOOT_MM / 1000, _lever_of(_POUNDS, ("ft", "foot", "feet"), "/")),
        Unit("lbf·in", _POUND_FORCE_N * _INCH_MM / 1000, _lever_of(_POUNDS, ("in", "inch", "inches")), 1),
        Unit("kgf·m", _KILOGRAM_FORCE_N, (*_lever_of(("kg", "kgf", "kp"), ("m",)), "kilogrammetre")),
        Unit("kgf·cm", _KILOGRAM_FORCE_N / 100, _lever_of(("kg", "kgf", "kp"), ("cm",)), 1),
        Unit("daN·m", 10, ("mdan",)),
        Unit("N·cm", Fraction(1, 100), (), 0),
    ),
    "volume": (
        Unit("mL", 1, ("cc", "ccm", "cm3", "millilitre", "millilitres", "milliliter", "milliliters"), 1),
        Unit("L", 1000, ("ltr", "ltrs", "lt", "litre", "litres", "liter", "liters", "dm3"), 3),
        Unit("cL", 10, ("centilitre", "centilitres"), 1),
        *_fluid_units("US", _US_GALLON_ML, 128),
        *_fluid_units("imp", _IMPERIAL_GALLON_ML, 160),
        Unit("in³", _INCH_MM**3 / 1000, ("in3", "cuin", "cubicinch", "cubicinches")),
    ),
    "length": (
        Unit("mm", 1, ("millimetre", "millimetres", "millimeter", "millimeters"), 3),
        Unit("cm", 10, ("centimetre", "centimetres", "centimeter", "centimeters"), 3),
        Unit("m", 1000, ("metre", "metres", "meter", "meters"), 3),
        Unit("µm", Fraction(1, 1000), ("um", "micron", "microns"), 1),
        Unit("in", _INCH_MM, ("inch", "inches", '"', "″", "''"), 4),
        Unit("thou", _INCH_MM / 1000, ("mil", "mils"), 1),
        Unit("ft", _FOOT_MM, ("foot", "feet", "'"), 3),
    ),
    "pressure": (
        Unit("kPa", 1, ("kilopascal", "kilopascals"), 1),
        Unit("bar", 100, ("bars", "barg")),
        Unit("psi", _PSI_KPA, ("psig", "lbf/in2", "lb/in2", "lbs/in2", "lbf/in²"), 1),
        Unit("kgf/cm²", _KILOGRAM_FORCE_N * 10, ("kgf/cm2", "kg/cm2", "kp/cm2")),
        Unit("MPa", 1000, ("megapascal", "megapascals"), 3),
        Unit("Pa", Fraction(1, 1000), ("pascal", "pascals"), 0),
        Unit("mbar", Fraction(1, 10), ("millibar", "hpa", "hectopascal"), 0),
        Unit("mmHg", _MERCURY_KPA, (), 0),
        Unit("cmHg", 10 * _MERCURY_KPA, (), 1),
        Unit("inHg", _INCH_MM * _MERCURY_KPA, ('"hg',), 1),
    ),
    "distance": (
        Unit("km", 1, ("kms", "kilometre", "kilometres", "kilometer", "kilometers"), 0),
        Unit("mi", _MILE_KM, ("mile", "miles", "mls"), 0),
        Unit("m", Fraction(1, 1000), ("metre", "metres", "meter", "meters"), 0),
    ),
    "duration": (
        Unit("months", 1, ("month", "mo", "mos", "mth", "mths", "mon"), 1, "month"),
        Unit("years", 12, ("year", "yr", "yrs", "y"), 2, "year"),
        Unit("weeks", 7 / _MONTH_DAYS, ("week", "wk", "wks"), 1, "week"),
        Unit("days", 1 / _MONTH_DAYS, ("day", "d"), 0, "day"),
    ),
    "voltage": (
        Unit("V", 1, ("volt", "volts", "vdc", "vac"), 3),
        Unit("mV", Fraction(1, 1000), ("millivolt", "millivolts"), 1),
    ),
    "current": (
        Unit("A", 1, ("amp", "amps", "ampere", "amperes"), 3),
        Unit("mA", Fraction(1, 1000), ("milliamp", "milliamps", "milliampere", "milliamperes"), 2),
    ),
    "charge": (
        Unit("Ah", 1, ("amphour", "amphours", "amperehour", "amperehours"), 2),
        Unit("mAh", Fraction(1, 1000), ("milliamphour", "milliamphours"), 0),
    ),
    "resistance": (  # no mΩ: beside MΩ it would hang on one letter's size
        Unit("Ω", 1, ("ohm", "ohms"), 3),
        Unit("kΩ", 1000, ("k", "kohm", "kohms", "kiloohm", "kiloohms"), 3),
    ),
    "angle": (
        Unit("°", 1, ("deg", "degs", "degree", "degrees"), 1),
        Unit("turns", 360, ("turn", "rev", "revs", "revolution", "revolutions"), 3, "turn"),
    ),
    "rotation": (
        Unit("rpm", 1, ("r/min", "rev/min", "/min", "1/min", "min-1", "U/min"), 0),
    ),
    "temperature": (
        Unit("°C", 1, ("c", "degc", "celsius", "degreescelsius"), 1),
        Unit("°F", Fraction(5, 9), ("f", "degf", "fahrenheit", "degreesfahrenheit"), 1, zero=Fraction(-160, 9)),
    ),
    "mass": (
        Unit("g", 1, ("gr", "gram", "grams", "gramme", "grammes"), 1),
        Unit("kg", 1000, ("kgs", "kilo", "kilos", "kilogram", "kilograms"), 2),
        Unit("oz", _POUND_G / 16, ("ounce", "ounces"), 2),
        Unit("lb", _POUND_G, ("lbs", "pound", "pounds"), 2),
    ),
    "force": (
        Unit("N", 1, ("newton", "newtons"), 1),
        Unit("kN", 1000, ("kilonewton", "kilonewtons"), 3),
        Unit("kgf", _KILOGRAM_FORCE_N, ("kp", "kilogramforce"), 2),
        Unit("lbf", _POUND_FORCE_N, ("poundforce", "poundsforce"), 2),
    ),
    "speed": (
        Unit("km/h", 1, ("kmh", "kph", "kmph", "km/hr", "kilometresperhour", "kilometersperhour"), 1),
        Unit("mph", _MILE_KM, ("mi/h", "milesperhour", "miles/h"), 1),
        Unit("m/s", Fraction(36, 10), ("metrespersecond", "meterspersecond")),
    ),
    "power": (
        Unit("kW", 1, ("kilowatt", "kilowatts")),
        Unit("W", Fraction(1, 1000), ("watt", "watts"), 0),
        Unit("PS", 75 * _KILOGRAM_FORCE_N / 1000,
             ("cv", "ch", "pk", "hk", *(text for hp in _HP for text in (f"metric{hp}", f"{hp}metric"))), 1),
        Unit("hp (mechanical)", 550 * _POUND_FORCE_N * _FOOT_MM / 10**6,
             ("bhp", *(text for hp in _HP for text in (f"mechanical{hp}", f"mech{hp}", f"{hp}mech")),
              *_owned("US", _HP), *_owned("imp", _HP)), 1),
    ),
    "consumption": (  # a centilitre per kilometre is a litre per hundred
        Unit("L/100 km", 1, ("l/100", "ltr/100km", "litre/100km", "litres/100km", "liters/100km",
                                                   "lper100km", "litresper100km", "litersper100km")),
        Unit("km/L", 100, ("kmperl", "kmpl", "kmperlitre", "kmperliter", "km/ltr"), inverse=True),
        Unit("US mpg", _US_GALLON_ML / 10 / _MILE_KM, _owned("US", _MPG), 1, inverse=True),
        Unit("imp mpg", _IMPERIAL_GALLON_ML / 10 / _MILE_KM, _owned("imp", _MPG), 1, inverse=True),
    ),
    "count": (
        Unit("", 1, ("pc", "pcs", "piece", "pieces", "x", "×", "off"), 0),
    ),
    "words": (),
}  # fmt: skip

UNITS: dict[Quantity, tuple[str, ...]] = {
    quantity: tuple(unit.name for unit in units) for quantity, units in _TABLE.items()
}
"""Names of the units that a tool or a person may use, per quantity; the first is no default."""

_JOINERS = str.maketrans("", "", " .·⋅∙•*-‑–")
_BRACKETED = re.compile(r"\(([^()]*)\)")
_EDGE = "·⋅∙•*-‑–"  # joins two units; before or behind one it is no part of it


def key(spelling: str) -> str:
    """A unit as it is compared: lower case, without blanks, dots, brackets, hyphens and multiplication
    signs between its parts. What stands before or behind it stays.
    """  # fmt: skip
    bare = _BRACKETED.sub(r" \1 ", spelling.strip()).strip()
    if bare.startswith((*_EDGE, ".")) or bare.endswith(tuple(_EDGE)) or ".." in bare:
        return spelling
    return bare.casefold().translate(_JOINERS)


def is_unit(spelling: str, unit: str) -> bool:
    """Whether a text says the unit of a bare number."""
    return key(spelling) in {key(unit), *SAME_UNIT.get(unit, ())}


@lru_cache(maxsize=1)
def _by_key() -> dict[Quantity, dict[str, Unit]]:
    return {
        quantity: {key(text): unit for unit in units for text in (unit.name, unit.one, *unit.spellings)}
        for quantity, units in _TABLE.items()
    }  # fmt: skip


def find(spelling: str, quantity: Quantity) -> Unit | None:
    """The unit of this quantity that is written so, if any."""
    return _by_key()[quantity].get(key(spelling))


def two_meanings(spelling: str, quantity: Quantity) -> TwoMeanings | None:
    """The two units of this quantity that are both written so, if there are."""
    two = TWO_MEANINGS.get(key(spelling))
    return two if two is not None and two.quantity == quantity else None


def unit_named(spelling: str, quantity: Quantity) -> str | None:
    """The name in `UNITS` of the unit that is written so, if any."""
    unit = find(spelling, quantity)
    return None if unit is None else unit.name


def kinds(spelling: str) -> tuple[Quantity, ...]:
    """The quantities that have a unit written so."""
    return tuple(quantity for quantity in QUANTITIES if find(spelling, quantity) is not None)


def named(name: str, quantity: Quantity) -> Unit:
    """The unit of that name; KeyError where the table has none."""
    return next(unit for unit in _TABLE[quantity] if unit.name == name)


def with_article(quantity: Quantity) -> str:
    """The quantity as a sentence needs it. Example: ``a torque``, ``an angle``, ``words``."""
    if quantity == "words":
        return "words"
    return f"an {quantity}" if quantity == "angle" else f"a {quantity}"
