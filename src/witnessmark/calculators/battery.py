"""Batteries and charging: what a voltage at rest says, how long a draw lasts, what the charger gives."""

from __future__ import annotations

from witnessmark import units
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    amount,
    maybe_amount,
    number,
    share_percent,
)
from witnessmark.charts.drawing import circle, drawing, line, path, words
from witnessmark.facts import Curve, Limit, belief, judge, on_bent_curve, on_curve

BCI = "BCI table for electrolyte of 1.265 at 26.7 °C, as battery makers restate it"
MEMORY = "from memory"
CURVES: dict[str, tuple[Curve, str]] = {  # volts at rest, per cent of charge; both rising
    "flooded": (((12.06, 25), (12.24, 50), (12.45, 75), (12.65, 100)), BCI),
    "AGM": (
        ((11.80, 0), (12.00, 25), (12.35, 50), (12.85, 100)),
        f"common AGM table, {MEMORY}; published ones differ by 0.15 V at full charge",
    ),
    "deep-cycle": (
        ((11.72, 10), (11.88, 20), (12.02, 30), (12.20, 50), (12.28, 60), (12.36, 70), (12.46, 80),
         (12.58, 90), (12.70, 100)),
        "a sign maker's manual for its deep-cycle batteries, at 25 °C",
    ),
    "lithium": (
        ((10.0, 0), (12.0, 9), (12.5, 14), (12.8, 17), (12.9, 20), (13.0, 30), (13.1, 40), (13.2, 70), (13.3, 90),
         (13.4, 99), (13.6, 100)),
        f"common table of four cells of lithium iron phosphate, {MEMORY}; makers' tables differ",
    ),
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
"""A reading is lowered by 0.024 V per 10 °F that it is colder than 80 °F. Source: BCI."""

LEAST_V, MOST_V = 9.0, belief.BATTERY.most
"""What a 12 V battery at rest reads. Judged by us: below, a charged 6 V battery (6.4 V) cannot be told from it."""

METER_PERCENT = 1.0  # of the reading, where nothing is put in; judged by us
HALF_PERCENT = 50  # below it many do not start; common practice, no source
DRAIN_LIMIT_A = 0.020  # common practice, no source but a general page
DRAIN_SOURCE = "common practice, a general page"
CHARGE_LOW_V, CHARGE_HIGH_V, OVERCHARGE_V = 13.5, 14.8, 15.0  # workshop practice, from memory
MOST_RUNNING_V = 20.0  # judged by us: a regulator that has failed gives less
CHARGE_SOURCE = f"workshop practice, {MEMORY}"
ACID = (
    "A battery gives off explosive gas and holds acid: no sparks, glasses on, earth lead off first."
)
FROZEN = "Little charge freezes early. A frozen battery is never charged: it may burst (common practice, no source)."


def charge_percent(volts: float, kind: str) -> float | None:
    """State of charge by a straight line between the rows of the table; None below its last row."""
    curve, _ = CURVES[kind]
    if volts < curve[0][0]:
        return None
    return on_curve(curve, volts)


def freezes_at(percent: float) -> float:
    """Where the electrolyte of a flooded battery of that charge freezes, °C."""
    return on_bent_curve(FREEZES, on_curve(GRAVITY, percent))


def at_table_temperature(volts: float, celsius: float) -> float:
    """What a cold battery's reading is worth at the temperature of the table."""
    return volts - max(0.0, WARM_C - celsius) * VOLTS_PER_C


def lasts_hours(
    charge_ah: float, amperes: float, start: float = 100, end: float = HALF_PERCENT
) -> float:
    """Hours from one state of charge (per cent) to another at a steady draw, without self-discharge."""
    return charge_ah * (start - end) / 100 / amperes


# ---------------------------------------------------------------- at rest


def _rest(inputs: Inputs) -> Calculated:
    kind = str(inputs["kind"])
    read, cold = amount(inputs, "voltage"), maybe_amount(inputs, "temperature")
    _twelve_volts(read.value)
    corrected = read.value if cold is None else at_table_temperature(read.value, cold.value)
    percent = charge_percent(corrected, kind)
    lines = list(_rest_lines(inputs, corrected, kind))
    warnings = ["A voltage at rest tells charge, not what a battery can still hold or start."]
    if kind == "lithium":
        warnings.append(
            "A lithium battery keeps its voltage until it is nearly empty: look at the range below."
        )
    if percent is None or percent < HALF_PERCENT:
        warnings.append("Charge it before it is judged; standing flat harms it.")
        if kind == "flooded":
            warnings.append(FROZEN)
    return Calculated(
        said=_charged(percent, kind),
        lines=tuple(lines),
        formula="a straight line between the rows of the table"
        + ("" if cold is None else "; reading − 0.024 V per 10 °F below 80 °F"),
        put_in=(),
        source=CURVES[kind][1]
        + (f"; correction for cold: {BCI}" if cold and kind != "flooded" else "")
        + (f"; {FREEZES_SOURCE}" if kind == "flooded" else ""),
        warnings=tuple(warnings),
        picture=_curve_picture(kind, corrected, percent),
    )


def _twelve_volts(volts: float) -> None:
    if volts < LEAST_V:
        problem = (
            f"{volts:g} V is of a 6 V battery, or of a 12 V one that is flat or has a dead cell"
        )
        expected = "a 6 V battery has no table here; charge a 12 V one, let it rest, and read again"
        raise CalculationError("voltage", problem, expected)
    if volts > MOST_V:
        problem = f"{volts:g} V is no 12 V battery at rest"
        raise CalculationError(
            "voltage", problem, f"read it across the poles, at most {MOST_V:g} V"
        )


def _charged(percent: float | None, kind: str) -> str:
    least = CURVES[kind][0][0][1]
    if percent is None:
        return f"Charged less than {least:g} %." if least else "Flat."
    return f"About {percent:.0f} % charged."


def _rest_lines(inputs: Inputs, corrected: float, kind: str) -> list[tuple[str, str]]:
    lines = []
    if "temperature" in inputs:
        lines.append(("at 26.7 °C it would read", units.show(corrected, "voltage", unit="V")))
    error = number(inputs, "meter", METER_PERCENT)
    if not 0 <= error <= 20:
        raise CalculationError("meter", f"{error:g} % is no error of a meter", "give 0 to 20")
    off = corrected * error / 100
    low, high = (charge_percent(corrected + way * off, kind) for way in (-1, 1))
    least = CURVES[kind][0][0][1]
    begin = f"less than {least:g} %" if low is None else f"{low:.0f} %"
    end = f"less than {least:g} %" if high is None else f"{high:.0f} %"
    lines.append((f"with a meter of ±{error:g} %", begin if begin == end else f"{begin} to {end}"))
    if kind == "flooded":
        lines.append(("its electrolyte freezes", _freezes(charge_percent(corrected, kind), low)))
    return lines


def _freezes(percent: float | None, low: float | None) -> str:
    """Where it freezes by the reading, and by the least charge that the meter's error leaves open."""
    flat, quarter = (_degrees(freezes_at(p)) for p in (0, CURVES["flooded"][0][0][1]))
    if percent is None:
        return f"at {quarter} at best, {flat} once it is flat, and nearer 0 °C if it stood flat"
    warmest = f"{flat} once it is flat" if low is None else _degrees(freezes_at(low))
    return (
        f"at about {_degrees(freezes_at(percent))}; by the least the meter leaves open, {warmest}"
    )


def _degrees(celsius: float) -> str:
    return units.show(float(round(celsius)), "temperature")


def _curve_picture(kind: str, volts: float, percent: float | None) -> str:
    """The table as a line, and where the reading stands on it."""
    curve, _ = CURVES[kind]
    low, high = (curve[0][0], curve[-1][0]) if kind == "lithium" else (11.6, 13.0)
    marks = (low, (low + high) / 2, high) if kind == "lithium" else (11.8, 12.4, 13)

    def at(v: float, p: float) -> tuple[float, float]:
        return 56 + (min(max(v, low), high) - low) / (high - low) * 250, 170 - p * 1.4

    shapes = [path([(56, 20), (56, 170), (316, 170)]), path([at(v, p) for v, p in curve], thick=3)]
    shapes += [words(50, at(low, p)[1] + 5, f"{p} %", anchor="end") for p in (0, 50, 100)]
    shapes += [words(at(v, 0)[0], 192, f"{v:.1f} V", anchor="middle") for v in marks]
    if percent is not None:
        x, y = at(volts, percent)
        shapes += [line(x, 170, x, y, dashed=True), line(56, y, x, y, dashed=True)]
        shapes.append(circle(x, y, 6, filled=True))
    told = "below the table" if percent is None else f"{percent:.0f} %"
    return drawing(f"Charge by voltage at rest, {kind}: {told}", 340, 202, *shapes)


# ---------------------------------------------------------------- drain


def _drain(inputs: Inputs) -> Calculated:
    draw, charge = amount(inputs, "current").value, amount(inputs, "charge").value
    if draw <= 0:
        raise CalculationError("current", "nothing is drawn", "give more than 0")
    start = share_percent(inputs, "start", 100)
    end = share_percent(inputs, "end", HALF_PERCENT)
    for name, percent in (("start", start), ("end", end)):
        if not 0 <= percent <= 100:
            raise CalculationError(name, f"{percent:g} % is no state of charge", "give 0 to 100")
    if end >= start:
        problem = f"from {start:g} % it does not go down to {end:g} %"
        raise CalculationError("end", problem, "give less than it starts from")
    hours = lasts_hours(charge, draw, start, end)
    told = judge(draw, "current", high=Limit(DRAIN_LIMIT_A, DRAIN_SOURCE), unit="mA")
    return Calculated(
        said=f"{_long(hours)} from {start:g} % to {end:g} %.",
        lines=(
            ("in hours", f"{hours:.4g}"),
            ("takes in a day", f"{draw * 24:.3g} Ah, {draw * 24 / charge * 100:.2g} % of the battery"),
            ("against the 20 mA of common practice, at rest", told.words),
        ),
        formula="hours = charge in Ah × (start − end) / 100 / draw in A, without self-discharge",
        put_in=(),
        source=f"plain arithmetic; {DRAIN_SOURCE}; makers' limits of 1 to 5 mA are common, {MEMORY}",
        warnings=(
            "Let the machine fall asleep first, key away; never start it through the meter.",
        ),
    )  # fmt: skip


def _long(hours: float) -> str:
    if hours < 48:
        return f"About {hours:.2g} hours"
    return f"About {hours / 24:.3g} days" if hours < 24 * 10_000 else "More than 10000 days"


# ---------------------------------------------------------------- charging


def _charging(inputs: Inputs) -> Calculated:
    running, rest = amount(inputs, "running"), maybe_amount(inputs, "rest")
    if not LEAST_V <= running.value <= MOST_RUNNING_V:
        problem = f"{running.understood} is not of a 12 V system that runs"
        raise CalculationError("running", problem, "read it across the poles, engine above idle")
    low, high = _charging_limits(inputs)
    told = judge(running.value, "voltage", low=low, high=high, unit="V")
    lines = [("limits", f"{low.value:g} to {high.value:g} V")]
    warnings = []
    if rest is not None:
        lines.append(("above rest", f"{running.value - rest.value:+.2f} V".replace("-", "−")))
        if running.value <= rest.value:
            warnings.append("It does not rise above rest: nothing charges the battery.")
    if running.value > OVERCHARGE_V:
        warnings.append(f"Above {OVERCHARGE_V:g} V overcharging is suspected: do not run on.")
    return Calculated(
        said=f"{running.understood} with the engine running: {told.short}.",
        lines=tuple(lines),
        formula="voltage with the engine running, against its limits",
        put_in=(),
        source=low.source,
        warnings=tuple(warnings),
    )


def _charging_limits(inputs: Inputs) -> tuple[Limit, Limit]:
    least, most = maybe_amount(inputs, "least"), maybe_amount(inputs, "most")
    if (least is None) != (most is None):
        missing = "least" if least is None else "most"
        raise CalculationError(
            missing, "only one of the manual's limits is given", "give both or none"
        )
    if least is None or most is None:
        return Limit(CHARGE_LOW_V, CHARGE_SOURCE), Limit(CHARGE_HIGH_V, CHARGE_SOURCE)
    if least.value > most.value:
        problem = f"{least.understood} is above {most.understood}"
        raise CalculationError("least", problem, "compare both with the manual")
    return Limit(least.value, "limits as put in"), Limit(most.value, "limits as put in")


CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="battery-charge",
        title="Charge of a battery at rest",
        text="How far a 12 V battery is charged, by its voltage after hours of rest.",
        asked=(
            Asked("voltage", "Voltage at rest", "voltage", "12.4 V",
                  help="Hours after charging or riding, nothing switched on."),
            Asked("kind", "Kind of battery", "choice", "flooded", tuple(CURVES)),
            Asked("temperature", "Its temperature", "temperature", "10 °C", optional=True),
            Asked("meter", "Error of the meter", "number", "1", optional=True, unit="%",
                  help="Left empty: 1 %."),
        ),
        calculate=_rest,
        caution=ACID,
        also=("state of charge", "flat battery", "resting voltage", "voltmeter"),
    ),
    Calculator(
        name="battery-drain",
        title="How long a draw lasts",
        text="Days until a draw at rest has taken the battery down, or hours under a load.",
        asked=(
            Asked("charge", "Battery", "charge", "12 Ah"),
            Asked("current", "Current drawn", "current", "2 mA"),
            Asked("start", "From", "number", "100", optional=True, unit="%", help="Left empty: full."),
            Asked("end", "Down to", "number", "50", optional=True, unit="%",
                  help="Left empty: half, below which many do not start."),
        ),
        calculate=_drain,
        also=("parasitic drain", "standing current", "leakage current", "winter", "laid up"),
    ),
    Calculator(
        name="charging",
        title="Charging voltage",
        text="Whether the voltage with the engine running is what a 12 V system should have.",
        asked=(
            Asked("running", "Voltage, engine above idle", "voltage", "14.2 V"),
            Asked("rest", "Voltage at rest before", "voltage", "12.5 V", optional=True),
            Asked("least", "Least of the manual", "voltage", "14.0 V", optional=True),
            Asked("most", "Most of the manual", "voltage", "15.0 V", optional=True),
        ),
        calculate=_charging,
        caution="Engine running: outdoors or with extraction, nothing loose near chain, belt and fan. " + ACID,
        also=("alternator", "generator", "regulator", "rectifier", "overcharging"),
    ),
)  # fmt: skip
