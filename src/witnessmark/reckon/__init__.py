"""Computations that can be used alone, each with its formula, what was put in, and its source."""

from witnessmark.errors import nearest
from witnessmark.reckon import (
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
from witnessmark.reckon.model import (
    Asked,
    Input,
    Inputs,
    Reckoned,
    ReckonError,
    ReckonErrors,
    Reckoning,
    put_in,
    reckoned,
)

SUBJECTS: dict[str, tuple[Reckoning, ...]] = {
    "Quantities": quantities.RECKONINGS,
    "Threads and bolts": fasteners.RECKONINGS,
    "Torque wrenches": wrenches.RECKONINGS,
    "Fluids": fluids.RECKONINGS + oils.RECKONINGS,
    "Valve shims": shims.RECKONINGS,
    "Brakes and wear": wear.RECKONINGS,
    "Tyres and chains": tyres_and_chains.RECKONINGS,
    "Battery and charging": battery.RECKONINGS,
    "Cylinders": cylinders.RECKONINGS,
    "Numbers and codes": decoders.RECKONINGS,
}
RECKONINGS: dict[str, Reckoning] = {
    reckoning.name: reckoning for subject in SUBJECTS.values() for reckoning in subject
}


def find(name: str) -> Reckoning:
    """The reckoning of that name. Raises ReckonError with the nearest name."""
    known = RECKONINGS.get(name)
    if known is None:
        like = nearest(name, RECKONINGS)
        right = f'did you mean "{like}"?' if like else f"there are {', '.join(RECKONINGS)}"
        raise ReckonError("name", f'there is no reckoning "{name[:40]}"', right)
    return known


__all__ = [
    "RECKONINGS",
    "SUBJECTS",
    "Asked",
    "Input",
    "Inputs",
    "ReckonError",
    "ReckonErrors",
    "Reckoned",
    "Reckoning",
    "find",
    "put_in",
    "reckoned",
]
