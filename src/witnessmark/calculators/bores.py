"""Bores, pistons and rings: gap of a ring, clearance of a piston, taper and out-of-round of a bore."""

from __future__ import annotations

import math

from witnessmark import units
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    amount,
    believable,
)
from witnessmark.calculators.rows import length, limit, limits, rows
from witnessmark.facts import Limit, judge
from witnessmark.facts.belief import New
from witnessmark.units import Amount

BORE_MM = (20.0, 150.0)  # judged by us
RING = New("the gap of a piston ring", 3)  # mm; judged by us
CLEARANCE_MM = 1.0  # of a piston; judged by us
APART = 0.02  # a bore's readings lie closer together than this share of it; judged by us
MANUAL = "limits as put in; where they are measured, the machine's manual says"
ALIKE = "Bore, piston and instruments at one temperature, 20 °C for preference (ISO 1), set on a gauge first."
MEETS = "A ring whose ends meet when hot breaks or seizes: open the gap before it is fitted."
SQUARE = "Square in the bore, pushed down by the piston, at the height that the manual names."
WORN = (
    "A new piston alone mends only what the piston has lost: hold its diameter against this bore."
)
HEIGHTS = "Measure at three heights at least: a bore wears most at the top of the ring's travel."


def _ring(inputs: Inputs) -> Calculated:
    bore = _bore(amount(inputs, "bore"), "bore")
    read = [
        (name, one) for name, (one,) in rows(inputs, "gaps", "length", "mm", "ring", "top: 0.30")
    ]
    believable("gaps", [one for _, one in read], RING, alike=False)
    low, high = (_share(inputs, name, bore) for name in ("least", "most"))
    if low and high and low.value > high.value:
        raise CalculationError("least", "the least is more than the most", "change them over")
    told = [(name, judge(one.value, "length", low=low, high=high)) for name, one in read]
    odd = [f"{name} {one.stand}" for name, one in told if one.stand != "within limits"]
    if not (low or high):
        said = f"{read[0][1].understood} in a bore of {length(bore)}: no limit is put in"
    elif odd:
        said = ", ".join(odd)
    else:
        said = "All within limits" if len(read) > 1 else told[0][1].words
    tight = any(one.side == "low" for _, one in told)
    lines = [
        (name, f"{one.words if low or high else gap.understood}, {100 * gap.value / bore:.2f} % of the bore")
        for (name, one), (_, gap) in zip(told, read, strict=True)
    ]  # fmt: skip
    return Calculated(
        said=f"{said}.",
        lines=(
            *lines,
            ("a bore 0.01 mm wider opens it by", length(round(math.pi * 0.01, 4))),
        ),
        formula="gap / bore; a gap opens by π × what the bore is wider",
        put_in=(),
        source=MANUAL,
        warnings=(
            *((MEETS,) if tight else ()),
            SQUARE,
        ),
    )


def _share(inputs: Inputs, name: str, bore: float) -> Limit | None:
    """A limit that is a length, or a share of the bore."""
    if name not in inputs:
        return None
    text = str(inputs[name])
    if not text.endswith("%"):
        given = units.read(units.with_unit(text, "mm"), "length", place=name)
        believable(name, [given], RING)
        return Limit(given.value, "as put in")
    percent = units.read_number(text, unit="%", place=name)
    if not 0 < percent < 5:  # judged by us
        raise CalculationError(name, f"{percent:g} % of the bore is no gap", "such as 0.4 %")
    return Limit(percent / 100 * bore, f"{percent:g} % of the bore, as put in")


def _bore(given: Amount, name: str, line: str = "") -> float:
    if not BORE_MM[0] <= given.value <= BORE_MM[1]:
        problem = f"{line}{given.understood} is no bore of a motorcycle"
        raise CalculationError(name, problem, f"give {length(BORE_MM[0])} to {length(BORE_MM[1])}")
    return given.value


# ---------------------------------------------------------------- piston and bore


