"""Suspension: sag from measured lengths, rate of a spring, and what the collar changes."""

from __future__ import annotations

from itertools import pairwise
from statistics import linear_regression

from witnessmark import units
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    amount,
    digits,
    maybe_amount,
    number,
)
from witnessmark.calculators.pairs import load_n, pairs, value_in
from witnessmark.calculators.suspension_pictures import sag_picture, spring_picture
from witnessmark.facts import Limit, judge
from witnessmark.units import Amount

TRAVEL_MM = (20.0, 500.0)  # judged by us: a scooter's fork to a desert racer's
MODULUS = 79_500.0  # N/mm², shear of oil-tempered spring wire, EN 13906-1 (from memory)
MODULUS_RANGE = (
    25_000.0,
    90_000.0,
)  # judged by us: titanium's 41 000 lies in it, a slip of ten does not
INDEX = (
    3.0,
    20.0,
)  # coil by wire; EN 13906-1 has 4 to 20 (from memory), a little less judged by us
COILS = (1.5, 100.0)  # judged by us: of a fork at most
PITCH_MM = (0.3, 6.0)  # judged by us: thread of a collar or a fork's adjuster, per turn
RATIO = (0.8, 5.0)  # judged by us: a wheel moves up to four times as far as its shock
MUCH_MM = 20.0  # judged by us: more preload than any collar has way for
BENT_PERCENT = 5.0  # judged by us: from here on the rate is not one figure
LBF_IN = 25.4 / 4.4482216152605  # lbf/in in one N/mm, by definition
SPRUNG = (
    "A spring under preload throws parts: slacken it by its collar, and only with the tool for it. Machine held so "
    "that it cannot fall."
)
RIDE = "Change one thing at a time, both legs alike; the machine's manual decides. Ride with care afterwards."


# ---------------------------------------------------------------- sag


def _sag(inputs: Inputs) -> Calculated:
    free, travel = amount(inputs, "free"), amount(inputs, "travel")
    if not TRAVEL_MM[0] <= travel.value <= TRAVEL_MM[1]:
        problem = f"{travel.understood} is no travel of a wheel"
        low, high = (units.show(end, "length") for end in TRAVEL_MM)
        raise CalculationError("travel", problem, f"give {low} to {high}, by the manual")
    own = _sunk(inputs, "own", free, travel)
    rider = _sunk(inputs, "rider", free, travel)
    assert rider is not None
    if own is not None and own > rider:
        problem = "with the rider it is longer than without"
        raise CalculationError("rider", problem, "look whether the two are swapped")
    told = _judged(inputs, rider / travel.value * 100, "least", "most")
    told_own, lines = "", []
    if own is not None:
        told_own = _judged(inputs, own / travel.value * 100, "own_least", "own_most")
        lines.append(("by its own weight", _share(own, travel.value, told_own)))
        lines.append(("the rider adds", units.show(rider - own, "length")))
    elif "own_least" in inputs or "own_most" in inputs:
        problem = "the machine alone was not measured"
        raise CalculationError("own", problem, "measure it, or leave its range out")
    lines.append(("travel left", units.show(travel.value - rider, "length")))
    return Calculated(
        said=f"With the rider {_share(rider, travel.value, told)}.",
        lines=tuple(lines),
        formula="sag = length free − length loaded; share = sag / travel × 100 %",
        put_in=(),
        source="plain arithmetic; range: as put in"
        if told or told_own
        else "plain arithmetic; the manual or the spring's maker has the range",
        warnings=(
            *_spring_hint(told, told_own),
            "Measure twice, pushed down and lifted, and take the middle: friction hides some.",
        ),
        picture=sag_picture(free.value, free.value - own if own is not None else None, free.value - rider),
    )  # fmt: skip


