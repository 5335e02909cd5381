"""Wires and connections: what they lose of the voltage, and how thick a wire must be."""

from __future__ import annotations

import math
import re

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
    value_or,
)
from witnessmark.charts.drawing import box, circle, drawing, line, path, words
from witnessmark.facts import Limit, judge

OHM_MM2_PER_M = 1 / 58  # of annealed copper at 20 °C, IEC 60028
PER_KELVIN = 0.00393  # by which its resistance grows, of that at 20 °C, IEC 60028
AT_C = 20.0  # IEC 60028
COPPER = "annealed copper, IEC 60028: 1/58 Ω·mm²/m at 20 °C, 0.393 % more per °C"
COPPER_C = (
    -60.0,
    250.0,
)  # judged by us: colder is no place for a motorcycle, hotter burns what is round the wire
AWG_STEPS, AWG_RATIO, AWG_36_IN = 39, 92, 0.005  # ASTM B258: No. 36 is 0.005 in, No. 0000 92 times
AWG_SIZES = range(-3, 41)  # No. 0000 to 40; judged by us: thinner is in no loom
SIZES_MM2 = (
    0.35,
    0.5,
    0.75,
    1.0,
    1.5,
    2.5,
    4.0,
    6.0,
    10.0,
    16.0,
    25.0,
    35.0,
    50.0,
    70.0,
    95.0,
)  # ISO 6722, from memory
# Gauges that are sold, of a loom and of starters. Common practice, no source.
SOLD = (22, 20, 18, 16, 14, 12, 10, 8, 6, 4, 2, 1, 0, -1, -2, -3)
LEAST_MM2, MOST_MM2 = 0.004, 120.0  # judged by us: of a motorcycle, its starter included
STRANDED = "a cable of the trade may have a tenth more (ISO 6722 allows it, from memory)"
SYSTEM_V = 12.0  # by definition: what stands on the battery
DROP_PERCENT = 3.0  # common practice, no source
DROP_SOURCE = "3 % of the voltage: common practice, no source"
CONNECTION_V = 0.1  # common practice, no source
CONNECTION_SOURCE = "common practice, no source, for one connection"
HOT_W = 2.0  # judged by us: a plug that gets rid of more is hot to the hand
FUSE = "The drop alone makes no wire safe: size and fuse follow the machine's wiring diagram."
_GAUGE = re.compile(
    r"(?:awg *(?:no\.? *)?(?P<behind>[^a-z]+)|(?P<before>[^a-z]+?) *awg)", re.IGNORECASE
)
_AUGHTS = {
    "1/0": 0,
    "2/0": -1,
    "3/0": -2,
    "4/0": -3,
    "0": 0,
    "00": -1,
    "000": -2,
    "0000": -3,
}  # ASTM B258


def gauge_mm2(number: int) -> float:
    """Cross-section of an American wire gauge, mm²; 0 is No. 0, −3 No. 0000. Formula of ASTM B258."""
    across_mm = 25.4 * AWG_36_IN * math.pow(AWG_RATIO, (36 - number) / AWG_STEPS)
    return math.pi / 4 * across_mm**2


def copper_at(celsius: float) -> float:
    """How many times its resistance at 20 °C copper has at that temperature."""
    return 1 + PER_KELVIN * (celsius - AT_C)


def wire_ohm(length_mm: float, size_mm2: float, celsius: float = AT_C) -> float:
    """Resistance of a copper wire, Ω."""
    return OHM_MM2_PER_M * copper_at(celsius) * length_mm / 1000 / size_mm2


