"""Quantities at the border: read as people write them, shown as the tool in hand reads them.

Past this package a quantity is a plain float with its base unit in its name (``torque_nm``,
``volume_ml``, ``length_mm``, ``pressure_kpa``, ``distance_km``, ``months``).
"""

from witnessmark.units.read import Amount, QuantityError, read
from witnessmark.units.show import ShowError, convert, show, usual_unit
from witnessmark.units.table import BASE, BOUNDS, QUANTITIES, UNITS, Bounds, Quantity, System

__all__ = [
    "BASE",
    "BOUNDS",
    "QUANTITIES",
    "UNITS",
    "Amount",
    "Bounds",
    "Quantity",
    "QuantityError",
    "ShowError",
    "System",
    "convert",
    "read",
    "show",
    "usual_unit",
]
