"""Fluids: how much, of what, whether this bottle may go in there, and where it goes when drained.

Volumes are floats in millilitres (``volume_ml``), viscosities in mm²/s, temperatures in °C.
"""

from witnessmark.fluids.bottle import Bottle, BottleFit, Wanted, judge, wanted
from witnessmark.fluids.containers import Containers, containers
from witnessmark.fluids.volume import FluidError, Stages, Strokes, stages, strokes

__all__ = [
    "Bottle",
    "BottleFit",
    "Containers",
    "FluidError",
    "Stages",
    "Strokes",
    "Wanted",
    "containers",
    "judge",
    "stages",
    "strokes",
    "wanted",
]
