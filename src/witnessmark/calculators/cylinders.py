"""Cylinders: what leaks past in a differential test, and how alike the compressions are."""

from __future__ import annotations

from witnessmark import units
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    amount,
    amounts,
    believable,
    maybe_amount,
)
from witnessmark.facts import Limit, belief, judge
from witnessmark.units import Amount

MEMORY = "from memory"
LEAK_USUAL_PERCENT = (
    15.0  # common practice, no source but an owners' forum: 10 to 15 % typically acceptable
)
LEAK_LOOK_PERCENT = 20.0  # workshop practice, from memory
LEAK_SOURCE = (
    "differential test after FAA AC 43.13-1B; up to 15 % typically acceptable: an owners' forum; looked into above "
    f"20 %: workshop practice, {MEMORY}"
)
_SAME = 1e-9  # two floats that were written alike; for the program
SPREAD_PERCENT = 75.0  # workshop practice, from memory
SPREAD_SOURCE = f"workshop practice, {MEMORY}: the lowest at least 75 % of the highest"
AIR = (
    "Air pressure turns the engine: no spanner on the crank, hands off wheel, chain and propshaft; "
    "let the pressure in slowly."
)
CRANKING = "Ignition and injection dead, fuel and sparks apart, neutral: the engine is turned with an open plug hole."


def leakage_percent(supply: float, held: float) -> float:
    """What leaks, in per cent of the supply. Both in one unit."""
    return (1 - held / supply) * 100


def spread_percent(pressures: list[float]) -> float:
    """The lowest in per cent of the highest."""
    return min(pressures) / max(pressures) * 100


def _leak(inputs: Inputs) -> Calculated:
    supply = amount(inputs, "supply")
    held = amounts(inputs, "held", "pressure", units.unit_written(supply))
    if supply.value <= 0:
        raise CalculationError(
            "supply", "there is no pressure to lose", "give what the first gauge reads"
        )
    for place, one in enumerate(held, 1):
        if one.value > supply.value:
            problem = f"line {place}: {one.understood} is more than the supply"
            raise CalculationError("held", problem, "compare both gauges")
    leaks = [leakage_percent(supply.value, one.value) for one in held]
    worst = max(range(len(leaks)), key=lambda place: leaks[place])
    return Calculated(
        said=f"{_which(worst, leaks)}{leaks[worst]:.1f} % leaks: {_leaking(leaks[worst])}.",
        lines=tuple(
            (f"cylinder {place}", f"{one.understood} held, {leak:.1f} % leaks: {_leaking(leak)}")
            for place, (one, leak) in enumerate(zip(held, leaks, strict=True), 1)
        ),
        formula="leakage = (1 − held / supply) × 100 %",
        put_in=(),
        source=LEAK_SOURCE,
        warnings=(
            "Listen where it goes: exhaust, intake, crankcase breather, bubbles in the coolant.",
        ),
    )


def _which(place: int, several: list[float]) -> str:
    return f"Cylinder {place + 1}: " if len(several) > 1 else ""


def _leaking(percent: float) -> str:
    if percent > LEAK_LOOK_PERCENT + _SAME:
        return "to be looked into"
    if percent > LEAK_USUAL_PERCENT + _SAME:
        return "more than is usual"
    return "usual"


def _compression(inputs: Inputs) -> Calculated:
    least = maybe_amount(inputs, "least")
    # 170 may be psi or kPa: without the manual's least nothing tells, and every line needs its unit.
    read = amounts(inputs, "pressures", "pressure", units.unit_written(least) if least else "")
    unit = units.unit_written(least or read[0])
    believable("pressures", read, belief.COMPRESSION, alike=False)  # one may have none left
    if max(one.value for one in read) <= 0:
        raise CalculationError(
            "pressures", "no cylinder has any compression", "look at gauge and hose"
        )
    lines = list(_against(read, least, unit))
    warnings = [
        "Throttle wide open, battery full, engine warm, all plugs out; else the figures are low."
    ]
    if len(read) < 2:
        said, formula = (
            lines[0][1] if least else f"{read[0].understood}: nothing to compare it with",
            "as read",
        )
        warnings.append("One cylinder is compared with the manual's least only.")
    else:
        ratio = spread_percent([one.value for one in read])
        stands = judge(ratio, "count", low=Limit(SPREAD_PERCENT)).stand
        said = f"The lowest is {ratio:.1f} % of the highest: {_alike(stands)}"
        formula = "lowest / highest × 100 %"
    return Calculated(
        said=f"{said}.",
        lines=tuple(lines),
        formula=formula,
        put_in=(),
        source=SPREAD_SOURCE + ("; the least as put in" if least else ""),
        warnings=tuple(warnings),
    )


def _alike(stands: str) -> str:
    return {
        "below the limit": f"further apart than the {SPREAD_PERCENT:g} % of common practice",
        "at the limit": f"at the {SPREAD_PERCENT:g} % of common practice",
    }.get(stands, f"alike, by the {SPREAD_PERCENT:g} % of common practice")


def _against(read: list[Amount], least: Amount | None, unit: str) -> list[tuple[str, str]]:
    limit = Limit(least.value, "as put in") if least else None
    return [
        (
            f"cylinder {place}",
            judge(one.value, "pressure", low=limit, unit=unit).words if limit
            else units.show(one.value, "pressure", unit=unit),
        )
        for place, one in enumerate(read, 1)
    ]  # fmt: skip


CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="leak-down",
        title="Leak-down",
        text="What a cylinder loses of the air that is let in, piston at the top of its compression.",
        asked=(
            Asked("supply", "Supply pressure", "pressure", "80 psi"),
            Asked("held", "Pressure held, by cylinder", "lines", "72\n70",
                  help="A line each, in the unit of the supply or with its own."),
        ),
        calculate=_leak,
        caution=AIR,
        also=("leakage test", "leaking valve", "blow-by", "loss test"),
    ),
    Calculator(
        name="compression",
        title="Compression",
        text="How alike the compressions of the cylinders are, and whether each has its least.",
        asked=(
            Asked("pressures", "Compression, by cylinder", "lines", "1150 kPa\n1200 kPa\n980 kPa",
                  help="A line each; without a unit in that of the least, else kPa."),
            Asked("least", "Least of the manual", "pressure", "900 kPa", optional=True),
        ),
        calculate=_compression,
        caution=CRANKING,
        also=("compression gauge", "worn engine"),
    ),
)  # fmt: skip
