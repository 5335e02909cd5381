"""Gearing: overall ratio, road speed, what another sprocket or tyre changes, and how far a wheel rolls."""

from __future__ import annotations

import math
import re

from witnessmark import decode, units
from witnessmark.calculators.engine_pictures import gear_chart
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    amount,
    maybe_amount,
    single,
    whole_number,
)
from witnessmark.calculators.system import today
from witnessmark.decode.errors import neat
from witnessmark.errors import WitnessError

LEAST_TEETH, MOST_TEETH = 6, 120  # of a sprocket; judged by us
PRIMARY = (0.8, 8.0)  # judged by us
GEAR = (0.4, 6.0)  # judged by us
FINAL = (1.0, 15.0)  # judged by us; a scooter's reduction is the largest
ROLLING_MM = (700.0, 2700.0)  # once round a wheel; judged by us
MOST_KMH = 400.0  # judged by us: faster than that, a ratio was mistyped
# UN Regulation 39, 5.3: never less than the true speed, at most a tenth and 4 km/h more
MORE_SHARE, MORE_KMH = 0.1, 4.0
REGULATION = "UN Regulation 39, 5.3: 0 ≤ shown − true ≤ true / 10 + 4 km/h, for type approval"
NOMINAL = (
    "The circumference is computed from the size: of a new tyre, with no load on it. A worn or loaded one rolls less "
    "far; measure it on the floor, rider on, for better."
)
RECKONED = "plain arithmetic: no slip of tyre, clutch or belt"
SPEEDOMETER = "The machine's manual and local law say which sprockets and tyres may be fitted."
SAFE = "Never turn the wheel by the engine with a hand near chain or sprocket."
_DRIVEN_FIRST = re.compile(r"(\d{1,3}) ?[/:] ?([1-9]\d{0,2})")
_TEETH = re.compile(r"(\d{1,3}) ?(?:/|:|-|x|to| ) ?(\d{1,3}) ?(?:t|teeth)?")


def speed_kmh(rpm: float, overall: float, rolling_mm: float) -> float:
    """Road speed at an engine speed; ``rolling_mm`` is once round the driven wheel."""
    return rpm / overall * rolling_mm * 60 / 1e6


def final_ratio(text: str, place: str) -> tuple[float, str]:
    """Turns of the gearbox's output to one of the wheel, and how it was understood.

    From teeth in either order, ``15/45``, or the ratio itself, ``3`` or ``3:1``. Raises CalculationError.
    """
    written = neat(text).casefold()
    teeth = _TEETH.fullmatch(written)
    small, large = sorted(map(int, teeth.groups())) if teeth else (0, 0)
    if small > 1:
        if not LEAST_TEETH <= small <= large <= MOST_TEETH:
            problem = f"{small} and {large} are no teeth of two sprockets"
            expected = f"count again: {LEAST_TEETH} to {MOST_TEETH}"
            raise CalculationError(place, problem, expected)
        return large / small, f"{small} and {large} teeth, {large / small:.4g} : 1"
    ratio = _within(
        units.read_ratio(written, place=place, most=FINAL[1]),
        FINAL,
        place,
        "a final drive",
        "15/45",
    )
    return ratio, f"{ratio:.4g} : 1"


def rolling(text: str, place: str) -> tuple[float, str, bool]:
    """Once round a wheel in mm, how it was understood, and whether it was measured, not computed.

    From a tyre's size, or a length that was measured. Raises CalculationError.
    """
    such = "such as 150/70-17, or measured, such as 1960 mm"
    try:
        given = units.read(text, "length", place=place)
    except units.QuantityError:
        pass
    else:
        _rolls(given.value, place, given.understood)
        return given.value, f"{given.understood}, as measured", True
    try:
        marking = decode.read_marking(text, today(), place=place)
    except WitnessError:
        marking = None
    if marking is None or marking.size is None:
        problem = f"“{text[:40]}” is neither the size of a tyre nor a length"
        raise CalculationError(place, problem, such)
    if marking.unread:
        raise CalculationError(place, f"“{marking.unread[0][0]}” was not understood", such)
    mm = math.pi * marking.size.diameter_mm
    _rolls(mm, place, marking.size.written)
    return mm, f"{marking.size.written}: {_mm(mm)}, computed", False


