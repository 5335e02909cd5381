"""Carburettors and throttle bodies: how far apart they pull, and in which order they are brought to one."""

from __future__ import annotations

import re

from witnessmark import units
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    lines_of,
    maybe_amount,
)
from witnessmark.calculators.rows import rows
from witnessmark.facts import Limit, judge

VACUUM, ABSOLUTE = "vacuum", "absolute pressure"
ATMOSPHERE_KPA = 110.0  # more than the air weighs anywhere; judged by us
ORDER = (
    "more vacuum: its throttle stands further shut; from the base outward, for the screw between two moves all "
    "beyond it (common practice, no source)"
)
AGAIN = "After each, blip the throttle, let it settle, and read all again; then set the idle."
LEAVE = "Leave it as it is."
FIRST = (
    "Before it: valve clearances, ignition, plugs, compression, air filter in, no air leaking at the stubs, engine "
    "warm. What is not even there is not put right here."
)
_MINUS = re.compile(r"(.*:)?\s*[-−]\s*[\d.,]")
RUNNING = (
    "The engine runs: outdoors or extraction on, a fan before it, hands and hoses clear of fan, chain and exhaust. "
    "Petrol and its vapour burn."
)


def _balance(inputs: Inputs) -> Calculated:
    most = maybe_amount(inputs, "most")
    # 25 may be cmHg or kPa: without a limit nothing tells, and every line needs its unit.
    unit = units.unit_written(most) if most else ""
    if any(_MINUS.match(line) for line in lines_of(inputs, "readings")):
        expected = "write a vacuum without it, and choose below what the gauges show"
        raise CalculationError("readings", "a reading has a minus", expected)
    read = [
        (name, one)
        for name, (one,) in rows(inputs, "readings", "pressure", unit, "carburettor", "1: 25 cmHg")
    ]
    for place, (_, one) in enumerate(read, 1):
        if one.value > ATMOSPHERE_KPA:
            problem = f"line {place}: {one.understood} is more than the air outside"
            raise CalculationError("readings", problem, "look at the unit")
    if len(read) < 2:
        raise CalculationError(
            "readings", "one alone is not out of balance", "give a line for each"
        )
    unit = unit or units.unit_written(read[0][1])
    base = _base(inputs, [name for name, _ in read])
    against = [one.value - read[base][1].value for _, one in read]
    (lowest, low), (highest, high) = (
        choose(read, key=lambda row: row[1].value) for choose in (min, max)
    )
    spread = round(high.value - low.value, 9)
    told = (
        judge(spread, "pressure", high=Limit(most.value, "as put in"), unit=unit) if most else None
    )
    words = told.words if told else f"{_show(spread, unit)}; no limit is put in"
    said = f"Apart by {words}" if spread else "All alike"
    if spread:
        said += f". Highest {highest}, lowest {lowest}"
    sign = -1 if inputs.get("shows") == ABSOLUTE else 1
    outward = sorted(range(len(read)), key=lambda place: (abs(place - base), place))[1:]
    fine = not spread or (told is not None and told.stand == "within limits")
    return Calculated(
        said=f"{said}.",
        lines=(
            *((name, f"{one.understood}, {_off(off, unit)}") for (name, one), off in zip(read, against, strict=True)),
            *(
                (f"step {step}: {read[place][0]}", _turn(against[place] * sign))
                for step, place in enumerate([] if fine else outward, 1)
            ),
        ),
        formula="spread = highest − lowest; each less the base",
        put_in=(("base", read[base][0]),),
        source=f"{'limit as put in; ' if most else ''}{ORDER}",
        warnings=(LEAVE if fine else AGAIN, FIRST),
    )  # fmt: skip


def _base(inputs: Inputs, names: list[str]) -> int:
    """The place of the carburettor that the others are brought to."""
    wanted = str(inputs["base"]).casefold()
    wanted = f"carburettor {wanted}" if wanted.isdecimal() else wanted
    fits = [place for place, name in enumerate(names) if name.casefold() == wanted]
    if len(fits) != 1:
        problem = (
            f"“{wanted[:40]}” is none of them"
            if not fits
            else f"“{wanted[:40]}” is there {len(fits)} times"
        )
        raise CalculationError("base", problem, f"there are {', '.join(names)}"[:200])
    return fits[0]


def _show(kpa: float, unit: str) -> str:
    return units.show(round(kpa, 9), "pressure", unit=unit)


def _off(kpa: float, unit: str) -> str:
    if abs(kpa) <= 1e-9:
        return "as the base"
    return f"{_show(abs(kpa), unit)} {'above' if kpa > 0 else 'below'} the base"


def _turn(more_vacuum: float) -> str:
    if abs(more_vacuum) <= 1e-9:
        return "leave it"
    return "open its throttle a little" if more_vacuum > 0 else "shut its throttle a little"


CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="carburettor-balance",
        title="Carburettor balance",
        text="How far carburettors or throttle bodies are apart, and which is moved which way, from the base outward.",
        asked=(
            Asked("readings", "Reading of each, as they stand in a row", "lines",
                  "1: 24.5 cmHg\n2: 26 cmHg\n3: 25 cmHg\n4: 23 cmHg",
                  help="A line each; without a unit in that of the limit. No minus before a vacuum."),
            Asked("base", "The one that is not moved", "words", "3", help="By its name above; the manual says which."),
            Asked("most", "Most they may be apart", "pressure", "2 cmHg", optional=True),
            Asked("shows", "The gauges show", "choice", VACUUM, (VACUUM, ABSOLUTE), optional=True,
                  help="Left empty: vacuum, more of it with the throttle shut."),
        ),
        calculate=_balance,
        caution=RUNNING,
        also=("carb", "synchronise", "vacuum gauge", "throttle body sync"),
    ),
)  # fmt: skip