def _clearance(inputs: Inputs) -> Calculated:
    read = rows(inputs, "bore", "length", "mm", "height", "top: 58.02 58.03", count=2)
    names = [name for name, _ in read]
    along, across = (
        [_bore(both[side], "bore", f"line {place}: ") for place, (_, both) in enumerate(read, 1)]
        for side in (0, 1)
    )
    every = along + across
    if max(every) - min(every) > APART * min(every):
        problem = f"{length(min(every))} and {length(max(every))} are not of one bore"
        raise CalculationError("bore", problem, "look at the decimal point, or measure there again")
    piston = amount(inputs, "piston").value
    least, greatest = min(every) - piston, max(every) - piston
    if not least > 0 or greatest > CLEARANCE_MM:
        problem = f"a piston of {length(piston)} does not run in a bore of {length(min(every))} to {length(max(every))}"
        raise CalculationError(
            "piston", problem, "measure it where the manual says, across the pin"
        )
    low, high = limits(inputs)
    sides = [judge(_fine(least), "length", low=low).words + " at the tightest"] if low else []
    sides += [judge(_fine(greatest), "length", high=high).words + " at the widest"] if high else []
    round_by = max(abs(one - other) for one, other in zip(along, across, strict=True))
    taper = max(max(side) - min(side) for side in (along, across))
    said = "; ".join(sides) or f"Clearance {length(least)} to {length(greatest)}"
    worn = bool(high and greatest > high.value + 1e-9)
    return Calculated(
        said=f"{said}.",
        lines=(
            ("clearance", f"{length(least)} to {length(greatest)}"),
            ("out of round", _held(round_by, limit(inputs, "out_of_round"))),
            ("taper", _held(taper, limit(inputs, "taper")) if len(names) > 1 else "one height tells none"),
            *(
                (name, f"{_run(one, piston)} along, {_run(other, piston)} across")
                for name, one, other in zip(names, along, across, strict=True)
            ),
        ),
        formula="clearance = bore − piston; out of round: along − across at one height; taper: greatest − least "
        "in one direction",
        put_in=(),
        source=MANUAL,
        warnings=(
            *((WORN,) if worn else ()),
            *((HEIGHTS,) if len(names) < 3 else ()),
            ALIKE,
        ),
    )  # fmt: skip


def _run(bore: float, piston: float) -> str:
    return f"{length(bore)} (clearance {length(bore - piston)})"


def _held(value: float, most: Limit | None) -> str:
    return judge(_fine(value), "length", high=most).words if most else length(value)


def _fine(mm: float) -> float:
    return round(mm, 6)  # for the program: the noise of floats


CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="ring-gap",
        title="Piston ring gap",
        text="The gap of each ring in its bore, against the limits put in.",
        asked=(
            Asked("bore", "Bore", "length", "58 mm"),
            Asked("gaps", "Gap of each ring", "lines", "top: 0.25\nsecond: 0.30\noil: 0.45",
                  help="A line each, in mm or with another unit."),
            Asked("least", "Least", "words", "0.20 mm", optional=True,
                  help="A length, or a share of the bore: 0.4 % is 0.004 in for each inch."),
            Asked("most", "Most", "words", "1 %", optional=True),
        ),
        calculate=_ring,
        also=("end gap", "feeler gauge"),
    ),
    Calculator(
        name="piston-clearance",
        title="Piston clearance and bore",
        text="Bore less piston at each point, and how far the bore is out of round and tapered.",
        asked=(
            Asked("bore", "Bore at each height: along the crank, across it", "lines",
                  "top: 58.045 58.060\nmiddle: 58.035 58.045\nbottom: 58.030 58.035",
                  help="Two values a line, in mm or with another unit."),
            Asked("piston", "Piston, where the manual says", "length", "57.985 mm"),
            Asked("least", "Least clearance", "length", "0.035 mm", optional=True),
            Asked("most", "Most clearance", "length", "0.10 mm", optional=True),
            Asked("out_of_round", "Most out of round", "length", "0.02 mm", optional=True),
            Asked("taper", "Most taper", "length", "0.03 mm", optional=True),
        ),
        calculate=_clearance,
        also=("piston play", "cylinder wear", "bore gauge", "oval", "hone"),
    ),
)  # fmt: skip