def _sunk(inputs: Inputs, name: str, free: Amount, travel: Amount) -> float | None:
    loaded = maybe_amount(inputs, name)
    if loaded is None:
        return None
    sunk = free.value - loaded.value
    if sunk < 0:
        problem = f"{loaded.understood} loaded is longer than {free.understood} free"
        raise CalculationError(
            name, problem, "measure all between the same two points; look whether they are swapped"
        )
    if sunk > travel.value:
        problem = f"it sank {units.show(sunk, 'length')}, more than the travel"
        raise CalculationError(name, problem, "look at the lengths and the travel")
    return sunk  # fmt: skip


def _share(sunk: float, travel: float, told: str) -> str:
    percent = f"{units.show(sunk, 'length')}, {sunk / travel * 100:.3g} % of the travel"
    return f"{percent}: {told}" if told else percent


def _judged(inputs: Inputs, percent: float, least: str, most: str) -> str:
    """How a share stands to the range put in; empty where none was."""
    ends = [number(inputs, name) if name in inputs else None for name in (least, most)]
    for name, end in zip((least, most), ends, strict=True):
        if end is not None and not 1 <= end <= 80:  # judged by us; 0.3 is meant for 30 %
            raise CalculationError(
                name, f"{end:g} % is no sag", "give a share of the travel, such as 30 %"
            )
    low, high = (None if end is None else Limit(end) for end in ends)
    if low and high and low.value > high.value:
        raise CalculationError(least, "it is above the most", "swap them")
    if low is None and high is None:
        return ""
    stand = judge(percent, "count", low=low, high=high).stand
    return {"below the limit": "less than the range", "above the limit": "more than the range",
            "at the limit": "at an end of the range"}.get(stand, "within the range")  # fmt: skip


def _spring_hint(rider: str, own: str) -> tuple[str, ...]:
    """Both ranges together tell whether the spring itself fits. Common practice, no source."""
    if not own or rider in ("", "less than the range", "more than the range"):
        return ()
    hints = {"less than the range": "softer than this rider needs, and preloaded for it",
             "more than the range": "stiffer than this rider needs"}  # fmt: skip
    hint = hints.get(own)
    return (f"The spring may be {hint} (common practice, no source).",) if hint else ()


# ---------------------------------------------------------------- rate


def _rate(inputs: Inputs) -> Calculated:
    like = "500 N 10 mm, or 50 kg 10 mm"
    read = pairs(inputs, "pairs", (load_n, "N"), (value_in("length"), "mm"), like)
    understood = "; ".join(f"{units.show(n, 'force')} {units.show(mm, 'length')}" for n, mm in read)
    if len(read) == 1:
        read = [(0.0, 0.0), *read]
    points = sorted((length, load) for load, length in read)
    loads, lengths = [load for _, load in points], [length for length, _ in points]
    if len(set(lengths)) < 2:
        raise CalculationError("pairs", "nothing is compressed", "press it further, and read again")
    if any(b <= a for a, b in pairwise(loads)):
        problem = "further down it does not push more"
        raise CalculationError(
            "pairs", problem, "give how far it is compressed, not how long it is"
        )
    rate = linear_regression(lengths, loads).slope
    steps = [
        (loads[n + 1] - loads[n]) / (lengths[n + 1] - lengths[n]) for n in range(len(loads) - 1)
    ]
    bent = (steps[-1] / steps[0] - 1) * 100
    lines = (
        [("first to last", f"{_rates(steps[0])} to {_rates(steps[-1])}")] if len(steps) > 1 else []
    )
    warnings = []
    if len(steps) > 1 and abs(bent) > BENT_PERCENT:
        warnings.append(
            "The rate is not one figure: the spring is progressive, or a reading is wrong."
        )
    return Calculated(
        said=f"{_rates(rate)}.",
        lines=(("in other units", _others(rate)), *lines),
        formula="rate = the slope of load over compression, by least squares; load of a mass = mass × 9.80665 m/s²",
        put_in=(("pairs", understood),),
        source=f"Hooke's law; gravity: CGPM 1901; progressive from {BENT_PERCENT:g} % on: judged by us",
        warnings=tuple(warnings),
    )  # fmt: skip


