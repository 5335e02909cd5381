"""Fluids by volume: which packs to open, how many strokes of a syringe, the stages of a fill.

Volumes are floats in millilitres (``volume_ml``); sums are exact, in fractions of them.
"""

from witnessmark.fluids.containers import Containers, containers
from witnessmark.fluids.volume import FluidError, Stages, Strokes, stages, strokes

__all__ = ["Containers", "FluidError", "Stages", "Strokes", "containers", "stages", "strokes"]
