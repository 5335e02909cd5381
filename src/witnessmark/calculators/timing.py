"""Timing: piston travel and degrees before the top, marks on a rim, and what the points of a cam say."""

from __future__ import annotations

import math
import re

from witnessmark import units
from witnessmark.calculators.engine_pictures import crank, valve_timing
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    amount,
    number,
)
from witnessmark.calculators.rows import length
from witnessmark.units import Amount

MOST_ADVANCE_DEG = 60.0  # judged by us: more is no ignition's
ROD_STROKES = (1.1, 4.0)  # length of a connecting rod in strokes; judged by us
DURATION_DEG = (120.0, 400.0)  # judged by us
_BEFORE = re.compile(r"\s*\b(b\.?t\.?d\.?c\.?|before tdc)$", re.IGNORECASE)
IN_LINE = "Keep the gauge in line with the bore; through an inclined plug hole it reads more. Find TDC from both sides."
AHEAD = (
    "For a rim that turns with the crank. A mark before TDC on it passes the pointer before the TDC mark: it stands "
    "ahead of it as the rim turns."
)
ONE_LIFT = "Degrees of the crank. All points are taken at one lift, with the clearance, that the manual names."
SPARK = (
    "Ignition dead and plug out while the piston is felt for; the engine is turned by hand only."
)
CAM = (
    "Turn by hand only and feel for a hard stop: with the cam a few teeth out, valves meet pistons. The maker's marks "
    "and points decide."
)


def piston_drop_mm(angle_deg: float, stroke_mm: float, rod_mm: float) -> float:
    """How far a piston stands below its top at a crank angle from it; pin and crank in line with the bore."""
    r, turn = stroke_mm / 2, math.radians(angle_deg)
    return r * (1 - math.cos(turn)) + rod_mm - math.sqrt(rod_mm**2 - (r * math.sin(turn)) ** 2)


def crank_angle_deg(drop_mm: float, stroke_mm: float, rod_mm: float) -> float:
    """The crank angle from the top at which a piston stands so far below it, 0 to 180°."""
    r = stroke_mm / 2
    pin = (
        r + rod_mm - drop_mm
    )  # from the crank's axis to the pin: two sides and this one make a triangle
    cosine = (r**2 + pin**2 - rod_mm**2) / (2 * r * pin)
    return math.degrees(math.acos(max(-1.0, min(1.0, cosine))))


def _ignition(inputs: Inputs) -> Calculated:
    stroke, rod = amount(inputs, "stroke"), amount(inputs, "rod")
    _long(stroke, "stroke")
    if not ROD_STROKES[0] <= rod.value / stroke.value <= ROD_STROKES[1]:
        problem = f"a rod of {rod.understood} does not go with a stroke of {stroke.understood}"
        raise CalculationError("rod", problem, "give it from eye to eye, centre to centre")
    given = _degrees_or_length(inputs, "mark", "24° or 2.1 mm")
    if given.quantity == "angle":
        angle = _part_of(given, 180, "mark")
        drop = piston_drop_mm(angle, stroke.value, rod.value)
        said = f"{given.understood} before TDC is {length(round(drop, 3))} of piston travel"
    else:
        drop = given.value
        if drop > stroke.value:
            problem = f"{given.understood} is more than the stroke"
            raise CalculationError("mark", problem, "give what the gauge reads from the top")
        angle = crank_angle_deg(drop, stroke.value, rod.value)
        said = f"{given.understood} before TDC is {_deg(angle)} of the crank"
    a_degree = piston_drop_mm(angle + 0.5, stroke.value, rod.value) - piston_drop_mm(
        max(angle - 0.5, 0), stroke.value, rod.value
    )
    beyond = angle > MOST_ADVANCE_DEG
    return Calculated(
        said=f"{said}.",
        lines=(
            ("crank", f"{_deg(angle)} before TDC"),
            ("piston", f"{length(round(drop, 3))} before TDC"),
            ("one degree there is about", length(round(a_degree, 3))),
        ),
        formula="travel = r × (1 − cos α) + l − √(l² − r² × sin² α), r half the stroke, l the rod",
        put_in=(),
        source="geometry of the crank, pin and crank in line with the bore (plain arithmetic)",
        warnings=(
            *((f"{_deg(angle)} is more than an ignition has: look at it again.",) if beyond else ()),
            IN_LINE,
        ),
        picture=crank(angle, drop, stroke.value, rod.value),
    )  # fmt: skip


