"""Temperature sensors whose resistance falls with warmth, by the points that the manual gives."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from itertools import pairwise

from witnessmark import units
from witnessmark.calculators.graphs import graph
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    digits,
    maybe_amount,
    number,
)
from witnessmark.calculators.pairs import pairs, value_in
from witnessmark.facts import Limit, judge

KELVIN = 273.15  # by definition
BETA = (1_000.0, 8_000.0)  # K; judged by us: sensors of vehicles have 3000 to 4500
BEYOND_C = 30.0  # judged by us: so far past the manual's points the law still holds
SOURCE = "the law of a resistance that falls with warmth, with T in K: IEC 60539-1 (from memory)"
LIKE = "20 °C 2.45 kΩ, or 20 °C 2.0-3.0 kΩ"
_RANGE = re.compile(r"(?P<low>[^-–]+?) ?(?:-|–|\bto\b) ?(?P<high>.+)")


@dataclass(frozen=True)
class Point:
    """What a sensor has at a temperature, Ω; ``low`` and ``high`` as far as it may differ."""

    celsius: float
    low: float
    high: float

    @property
    def ohm(self) -> float:
        """The middle, in the proportion of its ends."""
        return math.sqrt(self.low * self.high)


def beta(first_c: float, first_ohm: float, second_c: float, second_ohm: float) -> float:
    """The constant B of a sensor by two points, K."""
    return math.log(first_ohm / second_ohm) / (1 / (first_c + KELVIN) - 1 / (second_c + KELVIN))


def ohm_at(celsius: float, at_c: float, at_ohm: float, b: float) -> float:
    """Resistance at another temperature, by one point and B."""
    return at_ohm * math.exp(b * (1 / (celsius + KELVIN) - 1 / (at_c + KELVIN)))


def celsius_at(ohm: float, at_c: float, at_ohm: float, b: float) -> float:
    """The temperature at which it has that resistance."""
    return 1 / (1 / (at_c + KELVIN) + math.log(ohm / at_ohm) / b) - KELVIN


def _between(points: list[Point], celsius: float) -> tuple[Point, Point]:
    """The two points on whose law a temperature stands; past an end, those of that end."""
    neighbours = list(pairwise(points))
    return next((two for two in neighbours if celsius <= two[1].celsius), neighbours[-1])


def _at(points: list[Point], celsius: float) -> Point:
    """What the sensor should have there."""
    one, two = _between(points, celsius)
    low, high = (
        ohm_at(celsius, one.celsius, a, beta(one.celsius, a, two.celsius, b))
        for a, b in ((one.low, two.low), (one.high, two.high))
    )
    return Point(celsius, min(low, high), max(low, high))


def _temperature(points: list[Point], ohm: float) -> float:
    neighbours = list(pairwise(points))
    one, two = next((two for two in neighbours if ohm >= two[1].ohm), neighbours[-1])
    b = beta(one.celsius, one.ohm, two.celsius, two.ohm)
    return celsius_at(ohm, one.celsius, one.ohm, b)


# ---------------------------------------------------------------- what is put in


def _ohms(text: str) -> tuple[float, float]:
    """One resistance, or a range of which the unit may stand once."""
    found = _RANGE.fullmatch(text.strip())
    if found is None:
        ohm = units.read(text, "resistance").value
        return ohm, ohm
    high = units.read(found["high"], "resistance")
    unit = units.unit_written(high)
    low = units.read(units.with_unit(found["low"], unit), "resistance")
    return low.value, high.value


def _points(inputs: Inputs) -> list[Point]:
    read = pairs(inputs, "points", (value_in("temperature"), "°C"), (_ohms, "Ω"), LIKE)
    points = sorted((Point(celsius, *ohms) for celsius, ohms in read), key=lambda one: one.celsius)
    if len(points) < 2:
        raise CalculationError("points", "one point makes no curve", "give two of the manual's")
    for place, (_, ohms) in enumerate(read, 1):
        if not 0 < ohms[0] <= ohms[1]:
            problem = f"line {place}: {ohms[0]:g} to {ohms[1]:g} Ω is no range of a sensor"
            raise CalculationError("points", problem, "give the smaller first, above nothing")
    for one, two in pairwise(points):
        _falls(one, two)
    return points


def _falls(one: Point, two: Point) -> None:
    """Raise CalculationError for two points that no such sensor has."""
    where = f"from {_degrees(one.celsius)} to {_degrees(two.celsius)}"
    if one.celsius == two.celsius:
        problem = f"{_degrees(one.celsius)} is given twice"
        raise CalculationError(
            "points", problem, "give each temperature once, a range as 2.0-3.0 kΩ"
        )
    if one.ohm <= two.ohm:
        problem = f"{where} its resistance does not fall"
        raise CalculationError(
            "points", problem, "a sensor that rises with warmth has another law: read its table"
        )
    b = beta(one.celsius, one.ohm, two.celsius, two.ohm)
    if not BETA[0] <= b <= BETA[1]:
        problem = f"{where} it would have a B of {b:.4g} K"
        raise CalculationError("points", problem, "look at the units: Ω or kΩ, °C or °F")  # fmt: skip


def _not_far(points: list[Point], celsius: float, name: str, said: str) -> None:
    low, high = points[0].celsius - BEYOND_C, points[-1].celsius + BEYOND_C
    if not low <= celsius <= high:
        problem = f"{said} is far outside the manual's points"
        raise CalculationError(
            name, problem, f"give more points, or {_degrees(low)} to {_degrees(high)}"
        )


# ---------------------------------------------------------------- the answer


def _sensor(inputs: Inputs) -> Calculated:
    points = _points(inputs)
    at, measured = maybe_amount(inputs, "at"), maybe_amount(inputs, "measured")
    tolerance = number(inputs, "tolerance", 0.0)
    if not 0 <= tolerance <= 50:  # judged by us
        problem = f"{tolerance:g} % is no tolerance of a sensor"
        raise CalculationError("tolerance", problem, "give 0 to 50")
    lines = [
        (f"B from {_degrees(one.celsius)} to {_degrees(two.celsius)}",
         f"{beta(one.celsius, one.ohm, two.celsius, two.ohm):.0f} K")
        for one, two in pairwise(points)
    ]  # fmt: skip
    said, spot, outside = "", None, []
    if measured is not None:
        if measured.value <= 0:
            raise CalculationError("measured", "it is shorted", "a sensor has more than 0 Ω")
        celsius = _temperature(points, measured.value)
        _not_far(points, celsius, "measured", f"{measured.understood} ({_degrees(celsius)})")
        said, spot = (
            f"{measured.understood} stands for {_degrees(celsius)}.",
            (celsius, measured.value),
        )
        outside.append(celsius)
    if at is not None:
        _not_far(points, at.value, "at", at.understood)
        should = _at(points, at.value)
        outside.append(at.value)
        said = f"At {at.understood} it should have {_ohm_words(should)}. {said}".strip()
        spot = spot or (at.value, should.ohm)
        if measured is not None:
            told, line = _judged(points, should, measured.value, tolerance)
            said, spot = f"{told} {said}", (at.value, measured.value)
            lines += line
    elif tolerance:
        raise CalculationError(
            "tolerance",
            "nothing is compared",
            "give temperature and measured resistance, or leave it out",
        )
    past = any(not points[0].celsius <= one <= points[-1].celsius for one in outside)
    return Calculated(
        said=said or f"B is {beta(points[0].celsius, points[0].ohm, points[-1].celsius, points[-1].ohm):.0f} K.",
        lines=tuple(lines),
        formula="B = ln(R1 / R2) / (1/T1 − 1/T2); R = R1 × exp(B × (1/T − 1/T1)), between the two points beside it",
        put_in=(("points", "; ".join(f"{_degrees(one.celsius)} {_ohm_words(one)}" for one in points)),),
        source=f"{SOURCE}; the points as put in, from the machine's manual",
        warnings=("Past the manual's points the law is less sure.",) if past else (),
        picture=_picture(points, spot),
    )  # fmt: skip


def _judged(
    points: list[Point], should: Point, ohm: float, tolerance: float
) -> tuple[str, list[tuple[str, str]]]:
    """Within what the manual's range, or the tolerance, leaves there; else how far it is off."""
    off = _temperature(points, ohm) - should.celsius
    lines = [
        (
            "the reading is off by",
            f"{_kelvin(off)}, {_signed((ohm / should.ohm - 1) * 100)} %",
        )
    ]
    if should.low == should.high and not tolerance:
        return f"It is {_kelvin(off)} off.", lines
    low, high = should.low * (1 - tolerance / 100), should.high * (1 + tolerance / 100)
    told = judge(ohm, "resistance", low=Limit(low), high=Limit(high))
    return f"{told.short[0].upper()}{told.short[1:]}.", lines  # fmt: skip


