"""Quantities at the border: read as people write them, shown as the tool in hand reads them.

Past this package a quantity is a plain float with its base unit in its name (``torque_nm``,
``volume_ml``, ``length_mm``, ``pressure_kpa``, ``distance_km``, ``months``).
"""

from witnessmark.units.nearest_step import Setting, error_in_words, setting
from witnessmark.units.read import (
    Amount,
    QuantityError,
    read,
    read_any,
    read_difference,
    read_number,
    read_ratio,
    with_unit,
)
from witnessmark.units.show import ShowError, convert, exact, show, shown_in, usual_unit
from witnessmark.units.slips import slips, unit_written
from witnessmark.units.span import Span, ends, read_span
from witnessmark.units.table import (
    BASE,
    BOUNDS,
    QUANTITIES,
    UNITS,
    Believable,
    Quantity,
    System,
    two_meanings,
    unit_named,
    with_article,
)

__all__ = [
    "BASE",
    "BOUNDS",
    "QUANTITIES",
    "UNITS",
    "Amount",
    "Believable",
    "Quantity",
    "QuantityError",
    "Setting",
    "ShowError",
    "Span",
    "System",
    "convert",
    "ends",
    "error_in_words",
    "exact",
    "read",
    "read_any",
    "read_difference",
    "read_number",
    "read_ratio",
    "read_span",
    "setting",
    "show",
    "shown_in",
    "slips",
    "two_meanings",
    "unit_named",
    "unit_written",
    "usual_unit",
    "with_article",
    "with_unit",
]
