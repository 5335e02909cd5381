"""Volumes of a cylinder: displacement, compression ratio, and the squish that solder shows."""

from __future__ import annotations

import math

from witnessmark import units
from witnessmark.calculators.engine_pictures import chamber
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    amount,
    believable,
    maybe_amount,
    value_or,
    whole_number,
)
from witnessmark.calculators.rows import length, limits, rows
from witnessmark.facts import judge
from witnessmark.facts.belief import New

BORE_MM, STROKE_MM = (20.0, 150.0), (20.0, 150.0)  # judged by us
MOST_CYLINDERS = 8  # judged by us
RATIO = (4.0, 20.0)  # judged by us: outside, a unit was mistyped
SQUISH = New("the squish of an engine that runs", 6)  # mm; judged by us
GASKET = New("a head gasket", 4)  # mm; judged by us
RAISED = (
    "What raises compression raises heat and knock: the maker's figures for ratio, fuel and squish decide. Turn the "
    "engine by hand before it is started."
)
SOLDER = (
    "Solder thicker than the gap, on both sides at once in line with the gudgeon pin, so that the piston does not "
    "tilt; head tightened, turned over by hand."
)
LEVEL = "Filled to the brim through the plug hole, chamber level, plug in its depth: air left inside makes it small."


def volume_ml(bore_mm: float, height_mm: float) -> float:
    """Of a cylinder. Exact: 1 mL = 1000 mm³."""
    return math.pi / 4 * bore_mm**2 * height_mm / 1000


def _cc(ml: float) -> str:
    """An engine's volume as it is spoken of. Example: ``123.7 cm³ (7.55 in³)``."""
    return f"{ml:.1f} cm³ ({units.show(ml, 'volume', unit='in³')})"


def _measure(inputs: Inputs, name: str, bounds: tuple[float, float]) -> float:
    given = amount(inputs, name)
    if not bounds[0] <= given.value <= bounds[1]:
        problem = f"a {name} of {given.understood} is no motorcycle's"
        raise CalculationError(name, problem, f"give {length(bounds[0])} to {length(bounds[1])}")
    return given.value


def _displacement(inputs: Inputs) -> Calculated:
    bore, stroke = _measure(inputs, "bore", BORE_MM), _measure(inputs, "stroke", STROKE_MM)
    cylinders = whole_number(inputs, "cylinders", 1)
    if not 1 <= cylinders <= MOST_CYLINDERS:
        problem = f"{cylinders} cylinders are no motorcycle's"
        raise CalculationError("cylinders", problem, f"give 1 to {MOST_CYLINDERS}")
    one = volume_ml(bore, stroke)
    lines = [("one cylinder", _cc(one)), ("bore / stroke", f"{bore / stroke:.3f}")]
    if "rebored" in inputs:
        then = _rebored(inputs, bore)
        new = cylinders * volume_ml(then, stroke)
        lines.append(
            (
                f"at {amount(inputs, 'rebored').understood}",
                f"{_cc(new)}, {100 * ((then / bore) ** 2 - 1):.1f} % more",
            )
        )
    return Calculated(
        said=f"{_cc(cylinders * one)}.",
        lines=tuple(lines),
        formula="displacement = π / 4 × bore² × stroke × cylinders",
        put_in=(),
        source="plain arithmetic",
    )  # fmt: skip


def _rebored(inputs: Inputs, bore: float) -> float:
    then = _measure(inputs, "rebored", BORE_MM)
    if not bore < then <= 1.2 * bore:  # judged by us
        problem = f"{amount(inputs, 'rebored').understood} is no rebore of {length(bore)}"
        raise CalculationError("rebored", problem, "give the whole bore as it will be")
    return then


def _ratio(inputs: Inputs) -> Calculated:
    bore, stroke = _measure(inputs, "bore", BORE_MM), _measure(inputs, "stroke", STROKE_MM)
    gasket, gasket_bore = value_or(inputs, "gasket"), value_or(inputs, "gasket_bore", bore)
    if "gasket" in inputs:
        believable("gasket", [amount(inputs, "gasket")], GASKET)
    if "gasket_bore" in inputs and not gasket:
        raise CalculationError(
            "gasket", "a gasket without thickness has no bore", "give its thickness as crushed"
        )
    if not 0.9 * bore <= gasket_bore <= 1.5 * bore:  # judged by us
        problem = (
            f"{amount(inputs, 'gasket_bore').understood} does not go with a bore of {length(bore)}"
        )
        raise CalculationError("gasket_bore", problem, "measure its hole")
    deck, crown = (
        _signed(inputs, "deck", "deck_is", "above"),
        _signed(inputs, "crown", "crown_is", "dome"),
    )
    if abs(deck) > stroke / 4:  # judged by us
        problem = f"{amount(inputs, 'deck').understood} is no distance of a piston at its top"
        raise CalculationError(
            "deck", problem, "measure from the cylinder's upper face to the edge of the crown"
        )
    parts = {
        "chamber": amount(inputs, "chamber").value,
        "gasket": volume_ml(gasket_bore, gasket),
        "piston to deck": volume_ml(bore, deck),
        "piston crown": crown,
    }
    left, swept = sum(parts.values()), volume_ml(bore, stroke)
    if left <= 0:
        problem = f"above the piston {left:.1f} cm³ are left"
        raise CalculationError(
            "crown" if "crown" in inputs else "chamber",
            problem,
            "look at what adds and what takes away",
        )
    whole = (swept + left) / left
    said = f"Compression ratio {whole:.2f} : 1"
    lines = [("swept", _cc(swept)), ("left at the top", _cc(left))]
    if port := maybe_amount(inputs, "port"):
        if not 0 < port.value < stroke:
            problem = f"{port.understood} is not within the stroke"
            raise CalculationError(
                "port", problem, "give the travel from TDC to the upper edge of the port"
            )
        closed = (volume_ml(bore, port.value) + left) / left
        said = f"Compression ratio {closed:.2f} : 1 from the closing of the exhaust port, {whole:.2f} : 1 over the "
        said += "whole stroke"
        lines.append(("swept once the port is shut", _cc(volume_ml(bore, port.value))))
    nothing = [name for name in ("gasket", "deck", "crown") if name not in inputs]
    odd = not RATIO[0] <= whole <= RATIO[1]
    return Calculated(
        said=f"{said}.",
        lines=(*lines, ("half a cubic centimetre less left makes it", f"{_less(swept, left)}")),
        formula="ratio = (swept + left) / left; left = chamber + gasket + deck + dish, or − dome",
        put_in=(("counted as nothing", ", ".join(nothing)),) if nothing else (),
        source="plain arithmetic; two-stroke, from the closing of the exhaust port: swept above its upper edge",
        warnings=(*(("Hard to believe: look at the units of chamber and crown.",) if odd else ()), LEVEL),
        picture=chamber({name: ml for name, ml in parts.items() if ml}),
    )  # fmt: skip


