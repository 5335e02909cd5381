"""Valve shims: which shim goes under which valve, so that fewest are bought.

Clearances and thicknesses are floats in millimetres at the border and whole tenths of a micrometre inside.
"""

from witnessmark.shims.assign import Fitting, Shelf, Work, assign
from witnessmark.shims.one_valve import ShimError, Valve, clearance_with, needed, read_stamp, window

__all__ = [
    "Fitting",
    "Shelf",
    "ShimError",
    "Valve",
    "Work",
    "assign",
    "clearance_with",
    "needed",
    "read_stamp",
    "window",
]