def _rolls(mm: float, place: str, understood: str) -> None:
    if not ROLLING_MM[0] <= mm <= ROLLING_MM[1]:
        problem = f"{understood}: {_mm(mm)} is not once round the wheel of a motorcycle"
        raise CalculationError(place, problem, "give the whole circumference, such as 1960 mm")


def _mm(mm: float) -> str:
    return units.show(round(mm), "length")


def _within(value: float, bounds: tuple[float, float], place: str, what: str, such: str) -> float:
    if not bounds[0] <= value <= bounds[1]:
        problem = f"{value:.4g} is no ratio of {what}"
        expected = f"give {bounds[0]:g} to {bounds[1]:g}, or the teeth, such as {such}"
        raise CalculationError(place, problem, expected)
    return value


def _ratio(text: str, bounds: tuple[float, float], place: str, what: str, such: str) -> float:
    """A ratio as such, or from the teeth, the driven ones first: ``64/36``. Raises a WitnessError."""
    if teeth := _DRIVEN_FIRST.fullmatch(text.strip()):
        driven, driving = map(int, teeth.groups())
        return _within(driven / driving, bounds, place, what, such)
    return _within(units.read_number(text, place=place, most=bounds[1]), bounds, place, what, such)


# ---------------------------------------------------------------- road speed


def _road_speed(inputs: Inputs) -> Calculated:
    primary = _ratio(str(inputs["primary"]), PRIMARY, "primary", "a primary drive", "64/36")
    final, teeth = final_ratio(str(inputs["final"]), "final")
    mm, tyre, measured = rolling(str(inputs["tyre"]), "tyre")
    rpm, speed = (maybe_amount(inputs, name) for name in ("rpm", "speed"))
    for name, given in (("rpm", rpm), ("speed", speed)):
        if given and not given.value:
            raise CalculationError(name, "it stands still", "leave it empty, or give more than 0")
    overall = {name: primary * ratio * final for name, ratio in _gears(inputs).items()}
    turning = rpm.value if rpm else 1000.0
    top = list(overall)[-1]
    fastest = max(speed_kmh(turning, one, mm) for one in overall.values())
    said = (
        f"{units.show(turning, 'rotation')} in {top}: {_kmh(speed_kmh(turning, overall[top], mm))}"
    )
    if speed:
        said += f"; {speed.understood} in {top}: {_rpm(_turning(speed.value, overall[top], mm))}"
    warnings = [] if measured else [NOMINAL]
    if fastest > MOST_KMH:
        warnings.insert(0, f"{_kmh(fastest)} is faster than a motorcycle goes: look at the ratios.")
    return Calculated(
        said=f"{said}.",
        lines=tuple(
            (name, f"{one:.4g} : 1 over all; {_kmh(speed_kmh(turning, one, mm))} at {units.show(turning, 'rotation')}"
             + (f"; {_rpm(_turning(speed.value, one, mm))} at {speed.understood}" if speed else ""))
            for name, one in overall.items()
        ),
        formula="overall = primary × gear × final; speed = rpm / overall × circumference × 60",
        put_in=(("final", teeth), ("tyre", tyre)),
        source=RECKONED,
        warnings=tuple(warnings),
        picture=gear_chart(
            {name: speed_kmh(turning, one, mm) for name, one in overall.items()},
            turning, speed.value if speed else None,
        ),
    )  # fmt: skip


def _gears(inputs: Inputs) -> dict[str, float]:
    """The ratios by name. Example of a line: ``1st: 2.571`` or ``36/14``."""
    ratios: dict[str, float] = {}
    for place, line in enumerate(single(inputs, "gears"), 1):
        name, colon, rest = line.rpartition(":")
        called = name.strip() if colon else str(place)
        told = f"line {place}, “{line[:40]}”"
        if not called or re.search(r"[:.,/]", called) or called in ratios:
            raise CalculationError(
                "gears", f"{told}, is not one gear", "such as 1st: 2.571 or 36/14"
            )
        try:
            ratios[called] = _ratio(rest, GEAR, "gears", "a gear", "36/14")
        except WitnessError as error:
            raise CalculationError("gears", f"{told}: {error.problem}", error.expected) from None
    return {f"gear {name}" if name.isdecimal() else name: ratio for name, ratio in ratios.items()}


def _turning(kmh: float, overall: float, mm: float) -> float:
    return kmh * overall / mm / 60 * 1e6


def _kmh(kmh: float) -> str:
    return units.show(kmh, "speed")


def _rpm(rpm: float) -> str:
    return units.show(round(rpm, -1), "rotation")


