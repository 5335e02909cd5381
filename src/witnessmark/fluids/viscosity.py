"""Viscosity of oils in mm²/s: at another temperature, in a blend, as an index, as an ISO grade.

Walther's equation as ASTM D341 has it; the ASTM blending method of ASTM D7152; the viscosity
index of ASTM D2270 / ISO 2909; ISO 3448 viscosity grades.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.fluids.volume import FluidError

KELVIN = 273.15  # 0 °C, by definition
LEAST_MM2_S, MOST_MM2_S = 0.3, 2e7  # below and above, ASTM D341 says nothing
LEAST_C, MOST_C = -60.0, 250.0  # an oil that is a liquid, and still an oil; judged by us

# ISO 3448: midpoints at 40 °C; each grade reaches 10 % either side (ASTM D2422, clause 4.3).
ISO_VG = (
    2.2, 3.2, 4.6, 6.8, 10, 15, 22, 32, 46, 68, 100, 150, 220, 320, 460, 680, 1000, 1500, 2200, 3200,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Walther:
    """log10 log10 z = a − b log10 T: one oil's line through two viscosities (ASTM D341)."""

    a: float
    b: float

    def at(self, celsius: float) -> float:
        """Viscosity in mm²/s at a temperature. Raises FluidError outside what the equation covers."""
        exponent = self.a - self.b * math.log10(_kelvin(celsius, "temperature"))
        if not -3 < exponent < 0.9:
            problem = f"the line of this oil does not reach {celsius:g} °C"
            raise FluidError(
                "temperature", problem, "ask for a temperature nearer to the two measured"
            )
        return _from_z(10**10**exponent)


def walther(low: tuple[float, float], high: tuple[float, float]) -> Walther:
    """The line through (°C, mm²/s) at two temperatures, colder first.

    Raises FluidError where the warmer oil is not the thinner one.
    """
    (cold, thick), (warm, thin) = low, high
    if not cold < warm:
        raise FluidError(
            "temperature", "the two temperatures are not apart", "give the colder first"
        )
    if not thin < thick:
        problem = f"{thin:g} mm²/s at {warm:g} °C is not less than {thick:g} mm²/s at {cold:g} °C"
        raise FluidError("viscosity", problem, "an oil gets thinner as it gets warm")
    one, two = _loglog(thick, "viscosity"), _loglog(thin, "viscosity")
    b = (one - two) / (math.log10(_kelvin(warm, "temperature") / _kelvin(cold, "temperature")))
    return Walther(one + b * math.log10(_kelvin(cold, "temperature")), b)


def blend(parts: Sequence[tuple[float, float]]) -> float:
    """Viscosity of a blend of (volume in mL, mm²/s) at one temperature: ASTM blending method, D7152.

    The double logarithms are averaged by volume. Not for oils with viscosity index improvers, says
    its scope: most fork and multigrade oils have some, so the answer is an estimate.
    """
    total = sum(_positive(volume, "volume") for volume, _ in parts)
    if not parts:
        raise FluidError("parts", "there is nothing to blend", "give two oils or more")
    mean = sum(volume / total * _loglog(thick, "viscosity") for volume, thick in parts)
    return _from_z(10**10**mean)


@dataclass(frozen=True, slots=True)
class Share:
    """How much of each of two oils makes up a volume of the viscosity wanted."""

    first_ml: float
    second_ml: float
    first_share: float


def share(wanted: float, first: float, second: float, total_ml: float) -> Share:
    """How much of two oils (mm²/s at one temperature) gives a blend: inverse ASTM method, D7152.

    Raises FluidError where the wanted viscosity does not lie between the two.
    """
    low, high = sorted((first, second))
    if not low <= wanted <= high:
        problem = f"{wanted:g} mm²/s does not lie between {low:g} and {high:g} mm²/s"
        raise FluidError("wanted", problem, "no blend of these two gets there: take another oil")
    _positive(total_ml, "volume")
    one, two, goal = (_loglog(x, "viscosity") for x in (first, second, wanted))
    part = 1.0 if one == two else (goal - two) / (one - two)
    return Share(total_ml * part, total_ml * (1 - part), part)


def viscosity_index(at_40: float, at_100: float) -> float:
    """Viscosity index of an oil by its mm²/s at 40 and 100 °C (ASTM D2270 / ISO 2909).

    Procedure A up to 100, procedure B above. Raises FluidError below 2 mm²/s at 100 °C.
    """
    _loglog(at_40, "viscosity at 40 °C")
    if not 2 <= at_100 < at_40:
        problem = f"{at_40:g} mm²/s at 40 °C and {at_100:g} mm²/s at 100 °C"
        raise FluidError(
            "viscosity", problem, "the index begins at 2 mm²/s at 100 °C, thicker when cold"
        )
    of_zero, of_hundred = _series(at_100)
    if at_40 >= of_hundred:
        return 100 * (of_zero - at_40) / (of_zero - of_hundred)
    power = math.log10(of_hundred / at_40) / math.log10(at_100)
    return float(100 + (10**power - 1) / 0.00715)


