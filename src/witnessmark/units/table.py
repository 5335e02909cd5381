"""Which units a quantity may have, how people write them, and which values are believable."""

from __future__ import annotations

import re
from dataclasses import dataclass
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

    ``expression`` is how pint calls it; ``spellings`` are those besides the name, without blanks,
    dots and hyphens (``key``); ``finest`` is the most decimals that a tool in this unit shows.
    ``inverse``: it counts the other way round (more miles per gallon is less fuel per mile), and
    ``expression`` is that of one divided by it.
    """

    name: str
    expression: str
    spellings: tuple[str, ...] = ()
    finest: int = 2
    one: str = ""  # singular, where it differs
    inverse: bool = False


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

_POUNDS = ("lb", "lbs", "lbf", "lbsf", "pound", "pounds", "poundforce")


def _lever_of(forces: tuple[str, ...], arms: tuple[str, ...]) -> tuple[str, ...]:
    """A force on an arm, in either order: foot-pounds, pounds-foot."""
    return tuple(f"{one}{two}" for f in forces for a in arms for one, two in ((f, a), (a, f)))


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


def _fluid_units(whose: str, *expressions: str) -> tuple[Unit, ...]:
    """Quart, pint, gallon and fluid ounce of one of the two, whose it is before or behind."""
    finest = {"gal": 3, "fl oz": 1}
    return tuple(
        Unit(
            f"{whose} {short}", expression, _owned(whose, words), finest.get(short, 2),
        )
        for (short, words), expression in zip(_FLUID.items(), expressions, strict=True)
    )  # fmt: skip


# What a bare number's own unit may also be called.
SAME_UNIT: dict[str, tuple[str, ...]] = {
    "mm²/s": ("mm2/s", "cst", "centistoke", "centistokes"), "%": ("percent", "pct"),
    "°": ("deg", "degs", "degree", "degrees"),
    "mm²": ("mm2", "sqmm", "qmm", "squaremm"), "N/mm²": ("n/mm2", "mpa"),
}  # fmt: skip

_TABLE: dict[Quantity, tuple[Unit, ...]] = {
    "torque": (
        Unit("N·m", "newton * meter", ("newtonmetre", "newtonmeter", "newtonmetres", "newtonmeters")),
        Unit("lbf·ft", "force_pound * foot", _lever_of(_POUNDS, ("ft", "foot", "feet"))),
        Unit("lbf·in", "force_pound * inch", _lever_of(_POUNDS, ("in", "inch", "inches")), 1),
        Unit("kgf·m", "force_kilogram * meter", (*_lever_of(("kg", "kgf", "kp"), ("m",)), "kilogrammetre")),
        Unit("kgf·cm", "force_kilogram * centimeter", _lever_of(("kg", "kgf", "kp"), ("cm",)), 1),
        Unit("daN·m", "decanewton * meter", ("mdan",)),
        Unit("N·cm", "newton * centimeter", (), 0),
    ),
    "volume": (
        Unit("mL", "milliliter", ("cc", "ccm", "cm3", "millilitre", "millilitres", "milliliter", "milliliters"), 1),
        Unit("L", "liter", ("ltr", "ltrs", "lt", "litre", "litres", "liter", "liters", "dm3"), 3),
        Unit("cL", "centiliter", ("centilitre", "centilitres"), 1),
        *_fluid_units("US", "US_liquid_quart", "US_pint", "US_liquid_gallon", "US_fluid_ounce"),
        *_fluid_units("imp", "imperial_quart", "imperial_pint", "imperial_gallon", "imperial_fluid_ounce"),
        Unit("in³", "inch ** 3", ("in3", "cuin", "cubicinch", "cubicinches")),
    ),
    "length": (
        Unit("mm", "millimeter", ("millimetre", "millimetres", "millimeter", "millimeters"), 3),
        Unit("cm", "centimeter", ("centimetre", "centimetres", "centimeter", "centimeters"), 3),
        Unit("m", "meter", ("metre", "metres", "meter", "meters"), 3),
        Unit("µm", "micrometer", ("um", "micron", "microns"), 1),
        Unit("in", "inch", ("inch", "inches", '"', "″", "''"), 4),
        Unit("thou", "thou", ("mil", "mils"), 1),
        Unit("ft", "foot", ("foot", "feet", "'"), 3),
    ),
    "pressure": (
        Unit("kPa", "kilopascal", ("kilopascal", "kilopascals"), 1),
        Unit("bar", "bar", ("bars", "barg")),
        Unit("psi", "psi", ("psig", "lbf/in2", "lb/in2", "lbs/in2", "lbf/in²"), 1),
        Unit("kgf/cm²", "force_kilogram / centimeter ** 2", ("kgf/cm2", "kg/cm2", "kp/cm2")),
        Unit("MPa", "megapascal", ("megapascal", "megapascals"), 3),
        Unit("Pa", "pascal", ("pascal", "pascals"), 0),
        Unit("mbar", "millibar", ("millibar", "hpa", "hectopascal"), 0),
        Unit("mmHg", "millimeter_Hg", (), 0),
        Unit("cmHg", "centimeter_Hg", (), 1),
        Unit("inHg", "inch_Hg", ('"hg',), 1),
    ),
    "distance": (
        Unit("km", "kilometer", ("kms", "kilometre", "kilometres", "kilometer", "kilometers"), 0),
        Unit("mi", "mile", ("mile", "miles", "mls"), 0),
        Unit("m", "meter", ("metre", "metres", "meter", "meters"), 0),
    ),
    "duration": (
        Unit("months", "month", ("month", "mo", "mos", "mth", "mths", "mon"), 1, "month"),
        Unit("years", "year", ("year", "yr", "yrs", "y"), 2, "year"),
        Unit("weeks", "week", ("week", "wk", "wks"), 1, "week"),
        Unit("days", "day", ("day", "d"), 0, "day"),
    ),
    "voltage": (
        Unit("V", "volt", ("volt", "volts", "vdc", "vac"), 3),
        Unit("mV", "millivolt", ("millivolt", "millivolts"), 1),
    ),
    "current": (
        Unit("A", "ampere", ("amp", "amps", "ampere", "amperes"), 3),
        Unit("mA", "milliampere", ("milliamp", "milliamps", "milliampere", "milliamperes"), 2),
    ),
    "charge": (
        Unit("Ah", "ampere * hour", ("amphour", "amphours", "amperehour", "amperehours"), 2),
        Unit("mAh", "milliampere * hour", ("milliamphour", "milliamphours"), 0),
    ),
    "resistance": (  # no mΩ: beside MΩ it would hang on one letter's size
        Unit("Ω", "ohm", ("ohm", "ohms"), 3),
        Unit("kΩ", "kiloohm", ("k", "kohm", "kohms", "kiloohm", "kiloohms"), 3),
    ),
    "angle": (
        Unit("°", "degree", ("deg", "degs", "degree", "degrees"), 1),
        Unit("turns", "turn", ("turn", "rev", "revs", "revolution", "revolutions"), 3, "turn"),
    ),
    "rotation": (
        Unit("rpm", "revolution / minute", ("r/min", "rev/min", "/min", "min-1"), 0),
    ),
    "temperature": (
        Unit("°C", "degC", ("c", "degc", "celsius", "degreescelsius"), 1),
        Unit("°F", "degF", ("f", "degf", "fahrenheit", "degreesfahrenheit"), 1),
    ),
    "mass": (
        Unit("g", "gram", ("gr", "gram", "grams", "gramme", "grammes"), 1),
        Unit("kg", "kilogram", ("kgs", "kilo", "kilos", "kilogram", "kilograms"), 2),
        Unit("oz", "ounce", ("ounce", "ounces"), 2),
        Unit("lb", "pound", ("lbs", "pound", "pounds"), 2),
    ),
    "force": (
        Unit("N", "newton", ("newton", "newtons"), 1),
        Unit("kN", "kilonewton", ("kilonewton", "kilonewtons"), 3),
        Unit("kgf", "force_kilogram", ("kp", "kilogramforce"), 2),
        Unit("lbf", "force_pound", ("poundforce", "poundsforce"), 2),
    ),
    "speed": (
        Unit("km/h", "kilometer / hour", ("kmh", "kph", "kmph", "km/hr", "kilometresperhour", "kilometersperhour"), 1),
        Unit("mph", "mile / hour", ("mi/h", "milesperhour", "miles/h"), 1),
        Unit("m/s", "meter / second", ("metrespersecond", "meterspersecond")),
    ),
    "power": (
        Unit("kW", "kilowatt", ("kilowatt", "kilowatts")),
        Unit("W", "watt", ("watt", "watts"), 0),
        Unit("PS", "metric_horsepower",
             ("cv", "ch", "pk", "hk", *(text for hp in _HP for text in (f"metric{hp}", f"{hp}metric"))), 1),
        Unit("hp (mechanical)", "horsepower",
             ("bhp", *(text for hp in _HP for text in (f"mechanical{hp}", f"mech{hp}", f"{hp}mech")),
              *_owned("US", _HP), *_owned("imp", _HP)), 1),
    ),
    "consumption": (  # a centilitre per kilometre is a litre per hundred
        Unit("L/100 km", "centiliter / kilometer", ("l/100", "ltr/100km", "litre/100km", "litres/100km", "liters/100km",
                                                   "lper100km", "litresper100km", "litersper100km")),
        Unit("km/L", "liter / kilometer", ("kmperl", "kmpl", "kmperlitre", "kmperliter", "km/ltr"), inverse=True),
        Unit("US mpg", "US_liquid_gallon / mile", _owned("US", _MPG), 1, inverse=True),
        Unit("imp mpg", "imperial_gallon / mile", _owned("imp", _MPG), 1, inverse=True),
    ),
    "count": (
        Unit("", "dimensionless", ("pc", "pcs", "piece", "pieces", "x", "×", "off"), 0),
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