def read_size(text: str, *, place: str = "size") -> float:
    """Cross-section in mm², of ``1.5 mm²``, ``1.5`` or ``AWG 16``.

    A whole number alone may be either, and "gauge" American or British: both are asked about.
    Raises CalculationError.
    """
    plain = " ".join(text.split())
    expected = "write it as 1.5 mm² or as AWG 16"
    if found := _GAUGE.fullmatch(plain):
        size = gauge_mm2(_gauge((found["behind"] or found["before"]).strip(), place))
    elif re.search(r"\b(?:ga|gauge|swg)\b|#", plain, re.IGNORECASE):
        problem = f"“{plain[:40]}” may be an American or a British gauge"
        raise CalculationError(place, problem, expected)
    else:
        size = units.read_number(plain, unit="mm²", place=place)
        if plain.isdecimal() and int(plain) in AWG_SIZES:
            problem = f"“{plain}” may be mm² or a gauge"
            raise CalculationError(place, problem, f"write {plain} mm² or AWG {plain}")
    if not LEAST_MM2 <= size <= MOST_MM2:
        problem = f"{size:g} mm² is no wire of a motorcycle"
        raise CalculationError(place, problem, expected)
    return size


def _gauge(text: str, place: str) -> int:
    if text in _AUGHTS:
        return _AUGHTS[text]
    number = units.read_number(text, place=place)
    if number != int(number) or int(number) not in AWG_SIZES:
        problem = f"there is no AWG {text[:20]}"
        raise CalculationError(place, problem, "give AWG 40 to 1, or 1/0 to 4/0")
    return int(number)


def gauge_name(number: int) -> str:
    """As it is written: ``AWG 16``, ``AWG 2/0``."""
    return f"AWG {number}" if number > 0 else f"AWG {1 - number}/0"


def size_words(mm2: float) -> str:
    """The cross-section with the nearest gauge. Example: ``1.31 mm² (AWG 16)``."""
    near = min(AWG_SIZES, key=lambda number: abs(math.log(gauge_mm2(number) / mm2)))
    about = "" if math.isclose(gauge_mm2(near), mm2, rel_tol=0.005) else "about "  # judged by us
    return f"{digits(mm2)} mm² ({about}{gauge_name(near)})"


# ---------------------------------------------------------------- drop and size


def _drop(inputs: Inputs) -> Calculated:
    size, warm = read_size(str(inputs["size"])), celsius_of(inputs)
    (current, load), length = _current(inputs), amount(inputs, "length")
    system, most = _system(inputs), _allowed(inputs)
    ohm = wire_ohm(length.value, size, warm)
    lost = current * ohm
    if lost >= system:
        problem = f"{load} through it would lose more than the {system:g} V there are"
        raise CalculationError("current", problem, "look at current, length and size")
    told = judge(lost, "voltage", high=Limit(most, _rule(inputs)), unit="V")
    return Calculated(
        said=f"It loses {_volts(lost)}, {digits(lost / system * 100, 2)} % of {system:g} V: {told.short}.",
        lines=(
            ("resistance", _milliohm(ohm)),
            ("turned into heat in the wire", f"{digits(lost * current)} W"),
            ("least size for the drop allowed", _at_least(_least(current, length.value, warm, most))),
        ),
        formula="drop = current × length / (58 × size) × (1 + 0.00393 × (t − 20)), m, mm², °C",
        put_in=(("current", load), ("size", size_words(size)), ("length", f"{length.understood}, there and back")),
        source=f"{COPPER}; gauges: ASTM B258; {STRANDED}",
        warnings=(FUSE,),
    )  # fmt: skip


def _size(inputs: Inputs) -> Calculated:
    warm = celsius_of(inputs)
    (current, load), length = _current(inputs), amount(inputs, "length")
    system, most = _system(inputs), _allowed(inputs)
    least = _least(current, length.value, warm, most)
    metric = _next_size(least)
    if metric is None:
        problem = f"it would take {digits(least)} mm², more than any wire of a motorcycle"
        raise CalculationError("length", problem, "look at current, length and the drop allowed")
    then = current * wire_ohm(length.value, metric, warm)
    return Calculated(
        said=f"At least {_at_least(least)}.",
        lines=(
            (f"{metric:g} mm² loses", f"{_volts(then)}, {digits(then / system * 100, 2)} % of {system:g} V"),
            ("allowed", f"{_volts(most)}, {digits(most / system * 100)} %: {_rule(inputs)}"),
        ),
        formula="size = current × length / (58 × drop) × (1 + 0.00393 × (t − 20)), m, mm², °C",
        put_in=(("current", load), ("length", f"{length.understood}, there and back")),
        source=f"{COPPER}; gauges: ASTM B258; sizes of the trade: ISO 6722, from memory; {STRANDED}",
        warnings=(FUSE,),
    )  # fmt: skip


