"""Computations that can be used alone, each with its formula, what was put in, and its source."""

from witnessmark.calculators import (
    battery,
    cylinders,
    decoders,
    fasteners,
    fluids,
    oils,
    quantities,
    shims,
    tyres_and_chains,
    wear,
    wrenches,
)
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    CalculationErrors,
    Calculator,
    Input,
    Inputs,
    evaluate,
    put_in,
)
from witnessmark.errors import nearest

SUBJECTS: dict[str, tuple[Calculator, ...]] = {
    "Quantities": quantities.CALCULATORS,
    "Threads and bolts": fasteners.CALCULATORS,
    "Torque wrenches": wrenches.CALCULATORS,
    "Fluids": fluids.CALCULATORS + oils.CALCULATORS,
    "Valve shims": shims.CALCULATORS,
    "Brakes and wear": wear.CALCULATORS,
    "Tyres and chains": tyres_and_chains.CALCULATORS,
    "Battery and charging": battery.CALCULATORS,
    "Cylinders": cylinders.CALCULATORS,
    "Numbers and codes": decoders.CALCULATORS,
}
CALCULATORS: dict[str, Calculator] = {
    calculator.name: calculator for subject in SUBJECTS.values() for calculator in subject
}


def find(name: str) -> Calculator:
    """The calculator of that name. Raises CalculationError with the nearest name."""
    known = CALCULATORS.get(name)
    if known is None:
        like = nearest(name, CALCULATORS)
        expected = f'did you mean "{like}"?' if like else f"there are {', '.join(CALCULATORS)}"
        raise CalculationError("name", f'there is no calculator "{name[:40]}"', expected)
    return known


__all__ = [
    "CALCULATORS",
    "SUBJECTS",
    "Asked",
    "Calculated",
    "CalculationError",
    "CalculationErrors",
    "Calculator",
    "Input",
    "Inputs",
    "evaluate",
    "find",
    "put_in",
]
