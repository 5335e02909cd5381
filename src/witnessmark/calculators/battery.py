"""Batteries and charging: what a voltage at rest says, how long a draw lasts, what the charger gives."""

from __future__ import annotations

from witnessmark import units
from witnessmark.calculators.battery_kinds import (
    BCI,
    FREEZES_SOURCE,
    KINDS,
    MEMORY,
    Kind,
    at_table_temperature,
    charge_percent,
    charge_span,
    freezes_at,
)
from witnessmark.calculators.graphs import graph
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
    share_percent,
)
from witnessmark.facts import Limit, belief, judge
from witnessmark.units import Amount

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
FLAT = "A lithium battery keeps its voltage until it is nearly empty: the reading tells no closer."
FROZEN = "Little charge freezes early. A frozen battery is never charged: it may burst (common practice, no source)."


def lasts_hours(
    charge_ah: float, amperes: float, start: float = 100, end: float = HALF_PERCENT
) -> float:
    """Hours from one state of charge (per cent) to another at a steady draw, without self-discharge."""
    return charge_ah * (start - end) / 100 / amperes


# ---------------------------------------------------------------- at rest


def _rest(inputs: Inputs) -> Calculated:
    kind, nominal = str(inputs["kind"]), _nominal(inputs)
    read, cold = amount(inputs, "voltage"), maybe_amount(inputs, "temperature")
    _at_rest(read.value, nominal)
    _has_table(kind, nominal)
    as_12 = read.value * 12 / nominal  # the tables are of 12 V
    corrected = as_12
    if cold is not None and kind == "flooded":
        corrected = at_table_temperature(as_12, cold.value)
    error = number(inputs, "meter", METER_PERCENT)
    if not 0 <= error <= 20:
        raise CalculationError("meter", f"{error:g} % is no error of a meter", "give 0 to 20")
    off = corrected * error / 100
    percent = charge_percent(corrected, kind)
    low, high, untold = charge_span(corrected - off, corrected + off, kind)
    lines = list(_of_the_cold(kind, cold, corrected * nominal / 12))
    lines.append((f"with a meter of ±{error:g} %", _span(low, high, kind)))
    lines.append(("its electrolyte freezes", _freezes(percent, low, kind)))
    return Calculated(
        said=f"Somewhere between {low or 0:.0f} and {high or 0:.0f} %."
        if untold
        else _charged(percent, kind),
        lines=tuple(lines),
        formula="a straight line between the rows of the table"
        + ("" if nominal == 12 else "; 6 V are three cells, half of the six of the table")
        + ("" if corrected == as_12 else "; reading − 0.024 V per 10 °F below 80 °F"),
        put_in=(),
        source=KINDS[kind].source + (f"; {FREEZES_SOURCE}" if kind == "flooded" else ""),
        warnings=((FLAT,) if untold else ()) + _rest_warnings(kind, percent, high, cold),
        picture=_curve_picture(kind, corrected, None if untold else percent, nominal),
    )


def _nominal(inputs: Inputs) -> int:
    """What stands on the battery, in volts; 12 where nothing is said."""
    return 6 if inputs.get("nominal") == "6 V" else 12


def _at_rest(volts: float, nominal: int) -> None:
    least, most = (limit * nominal / 12 for limit in (LEAST_V, MOST_V))
    if nominal == 12 and volts < least:
        problem = (
            f"{volts:g} V is of a 6 V battery, or of a 12 V one that is flat or has a dead cell"
        )
        expected = "choose 6 V where that stands on it; charge a 12 V one, let it rest, read again"
        raise CalculationError("voltage", problem, expected)
    if not least <= volts <= most:
        problem = f"{volts:g} V is no {nominal} V battery at rest"
        expected = f"read it across the poles: {least:g} to {most:g} V"
        raise CalculationError("voltage", problem, expected)


