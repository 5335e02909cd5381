"""The charging coil: its three phases compared, and what it gives while it turns."""

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
    read_line,
    single,
    value_or,
)
from witnessmark.calculators.rows import limits
from witnessmark.calculators.wiring import COPPER, celsius_of, copper_at
from witnessmark.charts.drawing import Anchor, circle, drawing, line, words
from witnessmark.facts import judge
from witnessmark.units import Amount, Quantity

ALIKE_PERCENT = 10.0  # of the mean, by which phases may differ; judged by us
ALIKE_SOURCE = (
    "phases alike within 10 % of their mean, or twice what the meter tells apart: judged by us"
)
PAIRS = ("1–2", "2–3", "3–1")
OPEN = ("ol", "open", "∞", "infinite", "overload")  # without the dots and strokes of a display
_DISPLAY = str.maketrans("", "", "./ ")
LEAST_RPM = 300.0  # judged by us: slower is no engine that runs
MOST_COIL_OHM = 2_000.0  # judged by us: an exciter coil has some hundreds
MOST_AC_V = 300.0  # judged by us
ROTATES = "Engine running: outdoors or with extraction, nothing loose near chain, belt and fan. "
SHOCK = "The coil's open plugs give up to 100 V: hands off."


def _phases(inputs: Inputs, name: str, quantity: Quantity, unit: str) -> list[Amount | None]:
    """A reading of one coil, or of the three pairs of three wires; None where the meter shows an open circuit."""
    told = single(inputs, name)
    read = [
        None
        if text.casefold().translate(_DISPLAY) in OPEN
        else read_line(text, place, name, quantity, unit)
        for place, text in enumerate(told, 1)
    ]
    if len(read) not in (1, 3):
        problem = f"there are {len(read)} readings"
        raise CalculationError(
            name, problem, "give one of a single coil, or three: each pair of the three wires"
        )
    return read  # fmt: skip


def _compared(
    inputs: Inputs, values: list[float | None], quantity: Quantity, unit: str, resolution: float
) -> tuple[list[str], list[str], list[tuple[str, str]]]:
    """What each reading is, in words; the faults seen; and how far three phases are apart."""
    (low, high), told, faults, stands = limits(inputs), [], list[str](), set[str]()
    for value in values:
        if value is None:
            told.append("open")
            continue
        found = judge(
            round(value, 9), quantity, low=low, high=high, resolution=resolution, unit=unit
        )
        told.append(
            found.words if low or high else units.show(round(value, 4), quantity, unit=unit)
        )
        stands.add(found.stand)
    apart = []
    whole = [value for value in values if value is not None]
    if len(whole) == 3 and any(whole):
        spread = max(whole) - min(whole)
        share = spread / sum(whole) * 300
        percent = f"{share:.{0 if share >= 10 else 1}f} % of their mean"
        apart.append(("they differ by", percent))
        if share > ALIKE_PERCENT + 1e-9 and spread > 2 * resolution + 1e-9:
            faults.append(f"The phases are not alike: they differ by {percent}")
    for side in ("below", "above"):
        if f"{side} the limit" in stands:
            faults.append(f"{side.capitalize()} the limit put in")
    return told, faults, apart


def _source(inputs: Inputs, more: str) -> str:
    known = "least" in inputs or "most" in inputs
    return f"{ALIKE_SOURCE}; {more}" + ("" if known else "; the manual's limits were not put in")


def _no_fault(inputs: Inputs, count: int) -> str:
    if "least" in inputs or "most" in inputs:
        return "No fault is seen"
    return "The phases are alike" if count == 3 else "Nothing to compare it with"


# ---------------------------------------------------------------- resistance


def _coil(inputs: Inputs) -> Calculated:
    read = _phases(inputs, "readings", "resistance", "Ω")
    lead, warm = value_or(inputs, "leads"), copper_at(celsius_of(inputs))
    values = [None if one is None else (one.value - lead) / warm for one in read]
    _believable(read, values)
    told, faults, apart = _compared(
        inputs, values, "resistance", "Ω", value_or(inputs, "resolution")
    )
    names = PAIRS if len(read) == 3 else ("coil",)
    where = [name for name, value in zip(names, values, strict=True) if value is None]
    if where:
        faults.insert(0, f"Open at {' and '.join(where)}: a winding, a joint or the plug is broken")
    where = [name for name, value in zip(names, values, strict=True) if value == 0]
    if where:
        faults.append(
            f"Nothing is read at {' and '.join(where)}: a short, or less than the meter tells"
        )
    if inputs.get("ground") == "not open":
        faults.append("It has a path to ground: its insulation is gone")
    lines = list(zip(names, told, strict=True)) + apart
    lines += [("to ground", str(inputs["ground"]))] if "ground" in inputs else []
    return Calculated(
        said=f"{'. '.join(faults) or _no_fault(inputs, len(read))}.",
        lines=tuple(lines),
        formula=f"(reading − leads) / (1 + 0.00393 × (t − 20)); widest difference / mean, to {ALIKE_PERCENT:g} %",
        put_in=(),
        source=_source(inputs, f"to ground open: common practice, no source; {COPPER}"),
        warnings=(
            "A coil may pass cold and still, and fail hot and turning: measure its output, too.",
            "Unplug it first: measured through the regulator, nothing is told.",
        ),
        picture=_picture(lines) if len(read) == 3 else None,
    )