def _rim(inputs: Inputs) -> Calculated:
    diameter = amount(inputs, "diameter")
    _long(diameter, "diameter")
    given = _degrees_or_length(inputs, "mark", "24° or 30 mm")
    per_degree = math.pi * diameter.value / 360
    angle = given.value if given.quantity == "angle" else given.value / per_degree
    if given.quantity == "length" and angle > 360:
        problem = f"{given.understood} is more than once round"
        raise CalculationError(
            "mark", problem, f"once round is {length(round(360 * per_degree, 1))}"
        )
    angle = _part_of(given, 360, "mark") if given.quantity == "angle" else angle
    along, across = angle * per_degree, diameter.value * math.sin(math.radians(angle / 2))
    other = length(round(along, 2)) if given.quantity == "angle" else _deg(angle)
    where = "along the rim" if given.quantity == "angle" else "of the crank"
    return Calculated(
        said=f"{given.understood} is {other} {where}.",
        lines=(
            ("along the rim", length(round(along, 2))),
            ("straight across, with dividers", length(round(across, 2))),
            ("one degree is", f"{length(round(per_degree, 3))} along the rim"),
        ),
        formula="along the rim = π × diameter × degrees / 360; straight across = diameter × sin(degrees / 2)",
        put_in=(),
        source="plain arithmetic",
        warnings=(AHEAD,),
    )  # fmt: skip


def _degrees_or_length(inputs: Inputs, name: str, such: str) -> Amount:
    text = _BEFORE.sub("", str(inputs[name]))
    try:
        given = units.read_any(text, place=name)
    except units.QuantityError as error:
        raise CalculationError(name, error.problem, f"write {such}") from None
    if given.quantity not in ("angle", "length"):
        problem = f"{given.understood} is {units.with_article(given.quantity)}"
        raise CalculationError(name, problem, f"write {such}")
    return given


def _part_of(given: Amount, whole: float, name: str) -> float:
    if not 0 <= given.value <= whole:
        raise CalculationError(
            name,
            f"{given.understood} is not between 0 and {whole:g}°",
            "count from TDC, without a sign",
        )
    return given.value


def _long(given: Amount, name: str) -> None:
    if not given.value:
        raise CalculationError(name, f"{given.understood} is none", "measure it, or look it up")


def _deg(angle: float) -> str:
    return units.show(round(angle, 1), "angle")


# ---------------------------------------------------------------- cams


def _cam(inputs: Inputs) -> Calculated:
    opens, closes = number(inputs, "inlet_opens"), number(inputs, "inlet_closes")
    inlet = _lobe(opens, closes, "inlet_opens", "inlet_closes")
    lines = [
        ("inlet open for", _deg(inlet[0])),
        ("inlet lobe centre", f"{_deg(inlet[1])} after TDC"),
    ]
    told = [
        ("inlet_opens", _side(opens, "before", "after", "TDC")),
        ("inlet_closes", _side(closes, "after", "before", "BDC")),
    ]
    said, turned = f"Inlet lobe centre {_deg(inlet[1])} after TDC, open for {_deg(inlet[0])}", None
    given = [name for name in ("exhaust_opens", "exhaust_closes") if name in inputs]
    if len(given) == 1:
        missing = "exhaust_closes" if given == ["exhaust_opens"] else "exhaust_opens"
        raise CalculationError(missing, "of the exhaust one point is put in", "give both, or none")
    if given:
        starts, ends = number(inputs, "exhaust_opens"), number(inputs, "exhaust_closes")
        exhaust = _lobe(ends, starts, "exhaust_closes", "exhaust_opens")
        overlap = opens + ends
        lines += [
            ("exhaust open for", _deg(exhaust[0])),
            ("exhaust lobe centre", f"{_deg(exhaust[1])} before TDC"),
            ("overlap", _deg(overlap) if overlap > 0 else f"none: both shut for {_deg(-overlap)}"),
            ("between the lobe centres", f"{_deg((inlet[1] + exhaust[1]) / 2)} of the cam"),
        ]
        told += [
            ("exhaust_opens", _side(starts, "before", "after", "BDC")),
            ("exhaust_closes", _side(ends, "after", "before", "TDC")),
        ]
        said += f"; exhaust {_deg(exhaust[1])} before TDC, open for {_deg(exhaust[0])}"
        turned = (-180.0 - starts, ends)
    return Calculated(
        said=f"{said}.",
        lines=tuple(lines),
        formula="open for = before + 180° + after; lobe centre = open for / 2 − the point at TDC; overlap = inlet "
        "opens + exhaust closes",
        put_in=tuple(told),
        source="plain arithmetic, for lobes alike on both flanks",
        warnings=(ONE_LIFT,),
        picture=valve_timing((-opens, 180 + closes), turned),
    )  # fmt: skip