# ---------------------------------------------------------------- another sprocket or tyre


def _change(inputs: Inputs) -> Calculated:
    final, final_told = _pair(inputs, "final")
    rolls, tyre_told = _pair(inputs, "tyre")
    takes = str(inputs["takes"]) if "takes" in inputs else "rear wheel"
    revs = final / rolls
    shows = {"rear wheel": 1 / rolls, "gearbox": revs, "front wheel": 1.0}[takes]
    speed = maybe_amount(inputs, "speed")
    kmh = speed.value if speed else {"km/h": 100.0}.get(units.usual_unit(0, "speed"), 96.56064)
    measured = all("measured" in text for _, text in tyre_told)
    return Calculated(
        said=f"At the same road speed: engine {_percent(revs, 'faster', 'slower')}, speedometer "
        f"{_percent(shows, 'more', 'less')}, turned by the {takes}.",
        lines=(
            ("road speed at the same rpm", _percent(1 / revs, "higher", "lower")),
            ("5000 rpm become", _rpm(5000 * revs)),
            (f"at a true {_kmh(kmh)} it shows", _kmh(kmh * shows)),
            ("when it shows that, the true speed is", _kmh(kmh / shows)),
            ("the odometer counts", _percent(shows, "more", "less")),
        ),
        formula="revs: (final then / now) / (circumference then / now); speedometer: by what turns its sensor",
        put_in=(*final_told, *tyre_told),
        source=f"{RECKONED}; as if the speedometer was right before",
        warnings=(
            *(("It shows less than the true speed: no speedometer may (UN Regulation 39, 5.3).",)
              if shows < 1 - 1e-9 else ()),
            *(("What is due by distance comes late or early by the same share.",) if abs(shows - 1) > 1e-9 else ()),
            *(() if measured else (NOMINAL,)),
        ),
    )  # fmt: skip


def _pair(inputs: Inputs, what: str) -> tuple[float, list[tuple[str, str]]]:
    """What comes then over what is now, 1 where nothing changes; how what was put in was understood."""
    now, then = f"{what}_now", f"{what}_then"
    if now not in inputs:
        if then in inputs:
            raise CalculationError(
                now, "there is nothing to compare with", "give what is on it now"
            )
        return 1.0, []
    read = final_ratio if what == "final" else rolling
    both = (now, then if then in inputs else now)
    (old, *told), (new, *told_then) = (read(str(inputs[name]), name) for name in both)
    if what == "tyre" and told[1] != told_then[1]:
        problem = "one circumference is measured, the other computed"
        raise CalculationError(then, problem, "give two sizes, or measure both")
    return new / old, [
        (now, str(told[0])),
        *([(then, str(told_then[0]))] if then in inputs else []),
    ]


def _percent(factor: float, more: str, less: str) -> str:
    """Example: ``6.3 % more``; ``unchanged``."""
    percent = abs(factor - 1) * 100
    if percent < 0.05:  # judged by us: below what is shown
        return "unchanged"
    return f"{percent:.1f} % {more if factor > 1 else less}"


# ---------------------------------------------------------------- speedometer, circumference


def _speedometer(inputs: Inputs) -> Calculated:
    shown, true = amount(inputs, "shown"), amount(inputs, "true")
    if not true.value or not shown.value:
        place = "true" if shown.value else "shown"
        raise CalculationError(
            place, "it stands still", "read both at a steady speed on a level road"
        )
    most = true.value * (1 + MORE_SHARE) + MORE_KMH
    if shown.value < true.value - 1e-9:
        verdict = "less than the true speed, which no speedometer may show"
    elif shown.value > most + 1e-9:
        verdict = f"more than the {_kmh(most)} that are allowed"
    else:
        verdict = "as is allowed"
    off = _percent(shown.value / true.value, "too much", "too little")
    return Calculated(
        said=f"It shows {'the true speed' if off == 'unchanged' else off}: {verdict}.",
        lines=(
            ("difference", units.show(shown.value - true.value, "speed")),
            ("allowed at that speed", f"{_kmh(true.value)} to {_kmh(most)}"),
        ),
        formula="error = (shown − true) / true",
        put_in=(),
        source=REGULATION,
        warnings=("Local law decides. Compare at a steady speed on a level road; somebody else reads.",),
    )  # fmt: skip