def iso_grade(at_40: float) -> float | None:
    """The ISO 3448 grade a viscosity at 40 °C belongs to, by its midpoint; None between two grades."""
    ranges = {mid: iso_range(mid) for mid in ISO_VG}
    return next((mid for mid, (low, high) in ranges.items() if low <= at_40 <= high), None)


def iso_range(midpoint: float) -> tuple[float, float]:
    """Least and most mm²/s at 40 °C of an ISO 3448 grade; both belong to it."""
    return round(0.9 * midpoint, 4), round(1.1 * midpoint, 4)


# From mm²/s at 100 °C: coefficients of L (VI 0) and H (VI 100) at 40 °C, a y² + b y + c, for y up to the
# first number. ASTM D2270 Table 2 as equations; from memory, compared with a general library's table.
_SERIES = (
    (3.8, (1.14673, 1.7576, -0.109), (0.84155, 1.5521, -0.077)),
    (4.4, (3.38095, -15.4952, 33.196), (0.78571, 1.7929, -0.183)),
    (5.0, (2.5, -7.2143, 13.812), (0.82143, 1.5679, 0.119)),
    (6.4, (0.101, 16.635, -45.469), (0.04985, 9.1613, -18.557)),
    (7.0, (3.35714, -23.5643, 78.466), (0.22619, 7.7369, -16.656)),
    (7.7, (0.01191, 21.475, -72.87), (0.79762, -0.7321, 14.61)),
    (9.0, (0.41858, 16.1558, -56.04), (0.05794, 10.5156, -28.24)),
    (12.0, (0.88779, 7.5527, -16.6), (0.26665, 6.7015, -10.81)),
    (15.0, (0.7672, 10.7972, -38.18), (0.20073, 8.4658, -22.49)),
    (18.0, (0.97305, 5.3135, -2.2), (0.28889, 5.9741, -4.93)),
    (22.0, (0.97256, 5.25, -0.98), (0.24504, 7.416, -16.73)),
    (28.0, (0.91413, 7.4759, -21.82), (0.20323, 9.1267, -34.23)),
    (40.0, (0.87031, 9.7157, -50.77), (0.18411, 10.1015, -46.75)),
    (55.0, (0.84703, 12.6752, -133.31), (0.17029, 11.4866, -80.62)),
    (70.0, (0.85921, 11.1009, -83.19), (0.1713, 11.368, -76.94)),
    (math.inf, (0.83531, 14.6731, -216.246), (0.16841, 11.8493, -96.947)),
)


def _series(y: float) -> tuple[float, float]:
    low, high = next((low, high) for most, low, high in _SERIES if y <= most)
    return low[0] * y * y + low[1] * y + low[2], high[0] * y * y + high[1] * y + high[2]


def _loglog(viscosity: float, place: str) -> float:
    if not LEAST_MM2_S <= viscosity <= MOST_MM2_S:
        problem = f"{viscosity:g} mm²/s is no viscosity of an oil"
        raise FluidError(place, problem, f"give {LEAST_MM2_S:g} to {MOST_MM2_S:.0e} mm²/s")
    return math.log10(math.log10(_to_z(viscosity)))


def _to_z(v: float) -> float:
    return v + 0.7 + _thin(v)


def _thin(v: float) -> float:
    return math.exp(-1.47 - 1.84 * v - 0.51 * v * v)  # matters below 2 mm²/s


def _from_z(z: float) -> float:
    """The viscosity of a z, by steps that more than halve the error; D341 prints an approximation."""
    v = z - 0.7
    for _ in range(60):
        v = z - 0.7 - _thin(v)
    return v


def _kelvin(celsius: float, place: str) -> float:
    if not LEAST_C <= celsius <= MOST_C:
        problem = f"{celsius:g} °C is no temperature of an oil at work"
        raise FluidError(place, problem, f"give {LEAST_C:g} to {MOST_C:g} °C")
    return celsius + KELVIN


def _positive(volume_ml: float, place: str) -> float:
    if not (math.isfinite(volume_ml) and volume_ml > 0):
        raise FluidError(place, f"{volume_ml:g} mL is no volume", "give more than 0 mL")
    return volume_ml
