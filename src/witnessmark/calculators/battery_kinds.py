"""Kinds of battery, each by its own table: what its voltage at rest tells, what may charge it, when it freezes.

No kind is judged by another's table; what no source tells of a kind is not told.
"""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.facts import Curve, on_bent_curve, on_curve

BCI = "BCI table for electrolyte of 1.265 at 26.7 °C, as battery makers restate it"
MEMORY = "from memory"
AGM = f"a vehicle maker's owner's manual, table of its AGM battery; the last row, flat, {MEMORY}"


@dataclass(frozen=True)
class Kind:
    """One kind of battery of nominally 12 V.

    ``curve``: volts at rest and per cent of charge, both rising. ``flat``: the volts between which charge cannot be
    told. ``most_v``: what it is charged with at most, where that is less than of other lead batteries.
    ``made_in``: nominal volts for which the table holds; 6 V of lead are three cells, half of six.
    """

    curve: Curve
    source: str
    charger: str
    flat: tuple[float, float] | None = None
    most_v: float | None = None
    made_in: tuple[int, ...] = (12, 6)  # by definition: cells of two volts


_SEALED = "It is sealed: never opened, never topped up."
KINDS: dict[str, Kind] = {
    "flooded": Kind(((12.06, 25), (12.24, 50), (12.45, 75), (12.65, 100)), BCI,
                    "Charge it in the open air, acid at its level."),
    "AGM": Kind(((11.80, 0), (12.00, 25), (12.30, 50), (12.60, 75), (12.80, 100)),
                f"{AGM}; published ones differ by 0.15 V at full charge",
                f"Charge it with a charger that its maker allows for AGM. {_SEALED}"),
    "gel": Kind(((11.80, 0), (12.00, 25), (12.35, 50), (12.65, 75), (12.85, 100)),
                f"common table of gel batteries, {MEMORY}",
                f"Charge it with a charger set for gel: a higher voltage ruins it. {_SEALED}",
                most_v=14.4),  # from memory; makers say 14.1 to 14.4 V
    "deep-cycle": Kind(
        ((11.72, 10), (11.88, 20), (12.02, 30), (12.20, 50), (12.28, 60), (12.36, 70), (12.46, 80), (12.58, 90),
         (12.70, 100)),
        "a sign maker's manual for its deep-cycle batteries, at 25 °C",
        "Charge it as its maker says: a deep-cycle battery may be flooded, AGM or gel."),
    "lithium": Kind(
        ((10.0, 0), (12.0, 9), (12.5, 14), (12.8, 17), (12.9, 20), (13.0, 30), (13.1, 40), (13.2, 70), (13.3, 90),
         (13.4, 99), (13.6, 100)),
        f"common table of four cells of lithium iron phosphate, {MEMORY}; makers' tables differ",
        "Charge lithium only with a charger its maker allows, never one that desulphates, and not below 0 °C unless "
        "its maker says so. A swollen, dented or hot one is not charged: it can burn.",
        flat=(12.9, 13.3), made_in=(12,)),
}  # fmt: skip
GRAVITY: Curve = ((0, 1.120), (25, 1.155), (50, 1.190), (75, 1.225), (100, 1.265))
"""Specific gravity of a flooded battery's electrolyte, by its charge in per cent. Source: BCI."""
FREEZES: Curve = (
    (1.000, 0.0),
    (1.100, -7.2),
    (1.150, -15.0),
    (1.200, -26.7),
    (1.250, -52.2),
    (1.280, -67.8),
)
"""Where electrolyte of that specific gravity freezes (°C). US Army Handbook TM 5-1185, table III, and OD1002."""
FREEZES_SOURCE = (
    "freezing by gravity: US Army TM 5-1185 table III and OD1002; gravity by charge: BCI"
)
WARM_C = 80 * 5 / 9 - 160 / 9  # 80 °F, for which the table of the BCI holds
VOLTS_PER_C = 0.024 / (10 * 5 / 9)
"""A flooded battery's reading is lowered by 0.024 V per 10 °F that it is colder than 80 °F. Source: BCI."""


def charge_percent(volts: float, kind: str) -> float | None:
    """State of charge by a straight line between the rows of the kind's table; None below its last row."""
    curve = KINDS[kind].curve
    if volts < curve[0][0]:
        return None
    return on_curve(curve, volts)


def charge_span(low_v: float, high_v: float, kind: str) -> tuple[float | None, float | None, bool]:
    """The charges between two readings; and whether they reach into where the voltage does not tell.

    There the span is widened to all of it.
    """
    flat = KINDS[kind].flat
    low, high = charge_percent(low_v, kind), charge_percent(high_v, kind)
    if flat is None or high_v < flat[0] or low_v > flat[1]:
        return low, high, False
    least, most = (charge_percent(volts, kind) for volts in flat)
    return (low if low_v < flat[0] else least), (high if high_v > flat[1] else most), True


def freezes_at(percent: float) -> float:
    """Where the electrolyte of a flooded battery of that charge freezes, °C."""
    return on_bent_curve(FREEZES, on_curve(GRAVITY, percent))


def at_table_temperature(volts: float, celsius: float) -> float:
    """What a cold flooded battery's reading is worth at the temperature of its table."""
    return volts - max(0.0, WARM_C - celsius) * VOLTS_PER_C
