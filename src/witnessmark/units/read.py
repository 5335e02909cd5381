"""Read what people type: a number with its unit, of the kind that is wanted."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

from witnessmark.errors import WitnessError
from witnessmark.units import numerals
from witnessmark.units.show import show, written
from witnessmark.units.table import (
    BASE,
    BOUNDS,
    TWO_MEANINGS,
    UNITS,
    Quantity,
    Unit,
    find,
    is_unit,
    key,
    kinds,
    two_meanings,
    with_article,
)

MOST_LETTERS = 200
_EXAMPLES: dict[Quantity, str] = {
    "torque": "60 N·m or 44 lbf·ft", "volume": "4.5 L or 180 mL", "length": "0.1 mm or 1/4 in",
    "pressure": "2.5 bar or 36 psi", "distance": "18000 km or 11000 mi",
    "duration": "24 months, 2 years or 6 weeks", "voltage": "12.6 V", "current": "0.8 mA or 30 A",
    "charge": "12 Ah", "resistance": "4.5 Ω", "angle": "90° or 1 1/2 turns", "rotation": "1100 rpm",
    "temperature": "20 °C or 68 °F", "mass": "250 g", "force": "12 kN or 2700 lbf",
    "speed": "90 km/h or 55 mph", "power": "70 kW, 95 PS or 94 hp (mechanical)",
    "consumption": "5.2 L/100 km, 45 US mpg or 54 imp mpg", "count": "4",
    "words": "SAE 80W-90",
}  # fmt: skip

_DIVIDED = {"volume", "mass", "angle", "distance", "duration"}
_ANY = "write a number with its unit, for instance 60 N·m, 4.5 L or 2.5 bar"
_NUMBER = "write a number, for instance 12 or 0.5"


class QuantityError(WitnessError):
    """A text that is not the quantity wanted: no unit, another kind, ambiguous, or unbelievable."""


@dataclass(frozen=True)
class Amount:
    """A quantity that was read.

    ``value`` is in ``unit``, the base unit of the quantity (`BASE`: N·m, mL, mm, kPa, km, months,
    V, °, °C, g; pieces for a count). Words have no number: their value is NaN and their unit empty.
    ``text`` is what was written; ``understood`` is what was taken from it, to be shown beside.
    """

    value: float
    unit: str
    text: str
    quantity: Quantity
    understood: str


def read(text: str, quantity: Quantity, *, place: str = "") -> Amount:
    """Read one quantity with its unit, as people write it.

    ``place`` names the field in an error; without it the kind of quantity does. A comma that may
    be a decimal sign or separate thousands ("1,234 km") is refused with both readings, unless only
    one of them is believable (`BOUNDS`) or, for a distance, the digits end in 00. A dot with three
    digits after it is a decimal point for lengths; elsewhere it is treated as the comma is. A fraction
    is read where the unit is divided so (3/16 in, 5/100 mm); else it may be two values.

    Raises QuantityError, and nothing else, whatever the text.
    """
    place = place or quantity
    shown = _shortened(text)
    if quantity == "words":
        return _words(text, place)
    if len(text) > MOST_LETTERS:
        raise QuantityError(place, f"{shown} is too long for a {quantity}", _want(quantity))
    number = numerals.start(numerals.plain_text(text))
    if number is None:
        raise QuantityError(place, _no_number(text), _want(quantity))
    if not number.readings:
        raise QuantityError(
            place, f"“{number.written}” in {shown} is not a number", _want(quantity)
        )
    unit = _unit(number.rest, number.written, quantity, place)
    if number.is_pair(_parts(quantity, unit)):
        raise QuantityError(place, *_two_values(number))
    value = _believable(number, unit, quantity, place)
    base = unit.to_base(value)
    return Amount(float(base), BASE[quantity], text, quantity, _understood(value, unit))


def read_any(text: str, *, place: str = "quantity", kind: Quantity | None = None) -> Amount:
    """Read a quantity of any kind: its unit tells which. ``kind`` decides where a unit has several.

    Raises QuantityError.
    """
    number = numerals.start(numerals.plain_text(text[:MOST_LETTERS]))
    told = kinds(number.rest) if number is not None else ()
    two = TWO_MEANINGS.get(key(number.rest)) if number is not None else None
    if two is not None and told:
        told += (two.quantity,)  # an ounce is a mass, too
    if kind is not None or len(told) == 1:
        return read(text, kind or told[0], place=place)
    if number is None:
        raise QuantityError(place, _no_number(text), _ANY)
    if not number.rest:
        raise QuantityError(place, f"“{number.written}” has no unit", _ANY)
    if told:
        problem = f"“{_cut(number.rest)}” is a unit of {' and of '.join(told)}"
        raise QuantityError(place, problem, "say which of them is meant")
    if two is not None:
        return read(text, two.quantity, place=place)  # asks which
    raise QuantityError(place, f"“{_cut(number.rest)}” is no unit that is known here", _ANY)


def read_difference(text: str, quantity: Quantity, *, place: str = "") -> float:
    """A difference, such as a tolerance, in the base unit: of a temperature only the scale counts.

    Raises QuantityError, also for one in a unit that counts the other way round (mpg).
    """
    number = numerals.start(numerals.plain_text(text[:MOST_LETTERS]))
    if quantity != "temperature":
        amount = read(text, quantity, place=place)
        unit = find(number.rest, quantity) if number is not None else None
        if unit is not None and unit.inverse:
            problem = f"how much {amount.understood} more or less comes to depends on the value"
            raise QuantityError(place or quantity, problem, "give it in %")
        return amount.value
    rest = number.rest if number is not None else ""
    zero = read(f"0 {rest}", quantity, place=place).value
    return read(text, quantity, place=place).value - zero


def read_number(
    text: str, *, unit: str = "", place: str = "number", most: float = math.inf
) -> float:
    """Read a bare number as people write it; ``unit`` may stand after it, nothing else.

    A comma or a dot with three digits after it is refused with both readings, as `read` does, unless
    only one of them is no more than ``most``: a gear of 2.571 is none of 2571.
    Raises QuantityError.
    """
    if len(text) > MOST_LETTERS:
        raise QuantityError(place, f"{_shortened(text)} is too long for a number", _NUMBER)
    number = numerals.start(numerals.plain_text(text))
    if number is None or not number.readings:
        raise QuantityError(place, _no_number(text), _NUMBER)
    if number.rest and not (unit and is_unit(number.rest, unit)):
        expected = f"give it in {unit}, or without a unit" if unit else _NUMBER
        raise QuantityError(place, f"“{_cut(number.rest)}” follows the number", expected)
    if unit == "%" and "/" in number.written:
        return _parts_of_a_whole(number, place)
    if number.is_pair(() if unit else numerals.INCH_PARTS):
        raise QuantityError(place, *_two_values(number))
    if len(number.readings) == 1 or abs(number.readings[0]) <= most < abs(number.readings[1]):
        return float(number.readings[0])
    decimal, grouped = number.readings
    sign = number.separator
    raise QuantityError(
        place, f"“{number.written}” may be {float(decimal):g} or {grouped}",
        f"write {grouped} without a separator, or {number.written.replace(sign, '.')}0",
    )  # fmt: skip


def _parts(quantity: Quantity, unit: Unit) -> tuple[int, ...]:
    """What a unit is divided into by those who write fractions: a lamp of 21/5 W is none of 4.2 W."""
    if quantity == "length":
        inch = unit.name in {"in", "ft"}
        return numerals.DECIMAL_PARTS + (numerals.INCH_PARTS if inch else ())
    return numerals.INCH_PARTS if quantity in _DIVIDED else ()


def _two_values(number: numerals.Numeral) -> tuple[str, str]:
    low, high = sorted(number.written.split("/"), key=float)
    return (
        f"“{number.written}” may be a range or a fraction, or two values",
        f"write one value, with decimals, or {low.strip()} to {high.strip()} where a range is asked for",
    )


def _parts_of_a_whole(number: numerals.Numeral, place: str) -> float:
    """50/50 is a half of each; any other pair, and a fraction of one per cent, is asked about."""
    parts = [part.strip() for part in number.written.split("/")]
    if parts[0] == parts[1] == "50":
        return 50.0
    problem = f"“{number.written}” may be a mix or a fraction"
    raise QuantityError(place, problem, "write the one share that is meant in %, such as 60 %")


_RATIO = re.compile(r"(?P<one>[^:/-]+?) ?(?::|/|-|\bto\b|\bin\b) ?(?P<other>[^:/-]+)")


def read_ratio(text: str, *, place: str = "ratio", most: float = math.inf) -> float:
    """Parts to one part, written as ``50``, ``1:50``, ``50 : 1``, ``1/50``, ``1 in 50``, ``50 to 1`` or ``2 %``.

    The larger part counts; ``most`` as in `read_number`. Raises QuantityError for anything else, and where no
    part is one.
    """
    plain = numerals.plain_text(text[: MOST_LETTERS + 1])
    expected = "write it as 1:50, or the parts to one, 50"
    if plain.endswith("%"):
        percent = read_number(plain, unit="%", place=place)
        if not 0 < percent <= 100:
            raise QuantityError(place, f"{_shortened(text)} is no ratio", expected)
        return 100 / percent
    found = _RATIO.fullmatch(plain)
    if found is None:
        return read_number(text, place=place, most=most)
    parts = sorted(read_number(part, place=place, most=most) for part in found.groups())
    if parts[0] != 1:
        raise QuantityError(place, f"{_shortened(text)} has no part of one", expected)
    return parts[1]


def with_unit(text: str, unit: str) -> str:
    """What was typed, with the unit that stands beside the field where none was typed. Example: ``60 N·m``."""
    number = numerals.start(numerals.plain_text(text[: MOST_LETTERS + 1])) if unit else None
    return text if number is None or number.rest else f"{text} {unit}"


def _no_number(text: str) -> str:
    if numerals.foreign_digits(numerals.plain_text(text)):
        return f"{_shortened(text)} has digits other than 0 to 9"
    return f"{_shortened(text)} does not start with a number"


def _words(text: str, place: str) -> Amount:
    stripped = " ".join(text.split())
    if not stripped:
        raise QuantityError(place, "nothing is written", "write the words, such as SAE 80W-90")
    if len(text) > 10 * MOST_LETTERS:
        raise QuantityError(place, f"{_shortened(text)} is too long", "write one line")
    return Amount(math.nan, "", text, "words", stripped)


def _unit(rest: str, number: str, quantity: Quantity, place: str) -> Unit:
    """The unit that follows the number, of the right kind."""
    if not rest and quantity != "count":
        raise QuantityError(place, f"“{number}” has no unit", _want(quantity))
    unit = find(rest, quantity)
    if unit is not None:
        return unit
    if rest[:1].isdigit() or rest[:1] in {"-", "±", ".", ",", "/", "+"}:
        raise QuantityError(
            place,
            f"“{number} {_cut(rest)}” is more than one number",
            "give one value with its unit; a range or a tolerance has fields of its own",
        )
    if (two := two_meanings(rest, quantity)) is not None:
        one, other = two.names
        raise QuantityError(
            place, f"“{rest}” {two.why}", f"write {number} {one} or {number} {other}"
        )
    raise QuantityError(place, _other_kind(number, rest, quantity), _want(quantity))


def _other_kind(number: str, rest: str, quantity: Quantity) -> str:
    others = kinds(rest)
    what = f"“{number} {_cut(rest)}”"
    if others:
        return f"{what} is {with_article(others[0])}, not {with_article(quantity)}"
    if any(letter.isdigit() for letter in rest):
        return f"{what} is more than one number"
    return f"{what}: “{_cut(rest)}” is no unit of {quantity}"


def _believable(number: numerals.Numeral, unit: Unit, quantity: Quantity, place: str) -> Fraction:
    """The one reading that can be meant."""
    believable = [value for value in number.readings if _fault(value, unit, quantity) is None]
    if not believable:
        value = number.readings[0]
        fault = _fault(value, unit, quantity)
        raise QuantityError(place, f"{_understood(value, unit)} {fault}", _range(quantity))
    if len(believable) == 1:
        return believable[0]
    if quantity == "distance" and (number.written.endswith("00") or number.readings[-1] >= 10_000):
        return believable[1]  # no odometer shows metres, and nobody writes two zeros of them
    if quantity == "length" and number.separator == ".":
        return believable[0]  # a micrometer reads 2.350 mm
    decimal, grouped = (_understood(value, unit) for value in believable)
    plain = f"{believable[1].numerator}"
    raise QuantityError(
        place, f"“{number.written}” may be {decimal} or {grouped}",
        f"write {plain} without a separator, or {number.written.replace(',', '.')}0",
    )  # fmt: skip


def _fault(value: Fraction, unit: Unit, quantity: Quantity) -> str | None:
    """Why nobody can mean this value, or None."""
    bounds = BOUNDS[quantity]
    base = unit.to_base(value) if value or not unit.inverse else bounds.low
    if quantity == "count" and value.denominator != 1:
        return "is not a whole number"
    if base < bounds.low and bounds.low == 0:
        return "is less than nothing"
    if bounds.open_low and base == bounds.low:
        return f"is no {quantity}"
    if base < bounds.low:
        return "is less than anything here can be"
    if base > bounds.high:
        return "is more than anything here can be"
    return None


def _understood(value: Fraction, unit: Unit) -> str:
    return written(value, unit, 6)


def _range(quantity: Quantity) -> str:
    bounds = BOUNDS[quantity]
    unit = (
        BASE[quantity] if quantity == "consumption" else None
    )  # nothing used has no miles per gallon
    low, high = (show(end, quantity, unit=unit) for end in (bounds.low, bounds.high))
    whole = "whole pieces, " if quantity == "count" else ""
    return f"give {whole}{'more than ' if bounds.open_low else ''}{low} to {high}"


def _want(quantity: Quantity) -> str:
    extra = f" (units: {', '.join(UNITS[quantity])})" if len(UNITS[quantity]) > 1 else ""
    return f"write for instance {_EXAMPLES[quantity]}{extra}"


def _cut(text: str, most: int = 40) -> str:
    return text if len(text) <= most else text[: most - 1] + "…"


def _shortened(text: str) -> str:
    return f"“{_cut(' '.join(text.split()))}”"