def _believable(read: list[Amount | None], values: list[float | None]) -> None:
    for place, (one, value) in enumerate(zip(read, values, strict=True), 1):
        if one is None or value is None:
            continue
        if value < 0:
            problem = f"line {place}: {one.understood} is less than the leads alone"
            raise CalculationError("leads", problem, "hold the probes together and read again")
        if value > MOST_COIL_OHM:
            problem = f"line {place}: {one.understood} is no charging coil"
            expected = "look at the unit; write open where the meter shows OL"
            raise CalculationError("readings", problem, expected)


def _picture(lines: list[tuple[str, str]]) -> str:
    """The plug of three pins, and what was read between each two."""
    pins = {"1": (60.0, 160.0), "2": (180.0, 34.0), "3": (300.0, 160.0)}
    sides: dict[str, tuple[float, float, Anchor]]
    sides = {"1–2": (104, 84, "end"), "2–3": (256, 84, "start"), "3–1": (180, 184, "middle")}
    shapes = []
    for name, text in lines[:3]:
        (x1, y1), (x2, y2) = pins[name[0]], pins[name[-1]]
        part = 15 / math.hypot(x2 - x1, y2 - y1)  # to the rim of a pin
        ends = (
            x1 + part * (x2 - x1),
            y1 + part * (y2 - y1),
            x2 - part * (x2 - x1),
            y2 - part * (y2 - y1),
        )
        shapes.append(line(*ends, thick=1 if text == "open" else 3, dashed=text == "open"))
        at_x, at_y, anchor = sides[name]
        short = text.partition(":")[0].partition(" measured")[0]
        shapes.append(words(at_x, at_y, short, anchor=anchor))
    for name, (x, y) in pins.items():
        shapes += [circle(x, y, 15), words(x, y + 5, name, anchor="middle")]
    told = ", ".join(f"{pair} {text}" for pair, text in lines[:3])
    return drawing(f"Between the three wires of the coil: {told}", 360, 200, *shapes)


# ---------------------------------------------------------------- output


def _output(inputs: Inputs) -> Calculated:
    read = _phases(inputs, "volts", "voltage", "V")
    speed = amount(inputs, "speed")
    if speed.value < LEAST_RPM:
        problem = f"{speed.understood} is no engine that runs"
        raise CalculationError("speed", problem, "read it off the tachometer while measuring")
    volts = [one for one in read if one is not None]
    if len(volts) < len(read):
        raise CalculationError("volts", "a voltage is never open", "set the meter to AC volts")
    for one in volts:
        if one.value > MOST_AC_V:
            problem = f"{one.understood} is no charging coil"
            expected = "look at the decimal point and the meter's range"
            raise CalculationError("volts", problem, expected)
    per = 1000 / speed.value
    each: list[float | None] = [one.value * per for one in volts]
    told, faults, apart = _compared(
        inputs, each, "voltage", "V", value_or(inputs, "resolution") * per
    )
    if not any(each):
        faults.insert(0, "It gives nothing: coil, rotor or its drive")
    names = PAIRS if len(read) == 3 else ("coil",)
    mean = sum(one.value for one in volts) / len(volts) * per
    return Calculated(
        said=f"{mean:.3g} V AC per 1000 rpm. {'. '.join(faults) or _no_fault(inputs, len(read))}.",
        lines=(
            *(
                (name, f"{one.understood}; per 1000 rpm {text}")
                for name, one, text in zip(names, volts, told, strict=True)
            ),
            *apart,
        ),
        formula=f"volts / speed × 1000 rpm; widest difference / mean, to {ALIKE_PERCENT:g} %",
        put_in=(),
        source=_source(inputs, "plain arithmetic"),
        warnings=("Measured unplugged from the regulator, AC, with the speed held.",),
    )


READINGS = "A single coil, or the three pairs of three wires, a line each"
RESOLUTION = "What the meter tells apart"
CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="charging-coil",
        title="Charging coil",
        text="The resistances of the three phases compared, and whether any reaches ground.",
        asked=(
            Asked("readings", "Resistance of each pair", "lines", "0.42\n0.44\n0.43",
                  help=f"{READINGS}, in Ω or with another unit; open where the meter shows OL."),
            Asked("ground", "From the coil to ground", "choice", "open", ("open", "not open"), optional=True),
            Asked("leads", "Probes held together", "resistance", "0.1 Ω", optional=True,
                  help="What the leads alone read: it is taken off."),
            Asked("least", "Least of the manual", "resistance", "0.2 Ω", optional=True),
            Asked("most", "Most of the manual", "resistance", "0.6 Ω", optional=True),
            Asked("temperature", "The coil's temperature", "temperature", "40 °C", optional=True,
                  help="Left empty: 20 °C, for which manuals give their limits."),
            Asked("resolution", RESOLUTION, "resistance", "0.01 Ω", optional=True),
        ),
        calculate=_coil,
        caution=SHOCK,
        also=("stator", "alternator", "generator", "winding", "ohm"),
    ),
    Calculator(
        name="alternator-output",
        title="What the charging coil gives",
        text="AC volts of the three phases compared, and per 1000 rpm.",
        asked=(
            Asked("volts", "AC volts of each pair", "lines", "52\n53\n52", help=f"{READINGS}."),
            Asked("speed", "Engine speed", "rotation", "3000 rpm"),
            Asked("least", "Least per 1000 rpm of the manual", "voltage", "15 V", optional=True),
            Asked("most", "Most per 1000 rpm of the manual", "voltage", "25 V", optional=True),
            Asked("resolution", RESOLUTION, "voltage", "1 V", optional=True),
        ),
        calculate=_output,
        caution=ROTATES + SHOCK,
        also=("stator", "generator", "does not charge"),
    ),
)  # fmt: skip