def _has_table(kind: str, nominal: int) -> None:
    if nominal not in KINDS[kind].made_in:
        problem = f"no table of a {nominal} V {kind} battery is known"
        raise CalculationError("nominal", problem, "go by what its maker gives; none is made up")


def _charged(percent: float | None, kind: str) -> str:
    least = KINDS[kind].curve[0][1]
    if percent is None:
        return f"Charged less than {least:g} %." if least else "Flat."
    return f"About {percent:.0f} % charged."


def _span(low: float | None, high: float | None, kind: str) -> str:
    least = KINDS[kind].curve[0][1]
    below = f"less than {least:g} %" if least else "flat"
    begin, end = (below if one is None else f"{one:.0f} %" for one in (low, high))
    return begin if begin == end else f"{begin} to {end}"


def _rest_warnings(
    kind: str, percent: float | None, high: float | None, cold: Amount | None
) -> tuple[str, ...]:
    warnings = ["A voltage at rest tells charge, not what a battery can still hold or start."]
    if percent is None or percent < HALF_PERCENT:
        if kind != "lithium":
            warnings.append("Charge it before it is judged; standing flat harms it.")
        elif percent is None:
            warnings.append("Its maker says whether it may be charged at all: so low, cells fail.")
        if kind == "flooded":
            warnings.append(FROZEN)
    if cold is not None and cold.value < 0 and kind != "flooded":
        warnings.append("Let it warm up before it is charged.")
    if percent is None or high is None or high < 100:
        warnings.append(KINDS[kind].charger)
    return tuple(warnings)


def _of_the_cold(kind: str, cold: Amount | None, corrected: float) -> list[tuple[str, str]]:
    if cold is None:
        return []
    if kind == "flooded":
        return [("at 26.7 °C it would read", units.show(corrected, "voltage", unit="V"))]
    said = f"not corrected: what is known is of flooded batteries ({BCI})"
    return [(f"for {cold.understood}", said)]


def _freezes(percent: float | None, low: float | None, kind: str) -> str:
    """Where it freezes by the reading, and by the least charge that the meter's error leaves open."""
    if kind != "flooded":
        return "not told: the sources are of liquid electrolyte"
    flat, quarter = (_degrees(freezes_at(p)) for p in (0, KINDS[kind].curve[0][1]))
    if percent is None:
        return f"at {quarter} at best, {flat} once it is flat, and nearer 0 °C if it stood flat"
    warmest = f"{flat} once it is flat" if low is None else _degrees(freezes_at(low))
    return (
        f"at about {_degrees(freezes_at(percent))}; by the least the meter leaves open, {warmest}"
    )


def _degrees(celsius: float) -> str:
    return units.show(float(round(celsius)), "temperature")


def _curve_picture(kind: str, volts: float, percent: float | None, nominal: int) -> str:
    """The table as a line, and where the reading stands on it."""
    curve = KINDS[kind].curve
    low, high = curve[0][0], curve[-1][0]
    across = [(v, f"{v * nominal / 12:.2f} V") for v in (low, (low + high) / 2, high)]
    told = (
        "below the table" if volts < low else "not told" if percent is None else f"{percent:.0f} %"
    )
    spot = None if volts < low else (volts, percent)
    up = [(p, f"{p} %") for p in (0, 50, 100)]
    return graph(f"Charge by voltage at rest, {kind}: {told}", curve, across, up, spot)


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
            ("in hours", digits(hours, 4)),
            ("takes in a day", f"{digits(draw * 24)} Ah, {digits(draw * 24 / charge * 100, 2)} % of the battery"),
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
    kind, nominal = inputs.get("kind"), _nominal(inputs)
    slowest, fastest = (limit * nominal / 12 for limit in (LEAST_V, MOST_RUNNING_V))
    if not slowest <= running.value <= fastest:
        problem = f"{running.understood} is not of a {nominal} V system that runs"
        other = ", and choose 6 V where it is one" if running.value < slowest else ""
        raise CalculationError(
            "running", problem, f"read it across the poles, engine above idle{other}"
        )
    low, high = _charging_limits(inputs, KINDS[str(kind)] if kind else None, nominal)
    told = judge(running.value, "voltage", low=low, high=high, unit="V")
    lines = [("limits", f"{low.value:g} to {high.value:g} V")]
    warnings = []
    if rest is not None:
        lines.append(("above rest", f"{running.value - rest.value:+.2f} V".replace("-", "−")))
        if running.value <= rest.value:
            warnings.append("It does not rise above rest: nothing charges the battery.")
    too_much = high.value if kind == "lithium" else OVERCHARGE_V * nominal / 12
    if running.value > too_much:
        warnings.append(f"Above {too_much:g} V overcharging is suspected: do not run on.")
    if kind in ("gel", "lithium"):
        warnings.append(KINDS[str(kind)].charger)
    return Calculated(
        said=f"{running.understood} with the engine running: {told.short}.",
        lines=tuple(lines),
        formula="voltage with the engine running, against its limits",
        put_in=(),
        source=low.source,
        warnings=tuple(warnings),
    )