def _lobe(at_top: float, at_bottom: float, top: str, bottom: str) -> tuple[float, float]:
    """How long a valve is open, and how far its lobe centre is from TDC, in degrees of the crank."""
    for name, one in ((top, at_top), (bottom, at_bottom)):
        if not -90 <= one <= 120:  # judged by us
            problem = f"{one:g}° is no point of a road engine's cam"
            raise CalculationError(name, problem, "count from the dead centre that the field names")
    duration = at_top + 180 + at_bottom
    if not DURATION_DEG[0] <= duration <= DURATION_DEG[1]:
        problem = f"open for {_deg(duration)} is no road engine's cam"
        expected = f"look at both points: {DURATION_DEG[0]:g} to {DURATION_DEG[1]:g}° are believed"
        raise CalculationError(bottom, problem, expected)
    return duration, duration / 2 - at_top


def _side(degrees: float, usual: str, other: str, centre: str) -> str:
    return f"{_deg(abs(degrees))} {usual if degrees >= 0 else other} {centre}"


_STROKE = Asked("stroke", "Stroke", "length", "54 mm")
_MINUS = "With a minus where it lies on the other side."
CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="ignition-timing",
        title="Ignition timing, degrees and millimetres",
        text="Degrees of the crank before TDC in piston travel, and the other way round.",
        asked=(
            Asked("mark", "Before TDC", "words", "22°", help="Degrees, such as 22°, or piston travel, such as 2.1 mm."),
            _STROKE,
            Asked("rod", "Connecting rod, centre to centre", "length", "100 mm"),
        ),
        calculate=_ignition,
        caution=SPARK,
        also=("advance", "timing mark", "points", "spark", "strobe"),
    ),
    Calculator(
        name="rim-mark",
        title="Timing mark on a rim",
        text="Degrees on a flywheel or rotor in millimetres along its rim, and the other way round.",
        asked=(
            Asked("mark", "From the TDC mark", "words", "24°",
                  help="Degrees, such as 24°, or along the rim, such as 30 mm."),
            Asked("diameter", "Diameter of the rim", "length", "120 mm"),
        ),
        calculate=_rim,
        caution=SPARK,
        also=("advance", "strobe", "degree wheel"),
    ),
    Calculator(
        name="cam-timing",
        title="Cam timing",
        text="Lobe centre, duration and overlap from where the valves open and close.",
        asked=(
            Asked("inlet_opens", "Inlet opens before TDC", "number", "12", unit="°", help=_MINUS),
            Asked("inlet_closes", "Inlet closes after BDC", "number", "48", unit="°", help=_MINUS),
            Asked("exhaust_opens", "Exhaust opens before BDC", "number", "50", unit="°", optional=True, help=_MINUS),
            Asked("exhaust_closes", "Exhaust closes after TDC", "number", "14", unit="°", optional=True, help=_MINUS),
        ),
        calculate=_cam,
        caution=CAM,
        also=("camshaft", "lobe centre", "valve timing", "degree wheel"),
    ),
)  # fmt: skip
