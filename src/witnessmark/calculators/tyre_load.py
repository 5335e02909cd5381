"""What a tyre may carry at a lower pressure than the one of its full load."""

from __future__ import annotations

import re

from witnessmark import decode, units
from witnessmark.calculators.graphs import graph
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    amount,
    maybe_amount,
    number,
)
from witnessmark.calculators.system import today
from witnessmark.calculators.tyres_and_chains import TYRE
from witnessmark.decode.tyre_tables import LOAD_KG

EXPONENT = (
    0.8  # ETRTO Standards Manual for tyres of cars, from memory; a handbook's table follows it
)
EXPONENTS = (0.5, 1.0)  # judged by us: what is published lies between 0.585 and 1
LOWEST = 0.6  # of the reference pressure; judged by us: tables end there
REFERENCE_KPA = (150.0, 450.0)  # judged by us: of tyres of motorcycles and mopeds
_STAMP = re.compile(r"max(?:imum|\.)? ?load ?", re.IGNORECASE)
SOURCE = (
    "exponent 0.8: ETRTO, of car tyres (from memory, checked against a handbook's table); of motorcycle tyres none is "
    "known here; load index: ISO 4000-1 / UN R75 Annex 4"
)


def load_at(full_kg: float, reference_kpa: float, kpa: float, exponent: float = EXPONENT) -> float:
    """What is left of the full load at a lower pressure, kg."""
    return float(full_kg * (kpa / reference_kpa) ** exponent)


def _full_load(text: str) -> tuple[float, str]:
    """In kg, of a load index, a service mark such as (58W), or a mass; and how it is told."""
    plain = _STAMP.sub("", " ".join(text.split()))
    if not plain.isdecimal():
        try:
            mass = units.read(plain, "mass", place="full")
        except units.QuantityError:
            index = _marked(plain)
        else:
            low, high = min(LOAD_KG.values()), max(LOAD_KG.values())
            if not low <= mass.value / 1000 <= high:
                problem = f"{mass.understood} is no full load of such a tyre"
                expected = f"give {low:g} to {high:g} kg, or the load index without a unit"
                raise CalculationError("full", problem, expected)
            return mass.value / 1000, mass.understood
    else:
        index = int(plain[:4])
    if index not in LOAD_KG:
        problem = f"load index {index} is not in our table"
        expected = f"give {min(LOAD_KG)} to {max(LOAD_KG)}, or the load on the tyre in kg or lb"
        raise CalculationError("full", problem, expected)
    return LOAD_KG[index], f"load index {index}, {_kg(LOAD_KG[index])}"


def _marked(plain: str) -> int:
    """The load index of a service mark."""
    try:
        read = decode.read_marking(plain, today(), place="full")
    except decode.DecodeError:
        rating = None
    else:
        rating = None if read.unread else read.rating
    if rating is None or rating.second is not None:
        expected = "write its load index, such as 58, or MAX LOAD in kg or lb"
        raise CalculationError("full", f"“{plain[:40]}” tells no load", expected)
    return rating.load


def _load(inputs: Inputs) -> Calculated:
    full_kg, told = _full_load(str(inputs["full"]))
    reference, pressure = amount(inputs, "reference"), amount(inputs, "pressure")
    exponent = number(inputs, "exponent", EXPONENT)
    _within(reference.value, pressure.value, exponent, inputs)
    left = load_at(full_kg, reference.value, pressure.value, exponent)
    careful = load_at(full_kg, reference.value, pressure.value, 1.0)
    lines = [
        ("of the full load", f"{left / full_kg * 100:.3g} %"),
        ("by straight proportion, the careful reading", _kg(careful)),
    ]
    warnings = [
        "This sets no pressure: the machine's placard and manual do, for load and speed together."
    ]
    said = f"About {_kg(left)} at {pressure.understood}."
    if carried := maybe_amount(inputs, "carried"):
        kg = carried.value / 1000
        said += f" {_carries(carried.understood, kg, left, careful)}"
        if kg > careful:
            warnings.append(
                "Do not ride so: raise the pressure to the placard's, or take load off."
            )
    return Calculated(
        said=said,
        lines=tuple(lines),
        formula=f"load = full load × (pressure / reference)^{exponent:g}, gauge pressures, cold",
        put_in=(("full", told),),
        source=SOURCE + ("; exponent as put in" if "exponent" in inputs else ""),
        warnings=(*warnings, "Above 210 km/h a tyre carries less than its index says (from memory)."),
        picture=_picture(full_kg, reference.value, pressure.value, exponent),
    )  # fmt: skip