def _next_size(least: float) -> float | None:
    return next((size for size in SIZES_MM2 if size >= least), None)


def _at_least(least: float) -> str:
    """A cross-section with the next size and gauge that have it. Example: ``1.92 mm²: take 2.5 mm² or AWG 14``."""
    metric = _next_size(least)
    gauge = next((n for n in SOLD if gauge_mm2(n) >= least), None)
    if metric is None or gauge is None:
        return f"{digits(least)} mm²"
    return f"{digits(least)} mm²: take {metric:g} mm² or {gauge_name(gauge)}"


def _least(current: float, length_mm: float, warm: float, most: float) -> float:
    """Cross-section at which the drop is the one allowed, mm²."""
    for name, value in (("current", current), ("length", length_mm)):
        if value <= 0:
            raise CalculationError(name, "without any, nothing is lost", "give more than 0")
    return current * wire_ohm(length_mm, 1.0, warm) / most


def celsius_of(inputs: Inputs) -> float:
    """The temperature of the copper that was put in, else 20 °C."""
    celsius = value_or(inputs, "temperature", AT_C)
    if not COPPER_C[0] <= celsius <= COPPER_C[1]:
        low, high = (units.show(limit, "temperature") for limit in COPPER_C)
        problem = f"{units.show(celsius, 'temperature')} is no temperature of copper here"
        raise CalculationError("temperature", problem, f"give {low} to {high}")
    return celsius


def _current(inputs: Inputs) -> tuple[float, str]:
    """In A, of a current or of what a consumer takes in W; and how it is told."""
    try:
        given = units.read_any(str(inputs["current"]), place="current")
        if given.quantity != "power":
            given = units.read(given.text, "current", place="current")
    except units.QuantityError as error:
        expected = "write it as 10 A, or as what the consumer takes, 55 W"
        raise CalculationError("current", error.problem, expected) from None
    if given.quantity == "current":
        return given.value, given.understood
    watts, system = units.convert(given.value, "power", "W"), _system(inputs)
    return watts / system, f"{digits(watts)} W, {digits(watts / system)} A at {system:g} V"


def _system(inputs: Inputs) -> float:
    system = value_or(inputs, "voltage", SYSTEM_V)
    if system <= 0:
        raise CalculationError("voltage", "there is no voltage to lose", "give 12 V, or 6 V")
    return system


def _allowed(inputs: Inputs) -> float:
    """The drop allowed, V: a share of the voltage, or a voltage."""
    system = _system(inputs)
    text = str(inputs.get("allowed", f"{DROP_PERCENT:g} %"))
    expected = "write it as 3 % or 0.4 V"
    if text.endswith(("%", "percent", "pct")):
        most = units.read_number(text, unit="%", place="allowed") / 100 * system
    else:
        try:
            most = units.read(text, "voltage", place="allowed").value
        except units.QuantityError as error:
            raise CalculationError("allowed", error.problem, expected) from None
    if not 0 < most < system:
        raise CalculationError("allowed", f"“{text[:40]}” of {system:g} V cannot be lost", expected)
    return most


def _rule(inputs: Inputs) -> str:
    return "as put in" if "allowed" in inputs else DROP_SOURCE


def _volts(volts: float) -> str:
    return f"{digits(volts)} V" if volts >= 0.1 else f"{digits(volts * 1000)} mV"


def _milliohm(ohm: float) -> str:
    return f"{digits(ohm * 1000)} mΩ" if ohm < 1 else units.show(ohm, "resistance")


# ---------------------------------------------------------------- connection


