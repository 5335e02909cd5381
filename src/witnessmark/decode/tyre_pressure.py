"""Tyre pressure at another temperature. Gay-Lussac's law on absolute pressure: p1 / T1 = p2 / T2."""

from __future__ import annotations

import math

from witnessmark.decode.errors import DecodeError

ATMOSPHERE_KPA = 101.325  # standard atmosphere, ISO 2533
KELVIN = 273.15  # 0 °C, by definition
SOURCE = "ideal gas law, absolute pressure; standard atmosphere 101.325 kPa (ISO 2533)"
COLD = (
    "Pressure is set cold: not ridden for some hours, out of the sun (common practice, no source). "
    "Never let air out of a hot tyre: cold, it would be too low."
)
_LOWEST_C, _HIGHEST_C = -60.0, 200.0  # of a tyre; judged by us


def pressure_at(
    gauge_kpa: float,
    from_c: float,
    to_c: float,
    *,
    atmosphere_kpa: float = ATMOSPHERE_KPA,
    volume_ratio: float = 1.0,
) -> float:
    """The gauge pressure after the air went from one temperature to another.

    ``volume_ratio``: volume after over volume before, 1 for a tyre that keeps its shape.
    Raises DecodeError for temperatures and pressures that no tyre has.
    """
    for name, celsius in (("at", from_c), ("to", to_c)):
        if not (math.isfinite(celsius) and _LOWEST_C <= celsius <= _HIGHEST_C):
            raise DecodeError(
                name, f"{celsius:g} °C is no temperature of a tyre", "give −60 °C to 200 °C"
            )
    if not (math.isfinite(gauge_kpa) and 0 <= gauge_kpa <= 2000):
        raise DecodeError(
            "pressure", f"{gauge_kpa:g} kPa is no tyre pressure", "give 0 kPa to 2000 kPa"
        )
    if not (math.isfinite(atmosphere_kpa) and 40 <= atmosphere_kpa <= 120):
        raise DecodeError(
            "atmosphere", f"{atmosphere_kpa:g} kPa is no air pressure", "give 40 kPa to 120 kPa"
        )
    if not (math.isfinite(volume_ratio) and 0.5 <= volume_ratio <= 2):
        raise DecodeError("volume", f"{volume_ratio:g} is no ratio of volumes", "give 0.5 to 2")
    absolute = (gauge_kpa + atmosphere_kpa) * (to_c + KELVIN) / (from_c + KELVIN) / volume_ratio
    return absolute - atmosphere_kpa
