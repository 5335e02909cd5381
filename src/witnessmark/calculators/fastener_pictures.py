"""Drawings of threads, heads and bolt circles."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from witnessmark.charts.drawing import circle, drawing, line, path, words
from witnessmark.fasteners import Thread

_TURNS = 6


def thread(shape: Thread) -> str:
    """The profile of a thread in section, its diameters told beside it."""
    title = f"Section of {shape.name}, with its diameters"
    left, top, pitch_px, scale = 20.0, 40.0, 42.0, 42.0 / shape.pitch_mm
    deep = (shape.diameter_mm - shape.root_diameter_mm) / 2 * scale
    points = []
    for turn in range(_TURNS):
        x = left + turn * pitch_px
        points += [(x + pitch_px * 0.06, top), (x + pitch_px * 0.44, top + deep)]
        points += [(x + pitch_px * 0.56, top + deep), (x + pitch_px * 0.94, top)]
    right = left + _TURNS * pitch_px
    axis = top + deep + 60
    levels = [
        (top, f"d = {shape.diameter_mm:g} mm"),
        (
            top + (shape.diameter_mm - shape.pitch_diameter_mm) / 2 * scale,
            f"d2 = {shape.pitch_diameter_mm:.3f} mm",
        ),
        (top + deep, f"d3 = {shape.root_diameter_mm:.3f} mm"),
    ]
    shapes = [path(points, thick=3)]
    for place, (y, text) in enumerate(levels):
        beside = (top - 6, top + deep / 2 + 5, top + deep + 18)[place]
        shapes += [
            line(left, y, right + 8, y, thick=1, dashed=True),
            words(right + 14, beside, text),
        ]
    shapes += [
        line(left, axis, right, axis, thick=1, dashed=True),
        words(left, axis + 20, "axis of the bolt"),
        line(
            left + pitch_px * 1.5, top + deep + 8, left + pitch_px * 1.5, top + deep + 34, thick=1
        ),
        line(
            left + pitch_px * 2.5, top + deep + 8, left + pitch_px * 2.5, top + deep + 34, thick=1
        ),
        line(left + pitch_px * 1.5, top + deep + 28, left + pitch_px * 2.5, top + deep + 28),
        words(left + pitch_px * 2.6, top + deep + 34, f"P = {shape.pitch_mm:g} mm"),
    ]
    return drawing(title, right + 170, axis + 34, *shapes)


def head(mark: str) -> str:
    """A hexagon head from above with its mark."""
    corners = [
        (100 + 80 * math.cos(math.radians(60 * k)), 90 + 80 * math.sin(math.radians(60 * k)))
        for k in range(6)
    ]
    size = 34 if len(mark) < 5 else 26
    shapes = (
        path(corners, closed=True, thick=3),
        circle(100, 90, 64),
        words(100, 90 + size / 3, mark, anchor="middle", size=size),
    )
    return drawing(f"Hexagon head marked {mark}", 200, 180, *shapes)


def star(order: Sequence[int]) -> str:
    """The places of a circle, with the way from one to the next; the numbers say which comes first, second …"""
    count, middle, radius = len(order), 150.0, 110.0
    small = min(20.0, 150.0 / count + 6)
    at = {
        place: (
            middle + radius * math.sin(2 * math.pi * (place - 1) / count),
            middle - radius * math.cos(2 * math.pi * (place - 1) / count),
        )
        for place in order
    }
    way = [line(*_between(at[a], at[b], small)) for a, b in pairwise(order)]
    bolts = [
        shape
        for turn, place in enumerate(order, 1)
        for shape in (
            circle(*at[place], small, filled=False),
            words(
                at[place][0],
                at[place][1] + small * 0.3,
                str(turn),
                anchor="middle",
                size=small * 0.95,
            ),
        )
    ]
    title = f"{count} bolts on a circle, numbered in the order in which they are made tight"
    return drawing(title, 2 * middle, 2 * middle, *way, *bolts)


def _between(
    start: tuple[float, float], end: tuple[float, float], gap: float
) -> tuple[float, float, float, float]:
    """A stroke from the rim of one bolt to the rim of another."""
    (x1, y1), (x2, y2) = start, end
    far = math.hypot(x2 - x1, y2 - y1)
    dx, dy = (x2 - x1) / far * gap, (y2 - y1) / far * gap
    return x1 + dx, y1 + dy, x2 - dx, y2 - dy