def _charging_limits(inputs: Inputs, kind: Kind | None, nominal: int) -> tuple[Limit, Limit]:
    least, most = maybe_amount(inputs, "least"), maybe_amount(inputs, "most")
    if (least is None) != (most is None):
        missing = "least" if least is None else "most"
        raise CalculationError(
            missing, "only one of the manual's limits is given", "give both or none"
        )
    if least is None or most is None:
        if kind is not None and kind.flat:
            problem = "what may charge a lithium battery is set by its maker and the machine's"
            raise CalculationError("least", problem, "give least and most of their manuals")
        high = kind.most_v if kind is not None and kind.most_v else CHARGE_HIGH_V
        low, high = CHARGE_LOW_V * nominal / 12, high * nominal / 12
        halved = "; for 6 V half of it" if nominal == 6 else ""
        return Limit(low, CHARGE_SOURCE + halved), Limit(high, CHARGE_SOURCE + halved)
    if least.value > most.value:
        problem = f"{least.understood} is above {most.understood}"
        raise CalculationError("least", problem, "compare both with the manual")
    return Limit(least.value, "limits as put in"), Limit(most.value, "limits as put in")


NOMINAL = Asked("nominal", "What stands on it", "choice", "12 V", ("12 V", "6 V"), optional=True,
                help="Left empty: 12 V.")  # fmt: skip
CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="battery-charge",
        title="Charge of a battery at rest",
        text="How far a battery is charged, by its voltage after hours of rest and the table of its kind.",
        asked=(
            Asked("voltage", "Voltage at rest", "voltage", "12.4 V",
                  help="Hours after charging or riding, nothing switched on."),
            Asked("kind", "Kind of battery", "choice", "flooded", tuple(KINDS),
                  help="AGM and gel are sealed; lithium is iron phosphate, light for its size."),
            NOMINAL,
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
            Asked("charge", "Battery", "charge", "12 Ah",
                  help="Of lithium what it holds, not the larger lead equivalent."),
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
        text="Whether the voltage with the engine running is what the battery should have.",
        asked=(
            Asked("running", "Voltage, engine above idle", "voltage", "14.2 V"),
            Asked("rest", "Voltage at rest before", "voltage", "12.5 V", optional=True),
            Asked("least", "Least of the manual", "voltage", "14.0 V", optional=True),
            Asked("most", "Most of the manual", "voltage", "15.0 V", optional=True),
            Asked("kind", "Kind of battery", "choice", "AGM", tuple(KINDS), optional=True),
            NOMINAL,
        ),
        calculate=_charging,
        caution="Engine running: outdoors or with extraction, nothing loose near chain, belt and fan. " + ACID,
        also=("alternator", "generator", "regulator", "rectifier", "overcharging"),
    ),
)  # fmt: skip