def _less(swept: float, left: float) -> str:
    return f"{(swept + left - 0.5) / (left - 0.5):.2f} : 1" if left > 1 else "more than can be told"


def _signed(inputs: Inputs, name: str, side: str, less: str) -> float:
    """A quantity that adds to what is left at the top, or takes from it where its side says so."""
    if name not in inputs and side in inputs:
        raise CalculationError(
            name, f"it is {inputs[side]}, but by how much?", "give it, or leave both empty"
        )
    return value_or(inputs, name) * (-1 if str(inputs.get(side, "")).startswith(less) else 1)


# ---------------------------------------------------------------- squish


def _squish(inputs: Inputs) -> Calculated:
    read = [
        (name, one)
        for name, (one,) in rows(inputs, "solder", "length", "mm", "place", "left: 1.05")
    ]
    believable("solder", [one for _, one in read], SQUISH)
    low, high = limits(inputs)
    tight, wide = (choose(read, key=lambda row: row[1].value) for choose in (min, max))
    sides = [judge(tight[1].value, "length", low=low).words] if low else []
    sides += [judge(wide[1].value, "length", high=high).words] if high else []
    spread = wide[1].value - tight[1].value
    said = "; ".join(sides) or f"{length(tight[1].value)} at the tightest; no limit is put in"
    few = len(read) < 2
    return Calculated(
        said=f"{said}.",
        lines=(
            *((name, one.understood) for name, one in read),
            ("tightest", f"{length(tight[1].value)}, {tight[0]}"),
            ("differs by", length(spread)),
        ),
        formula="the least of the readings against the least, the greatest against the most",
        put_in=(),
        source="limits as put in; solder crushed at the edge of the piston: common practice, no source",
        warnings=(
            *(("One reading tells nothing of a piston that tilts: lay solder on both sides.",) if few else ()),
            SOLDER,
        ),
    )  # fmt: skip


_BORE = Asked("bore", "Bore", "length", "54 mm")
_STROKE = Asked("stroke", "Stroke", "length", "54.5 mm")
CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="displacement",
        title="Displacement",
        text="Of bore and stroke, and what a rebore makes of it.",
        asked=(
            _BORE, _STROKE,
            Asked("cylinders", "Cylinders", "number", "2", optional=True, help="Left empty: 1."),
            Asked("rebored", "Bore after the rebore", "length", "54.5 mm", optional=True),
        ),
        calculate=_displacement,
        also=("cubic capacity", "cc", "swept volume", "oversize"),
    ),
    Calculator(
        name="compression-ratio",
        title="Compression ratio",
        text="From measured volumes; of a two-stroke also from the closing of its exhaust port.",
        asked=(
            _BORE, _STROKE,
            Asked("chamber", "Combustion chamber, measured", "volume", "8.5 cc"),
            Asked("gasket", "Head gasket, thickness as crushed", "length", "0.5 mm", optional=True),
            Asked("gasket_bore", "Hole of the gasket", "length", "55 mm", optional=True, help="Left empty: the bore."),
            Asked("deck", "Piston from the upper face of the cylinder, at TDC", "length", "0.3 mm", optional=True),
            Asked("deck_is", "The piston then stands", "choice", "below", ("below", "above"), optional=True,
                  help="Left empty: below."),
            Asked("crown", "Dish or dome of the piston", "volume", "0.8 cc", optional=True,
                  help="Valve pockets are dish."),
            Asked("crown_is", "It is a", "choice", "dome", ("dish", "dome"), optional=True, help="Left empty: dish."),
            Asked("port", "Two-stroke: travel from TDC until the exhaust port opens", "length", "28 mm", optional=True),
        ),
        calculate=_ratio,
        caution=RAISED,
        also=("burette", "head volume", "cc"),
    ),
    Calculator(
        name="squish",
        title="Squish",
        text="Solder crushed between piston and head, against the limits put in.",
        asked=(
            Asked("solder", "Thickness of the solder at each place", "lines", "left: 1.05\nright: 1.12",
                  help="A line each, in mm or with another unit."),
            Asked("least", "Least", "length", "0.9 mm", optional=True),
            Asked("most", "Most", "length", "1.3 mm", optional=True),
        ),
        calculate=_squish,
        caution=RAISED,
        also=("quench", "piston to head", "deck clearance"),
    ),
)  # fmt: skip