def spring_rate(wire_mm: float, mean_mm: float, coils: float, modulus: float = MODULUS) -> float:
    """Rate of a helical spring of round wire, N/mm: G × d⁴ / (8 × D³ × n)."""
    return float(modulus * wire_mm**4 / (8 * mean_mm**3 * coils))


def _geometry(inputs: Inputs) -> Calculated:
    wire, outer = amount(inputs, "wire"), amount(inputs, "outer")
    coils, modulus = number(inputs, "coils"), number(inputs, "modulus", MODULUS)
    mean = outer.value - wire.value
    if wire.value <= 0 or not INDEX[0] <= mean / wire.value <= INDEX[1]:
        problem = f"{wire.understood} of wire in a coil of {outer.understood} is no such spring"
        raise CalculationError(
            "wire", problem, f"give a coil of {INDEX[0] + 1:g} to {INDEX[1] + 1:g} times its wire"
        )
    if not COILS[0] <= coils <= COILS[1]:
        problem = f"{coils:g} coils do not work"
        raise CalculationError(
            "coils", problem, f"count those free to move, {COILS[0]:g} to {COILS[1]:g}"
        )
    if not MODULUS_RANGE[0] <= modulus <= MODULUS_RANGE[1]:
        problem = f"{modulus:g} N/mm² is no spring steel"
        raise CalculationError("modulus", problem, f"leave it empty for {MODULUS:g} N/mm²")
    rate = spring_rate(wire.value, mean, coils, modulus)
    off = spring_rate(wire.value * 1.01, mean, coils, modulus) / rate - 1
    return Calculated(
        said=f"{_rates(rate)}.",
        lines=(
            ("in other units", _others(rate)),
            ("mean diameter", units.show(mean, "length")),
            ("1 % of error in the wire makes", f"{off * 100:.2g} %"),
        ),
        formula="rate = G × d⁴ / (8 × D³ × n), D = outer diameter − wire",
        put_in=(("shear modulus", f"{modulus:g} N/mm²"),),
        source="EN 13906-1 (from memory); shear modulus: "
        + ("as put in" if "modulus" in inputs else "of oil-tempered wire, from memory"),
        warnings=("Measure the wire under its paint; coils that touch or lie flat at the ends do not count.",),
        picture=spring_picture(wire.understood, outer.understood, coils),
    )  # fmt: skip


def _rates(rate: float) -> str:
    if units.usual_unit(1, "length") == "in":
        return f"{digits(rate * LBF_IN, 4)} lbf/in ({digits(rate, 4)} N/mm)"
    return f"{digits(rate, 4)} N/mm"


def _others(rate: float) -> str:
    return f"{digits(rate, 4)} N/mm; {digits(rate / 9.80665, 4)} kgf/mm; {digits(rate * LBF_IN, 4)} lbf/in"


# ---------------------------------------------------------------- collar


def _collar(inputs: Inputs) -> Calculated:
    now, wanted, pitch = (amount(inputs, name) for name in ("now", "wanted", "pitch"))
    ratio = number(inputs, "ratio", 1.0)
    if not RATIO[0] <= ratio <= RATIO[1]:
        problem = f"{ratio:g} is no ratio of wheel and shock"
        raise CalculationError("ratio", problem, f"give {RATIO[0]:g} to {RATIO[1]:g}; a fork has 1")
    if not PITCH_MM[0] <= pitch.value <= PITCH_MM[1]:
        problem = f"{pitch.understood} a turn is no thread of a collar"
        low, high = (units.show(end, "length") for end in PITCH_MM)
        raise CalculationError("pitch", problem, f"give {low} to {high}: from crest to crest")
    move = (now.value - wanted.value) / ratio
    if abs(move) > MUCH_MM:
        problem = f"it would take {units.show(abs(move), 'length')} of preload"
        raise CalculationError(
            "wanted", problem, "look at the lengths; so much asks for another spring"
        )
    turns = abs(move) / pitch.value
    per_turn = pitch.value * ratio
    way = "tighten" if move > 0 else "slacken"
    said = f"{way.capitalize()} it {digits(turns, 2)} turns: {units.show(abs(move), 'length')} of preload."
    return Calculated(
        said=said if move else "Nothing is to be changed.",
        lines=(
            ("a turn changes the sag by", units.show(per_turn, "length")),
            ("preload changes the sag", f"{ratio:g} times as much at the wheel"),
        ),
        formula="preload = (sag now − sag wanted) / ratio; turns = preload / pitch",
        put_in=(),
        source="plain arithmetic: under the same load the spring is as short as before",
        warnings=(
            "It holds while the machine rests on the spring, not topped out.",
            "Measure the sag again afterwards, of the machine alone, too: preload changes no rate.",
        ),
    )  # fmt: skip


CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="sag",
        title="Sag",
        text="How far the machine sinks by itself and with its rider, as a share of the travel.",
        asked=(
            Asked("free", "Length, wheel hanging free", "length", "620 mm",
                  help="From axle to a mark above it, on a fork along its legs; the same two points each time."),
            Asked("own", "Length, machine alone", "length", "605 mm", optional=True),
            Asked("rider", "Length, rider on it", "length", "570 mm", help="In riding gear, both feet up."),
            Asked("travel", "Travel of the wheel", "length", "150 mm", help="By the manual."),
            Asked("least", "Least with rider", "number", "30", optional=True, unit="%"),
            Asked("most", "Most with rider", "number", "35", optional=True, unit="%"),
            Asked("own_least", "Least, machine alone", "number", "5", optional=True, unit="%"),
            Asked("own_most", "Most, machine alone", "number", "15", optional=True, unit="%"),
        ),
        calculate=_sag,
        caution=RIDE,
        also=("static", "fork", "shock", "setup"),
    ),
    Calculator(
        name="spring-rate",
        title="Rate of a spring, measured",
        text="From loads and how far each compresses it.",
        asked=(
            Asked("pairs", "Load and compression", "lines", "200 N 10 mm\n405 N 20 mm\n600 N 30 mm",
                  help="A line each; a mass put on it counts by its weight. N and mm where no unit is written."),
        ),
        calculate=_rate,
        caution=SPRUNG,
        also=("stiffness", "fork spring", "progressive"),
    ),
    Calculator(
        name="spring-by-wire",
        title="Rate of a spring, by its wire",
        text="From wire, coil and number of coils of a spring of even pitch.",
        asked=(
            Asked("wire", "Diameter of the wire", "length", "11 mm"),
            Asked("outer", "Outer diameter of the coil", "length", "82 mm"),
            Asked("coils", "Coils free to move", "number", "6.5", help="All coils, less those lying flat: mostly two."),
            Asked("modulus", "Shear modulus", "number", "79500", optional=True, unit="N/mm²",
                  help="Left empty: 79500 N/mm², oil-tempered spring steel."),
        ),
        calculate=_geometry,
        caution=SPRUNG,
        also=("stiffness", "fork spring", "shock spring"),
    ),
    Calculator(
        name="preload-collar",
        title="Turns of the preload collar",
        text="How far to turn collar or adjuster for another sag.",
        asked=(
            Asked("now", "Sag now, at the wheel", "length", "55 mm"),
            Asked("wanted", "Sag wanted", "length", "48 mm"),
            Asked("pitch", "Thread, per turn", "length", "1.5 mm", help="From one crest to the next."),
            Asked("ratio", "Wheel moves, for 1 of the shock", "number", "2.4", optional=True,
                  help="Left empty: 1, as in a fork. By the manual, or measured: wheel travel / shock travel."),
        ),
        calculate=_collar,
        caution=f"{SPRUNG} {RIDE}",
        also=("shock", "fork", "ring"),
    ),
)  # fmt: skip
