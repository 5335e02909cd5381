"""Computations that can be used alone, each with its formula, what was put in, and its source.

`SUBJECTS` and `CALCULATORS` hold all of them, and are made when they are first asked for; `find` imports the one.
"""

from __future__ import annotations

from functools import cache
from importlib import import_module
from typing import TYPE_CHECKING, Any

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

if TYPE_CHECKING:
    SUBJECTS: dict[str, tuple[Calculator, ...]]
    CALCULATORS: dict[str, Calculator]

# Subject: the modules, and the calculators that stand in each.
_NAMES: dict[str, dict[str, str]] = {
    "Quantities": {"quantities": "convert"},
    "Threads and bolts": {
        "fasteners": "torque-check preload thread thread-depth bolt-star drive-size class-mark",
        "turning": "torque-angle thread-insert",
        "inch_and_pipe": "inch-thread pipe-thread",
    },
    "Torque wrenches": {
        "wrenches": "crow-foot torque-tool weight-on-lever weight-for-torque which-wrench",
    },
    "Fluids": {
        "fluids": "packs stages strokes left-inside coolant two-stroke air-gap warm-oil",
        "oils": "bottle fork-oil-blend viscosity brake-fluid clutch-rating",
    },
    "Valve shims": {"shims": "shims"},
    "Brakes and wear": {"wear": "brake-disc brake-pad wear-forecast"},
    "Wheels": {"wheels": "wheel-runout spoke-tension", "alignment": "wheel-alignment"},
    "Tyres and chains": {
        "tyres_and_chains": "tyre-marking tyre-age tyre-pressure tread-depth chain chain-wear",
        "tyre_load": "tyre-load",
        "chain_drive": "chain-links",
    },
    "Gearing and speed": {
        "gearing": "road-speed gearing-change speedometer-error rolling-circumference",
    },
    "Suspension": {"suspension": "sag spring-rate spring-by-wire preload-collar"},
    "Battery and charging": {
        "battery": "battery-charge battery-drain charging",
        "windings": "charging-coil alternator-output",
    },
    "Wiring and sensors": {
        "wiring": "voltage-drop wire-size connection",
        "sensors": "temperature-sensor",
    },
    "Cylinders": {
        "cylinders": "leak-down compression",
        "volumes": "displacement compression-ratio squish",
        "bores": "ring-gap piston-clearance",
    },
    "Ignition, cams, carburettors": {
        "timing": "ignition-timing rim-mark cam-timing",
        "carburettors": "carburettor-balance",
    },
    "Numbers and codes": {
        "decoders": "identification-number trouble-codes codes-compared battery-marking",
        "blinks": "blink-code",
    },
    "Money": {"cash": "cash-rounding"},
}
_MODULE_OF = {
    name: module
    for modules in _NAMES.values()
    for module, names in modules.items()
    for name in names.split()
}


def find(name: str) -> Calculator:
    """The calculator of that name. Raises CalculationError with the nearest name."""
    if name in _MODULE_OF:
        return next(one for one in _in(_MODULE_OF[name]) if one.name == name)
    like = nearest(name, _MODULE_OF)
    expected = f'did you mean "{like}"?' if like else "look for it by what it is about"
    raise CalculationError("name", f'there is no calculator "{name[:40]}"', expected)


def _in(module: str) -> tuple[Calculator, ...]:
    calculators: tuple[Calculator, ...] = import_module(f"{__name__}.{module}").CALCULATORS
    return calculators


@cache
def _subjects() -> dict[str, tuple[Calculator, ...]]:
    return {
        subject: tuple(calculator for module in modules for calculator in _in(module))
        for subject, modules in _NAMES.items()
    }


@cache
def _calculators() -> dict[str, Calculator]:
    return {one.name: one for calculators in _subjects().values() for one in calculators}


def __getattr__(name: str) -> Any:
    if name == "SUBJECTS":
        return _subjects()
    if name == "CALCULATORS":
        return _calculators()
    raise AttributeError(name)


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