def _connection(inputs: Inputs) -> Calculated:
    drop, current = amount(inputs, "drop"), amount(inputs, "current")
    if current.value <= 0:
        problem = "without current nothing drops"
        raise CalculationError("current", problem, "measure with the consumer switched on")
    limit = maybe_amount(inputs, "most")
    most = Limit(limit.value, "as put in") if limit else Limit(CONNECTION_V, CONNECTION_SOURCE)
    heat = drop.value * current.value
    hot = f"{digits(heat)} W in one spot melts a plug: take it apart." if heat > HOT_W else ""
    return Calculated(
        said=f"{_milliohm(drop.value / current.value)}. "
        f"{judge(drop.value, 'voltage', high=most, unit='V').words}.",
        lines=(("turned into heat there", f"{digits(heat)} W"),),
        formula="resistance = drop / current; heat = drop × current",
        put_in=(),
        source=f"Ohm's law; limit: {most.source}; from {HOT_W:g} W on it is told: judged by us",
        warnings=(
            *([hot] if hot else []),
            "Measured while the current flows, one probe on each side of the connection.",
        ),
        picture=_probes(drop.understood, current.understood),
    )


def _probes(drop: str, current: str) -> str:
    """Where the meter is put: on the metal on both sides of the connection."""
    shapes = [line(10, 130, 140, 130, thick=5), line(220, 130, 350, 130, thick=5)]
    shapes += [box(140, 112, 38, 36), box(182, 112, 38, 36)]
    shapes += [circle(180, 42, 24), words(180, 47, "V", anchor="middle")]
    shapes += [path([(156, 42), (110, 42), (110, 126)]), path([(204, 42), (250, 42), (250, 126)])]
    shapes += [
        words(262, 40, drop),
        words(16, 156, f"{current} →"),
        words(180, 172, "connection", anchor="middle"),
    ]
    return drawing(f"{drop} across the connection, {current} through it", 360, 182, *shapes)  # fmt: skip


WIRE = (
    Asked("current", "Current, or power", "words", "10 A", help="In A, or what the consumer takes in W."),
    Asked("length", "Length of the wire, there and back", "length", "4 m",
          help="Through the frame and back: only the wire."),
)  # fmt: skip
USUAL = (
    Asked("allowed", "Drop allowed", "words", "3 %", optional=True,
          help="A share, or a voltage. Left empty: 3 %."),
    Asked("voltage", "Voltage", "voltage", "12 V", optional=True, help="Left empty: 12 V."),
    Asked("temperature", "The wire's temperature", "temperature", "60 °C", optional=True,
          help="Left empty: 20 °C. Beside an engine it is hotter, and loses more."),
)  # fmt: skip
CAUTION = "A wire too thin, or a fuse too large, sets a machine on fire: the maker's wiring diagram decides."
CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="voltage-drop",
        title="Voltage lost in a wire",
        text="What a copper wire loses at a current, and whether that is little enough.",
        asked=(*WIRE, Asked("size", "Size of the wire", "words", "1.5 mm²", help="In mm², or as AWG 16."), *USUAL),
        calculate=_drop,
        caution=CAUTION,
        also=("cable", "harness", "loom"),
    ),
    Calculator(
        name="wire-size",
        title="Size of a wire",
        text="The least cross-section for a current and a length, in mm² and as a gauge.",
        asked=(*WIRE, *USUAL),
        calculate=_size,
        caution=CAUTION,
        also=("AWG", "cable", "harness"),
    ),
    Calculator(
        name="connection",
        title="Drop across a connection",
        text="What a plug, switch or earth point resists, by what drops across it.",
        asked=(
            Asked("drop", "Drop across it", "voltage", "150 mV"),
            Asked("current", "Current", "current", "10 A"),
            Asked("most", "Most of the manual", "voltage", "0.2 V", optional=True,
                  help="Left empty: 0.1 V, common practice only."),
        ),
        calculate=_connection,
        caution="Starter and headlamp draw enough to burn: clips that hold, engine from starting, no long cranking.",
        also=("bad earth", "ground", "corrosion", "contact resistance", "voltage drop"),
    ),
)  # fmt: skip