def _within(reference: float, pressure: float, exponent: float, inputs: Inputs) -> None:
    low, high = REFERENCE_KPA
    said = {name: amount(inputs, name).understood for name in ("reference", "pressure")}
    if not low <= reference <= high:
        problem = f"{said['reference']} is no pressure of a full load"
        expected = f"give what stands on the tyre beside its load, {_kpa(low)} to {_kpa(high)}"
        raise CalculationError("reference", problem, expected)
    if pressure > reference:
        problem = f"{said['pressure']} is more than the {said['reference']} of the full load"
        expected = "more pressure gives no more load than the tyre is marked with"
        raise CalculationError("pressure", problem, expected)
    if pressure < LOWEST * reference:
        problem = f"at {said['pressure']} no load can be told: so low, a tyre overheats"
        expected = f"the formula holds from {_kpa(LOWEST * reference)} on"
        raise CalculationError("pressure", problem, expected)
    if not EXPONENTS[0] <= exponent <= EXPONENTS[1]:
        problem = f"{exponent:g} is no exponent of a tyre"
        raise CalculationError("exponent", problem, "give 0.5 to 1, or leave it empty")


def _carries(said: str, kg: float, left: float, careful: float) -> str:
    if kg <= careful:
        return f"{said} on it is less."
    if kg <= left:
        return f"{said} on it is less, but more than by straight proportion: too near to be sure."
    return f"{said} on it is too much."


def _kg(kg: float) -> str:
    return units.show(float(f"{kg:.3g}") * 1000, "mass")


def _kpa(kpa: float) -> str:
    return units.show(kpa, "pressure")


def _picture(full_kg: float, reference: float, pressure: float, exponent: float) -> str:
    low = LOWEST * reference
    steps = [low + (reference - low) * n / 20 for n in range(21)]
    curve = [(kpa, load_at(full_kg, reference, kpa, exponent)) for kpa in steps]
    across = [(kpa, _kpa(kpa)) for kpa in (low, (low + reference) / 2, reference)]
    up = [(kg, _kg(kg)) for kg in (0, full_kg / 2, full_kg)]
    spot = (pressure, load_at(full_kg, reference, pressure, exponent))
    title = f"Load by pressure; {_kg(spot[1])} at {_kpa(pressure)}"
    return graph(title, curve, across, [(0.0, "0"), *up[1:]], spot)


CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="tyre-load",
        title="Load of a tyre at a pressure",
        text="About what a tyre may carry at less than the pressure of its full load.",
        asked=(
            Asked("full", "Load index, or full load", "words", "58",
                  help="As it stands on the tyre: 58, 58W, 236 kg or 520 lb."),
            Asked("reference", "Pressure of the full load", "pressure", "2.9 bar",
                  help="Beside MAX LOAD on the tyre, or from its maker."),
            Asked("pressure", "Pressure in it, cold", "pressure", "2.5 bar"),
            Asked("carried", "Load on that wheel", "mass", "180 kg", optional=True,
                  help="Weighed with rider, passenger and luggage."),
            Asked("exponent", "Exponent of the tyre's maker", "number", "0.8", optional=True, help="Left empty: 0.8."),
        ),
        calculate=_load,
        caution=TYRE,
        also=("tire", "overload", "payload", "underinflated"),
    ),
)  # fmt: skip