def _kelvin(difference: float) -> str:
    """A difference of temperatures, in the degrees chosen."""
    scale = units.usual_unit(0, "temperature")
    size = units.convert(difference, "temperature", scale) - units.convert(0, "temperature", scale)
    return f"{_signed(size)} {scale}"


def _signed(value: float) -> str:
    return f"{'−' if value < 0 else '+'}{digits(abs(value), 2)}"


def _degrees(celsius: float) -> str:
    return units.show(round(celsius, 1), "temperature")


def _ohm_words(point: Point) -> str:
    if math.isclose(point.low, point.high):
        return units.show(point.ohm, "resistance")
    return f"{units.show(point.low, 'resistance')} to {units.show(point.high, 'resistance')}"


def _picture(points: list[Point], spot: tuple[float, float] | None) -> str:
    """The manual's points, resistance on a scale of equal proportions, and the reading."""
    curve = [(one.celsius, math.log(one.ohm)) for one in points]
    ends = [one for one, _ in curve] + ([spot[0]] if spot else [])
    ohms = [math.exp(one) for _, one in curve] + ([spot[1]] if spot else [])
    low, high, least, most = min(ends), max(ends), min(ohms), max(ohms)
    across = [(c, _degrees(c)) for c in (low, (low + high) / 2, high)]
    up = [(math.log(r), _short(r)) for r in (least, math.sqrt(least * most), most)]
    at = (spot[0], math.log(spot[1])) if spot else None
    told = f"; the reading at {_degrees(spot[0])}" if spot else ""
    return graph(f"Resistance over temperature{told}", curve, across, up, at, dots=True)


def _short(ohm: float) -> str:
    return units.show(float(f"{ohm:.3g}"), "resistance")


CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="temperature-sensor",
        title="Temperature sensor",
        text="By two points of the manual or more: resistance at a temperature, temperature of a resistance.",
        asked=(
            Asked("points", "Points of the manual", "lines", "20 °C 2.45 kΩ\n80 °C 0.32 kΩ",
                  help="A line each: temperature and resistance, or its range as 2.0-3.0 kΩ. Bare numbers: °C and Ω."),
            Asked("at", "Temperature", "temperature", "50 °C", optional=True),
            Asked("measured", "Resistance measured", "resistance", "830 Ω", optional=True),
            Asked("tolerance", "Tolerance of the manual", "number", "10", optional=True, unit="%"),
        ),
        calculate=_sensor,
        caution="Coolant under pressure scalds: the cap stays shut until it is cold. Measure the sensor unplugged.",
        also=("NTC", "thermistor", "coolant sensor", "thermostat"),
    ),
)  # fmt: skip