def _circumference(inputs: Inputs) -> Calculated:
    turns, rolled = whole_number(inputs, "turns"), amount(inputs, "rolled")
    if not 1 <= turns <= 10:
        raise CalculationError("turns", f"{turns} turns are not counted on a floor", "give 1 to 10")
    once = rolled.value / turns
    _rolls(once, "rolled", f"{rolled.understood} in {turns}")
    lines = [("turns per km", f"{1e6 / once:.0f}"), ("diameter it rolls as", _mm(once / math.pi))]
    told: tuple[tuple[str, str], ...] = ()
    if "size" in inputs:
        computed, size, measured = rolling(str(inputs["size"]), "size")
        if measured:
            raise CalculationError("size", "that is a length, not a size", "such as 150/70-17")
        lines.append(("against the size computed", _percent(once / computed, "more", "less")))
        told = (("size", size),)
    return Calculated(
        said=f"It rolls {_mm(once)} in one turn.",
        lines=tuple(lines),
        formula="circumference = distance rolled / turns",
        put_in=told,
        source="plain arithmetic",
        warnings=("Roll it in a straight line at its pressure, loaded as it is ridden.",),
    )


_TYRE_HELP = "Its size, such as 150/70-17, or once round it as measured, such as 1960 mm."
_FINAL_HELP = "Teeth, such as 15/45, or the ratio."
CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="road-speed",
        title="Gearing and road speed",
        text="Overall ratio in each gear, road speed at an engine speed and the other way round.",
        asked=(
            Asked("primary", "Primary ratio", "words", "1.75",
                  help="Or teeth, the driven ones first: 63/36."),
            Asked("gears", "Ratios in the gearbox", "lines", "2.5\n1.8\n1.4\n1.15\n0.95",
                  help="A gear each line; or teeth, the driven ones first: 35/14."),
            Asked("final", "Final drive", "words", "15/45", help=_FINAL_HELP),
            Asked("tyre", "Tyre of the driven wheel", "words", "150/70-17", help=_TYRE_HELP),
            Asked("rpm", "Engine speed", "rotation", "5000 rpm", optional=True, help="Left empty: 1000 rpm."),
            Asked("speed", "Road speed", "speed", "90 km/h", optional=True),
        ),
        calculate=_road_speed,
        caution=SAFE,
        also=("top speed", "rpm", "gears"),
    ),
    Calculator(
        name="gearing-change",
        title="Another sprocket or tyre",
        text="What it changes in engine speed, speedometer and odometer.",
        asked=(
            Asked("final_now", "Final drive now", "words", "15/45", help=_FINAL_HELP),
            Asked("final_then", "Final drive then", "words", "16/45", optional=True, help="Left empty: as now."),
            Asked("tyre_now", "Tyre of the driven wheel now", "words", "150/70-17", optional=True, help=_TYRE_HELP),
            Asked("tyre_then", "Tyre of the driven wheel then", "words", "150/60-17", optional=True,
                  help="Left empty: as now."),
            Asked("takes", "What turns the speedometer", "choice", "gearbox", ("rear wheel", "gearbox", "front wheel"),
                  optional=True, help="Left empty: the rear wheel. The rear wheel is taken as the driven one."),
            Asked("speed", "Road speed to compare at", "speed", "100 km/h", optional=True),
        ),
        calculate=_change,
        caution=SPEEDOMETER,
        also=("sprocket teeth", "final drive ratio", "shorter gearing"),
    ),
    Calculator(
        name="speedometer-error",
        title="Speedometer error",
        text="How far a speedometer is off a measured speed, and whether that is allowed.",
        asked=(
            Asked("shown", "Speed it shows", "speed", "100 km/h"),
            Asked("true", "True speed, measured", "speed", "94 km/h",
                  help="By satellite, or timed over a known distance."),
        ),
        calculate=_speedometer,
        caution="Keep to the law and the eyes on the road: let a recorder or somebody else read.",
        also=("speedo", "GPS", "clock"),
    ),
    Calculator(
        name="rolling-circumference",
        title="Rolling circumference",
        text="How far a wheel rolls in one turn, measured on the floor.",
        asked=(
            Asked("rolled", "Distance rolled", "length", "5.88 m"),
            Asked("turns", "Turns of the wheel", "number", "3"),
            Asked("size", "Size of the tyre", "words", "150/70-17", optional=True, help="To compare with."),
        ),
        calculate=_circumference,
        also=("tire", "rollout"),
    ),
)  # fmt: skip
