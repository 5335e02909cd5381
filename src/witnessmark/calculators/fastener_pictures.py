"""Drawings of threads, heads and bolt circles."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise

from witnessmark.charts.drawing import box, circle, drawing, line, path, words
from witnessmark.fasteners import InsertHole, PipeThread, Thread

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


# ---------------------------------------------------------------- turned by an angle


def turn(angles_deg: Sequence[float], *, left_hand: bool = False) -> str:
    """A hexagon head from above: the mark at the start, the way turned, where it ends."""
    middle, hand = 165.0, -1 if left_hand else 1
    total = sum(angles_deg)

    def at(degrees: float, radius: float) -> tuple[float, float]:
        turned = math.radians(degrees * hand)
        return middle + radius * math.sin(turned), middle - radius * math.cos(turned)

    def out(degrees: float) -> float:
        return 92 + 14 * degrees / 360  # each full turn lies outside the last

    shapes = [
        path([at(60 * k, 70) for k in range(6)], closed=True, thick=3),
        path([at(step, out(step)) for step in _steps(total)], thick=3),
        line(*at(0, 20), *at(0, 138), thick=5),
        words(at(0, 138)[0] + 8, 22, "mark"),
        path([at(total - 7 * 92 / out(total), out(total) - 8), at(total, out(total)),
              at(total - 7 * 92 / out(total), out(total) + 8)], thick=3),
    ]  # fmt: skip
    shapes += [line(*at(k * 60, 70), *at(k * 60, 80), thick=1) for k in range(1, 6)]
    reached = 0.0
    for turns in angles_deg:
        reached += turns
        shapes.append(line(*at(reached, 20), *at(reached, out(reached) + 10), dashed=True))
        x, y = at(reached, out(reached) + 26)
        shapes.append(words(x, y + 5, f"{reached:g}°", anchor="middle"))
    title = f"Hexagon head, turned {total:g}° {'anticlockwise' if left_hand else 'clockwise'} from its mark"
    return drawing(title, 2 * middle, 2 * middle, *shapes)


def _steps(total: float) -> list[float]:
    """Angles close enough together to look round."""
    count = max(2, round(total / 6))
    return [total * step / count for step in range(count + 1)]


# ---------------------------------------------------------------- inch heads, plugs, inserts


def grades(marks: Mapping[str, int], chosen: str) -> str:
    """Hexagon heads from above with the lines of their grade; the chosen one drawn thick."""
    shapes = []
    for place, (name, lines) in enumerate(marks.items()):
        x, y = 60.0 + 115 * place, 62.0
        thick = 5 if name == chosen else 2
        corner = [math.radians(60 * k) for k in range(6)]
        shapes.append(
            path([(x + 50 * math.cos(a), y + 50 * math.sin(a)) for a in corner], closed=True, thick=thick)
        )  # fmt: skip
        for k in range(lines):
            a = 2 * math.pi * k / lines - math.pi / 2
            cos, sin = math.cos(a), math.sin(a)
            shapes.append(line(x + 16 * cos, y + 16 * sin, x + 34 * cos, y + 34 * sin, thick=4))
        shapes.append(words(x, y + 72, f"grade {name}", anchor="middle"))
    told = ", ".join(f"grade {name}: {lines or 'no'} lines" for name, lines in marks.items())
    return drawing(f"Lines on the heads of inch bolts: {told}", 350, 150, *shapes)


def plug(thread: PipeThread) -> str:
    """A plug from the side: parallel with its washer, or tapered; the arrow tells where it seals."""
    middle, top, long = 110.0, 70.0, 90.0
    wide, narrow = 46.0, 46.0 - (12 if thread.tapered else 0)
    turns = 7
    left, right = [], []
    for k in range(turns + 1):
        half = wide + (narrow - wide) * k / turns
        y = top + long * k / turns
        left += [(middle - half, y), (middle - half + 7, y + long / turns / 2)]
        right += [(middle + half, y), (middle + half - 7, y + long / turns / 2)]
    end = top + long + long / turns / 2
    shapes = [
        box(middle - 38, top - 46, 76, 34),
        path([*left, *reversed(right)], closed=True),
        line(20, top, middle - wide - 4, top, thick=3),
        line(middle + wide + 4, top, 200, top, thick=3),
        line(middle, top - 54, middle, end + 12, thick=1, dashed=True),
    ]
    seal = top + long / 2
    if thread.kind == "G":
        seal = top - 6
        shapes += [box(middle - 62, top - 12, 124, 10, filled=True)]
    else:
        shapes += [box(middle - 38, top - 12, 76, 12)]
    tip = middle + (68 if thread.kind == "G" else wide)
    shapes += [
        line(tip, seal, 214, seal),
        path([(tip + 10, seal - 6), (tip, seal), (tip + 10, seal + 6)]),
        words(220, seal + 5, "seals here"),
        words(220, top + long - 4, f"{thread.per_inch:g} to the inch"),
        words(middle, end + 30, f"{thread.diameter_mm:.2f} mm over the crests", anchor="middle"),
    ]
    way = "tapered" if thread.tapered else "parallel"
    return drawing(
        f"Plug with {thread.name}, {way}, sealing {thread.seals}", 330, end + 42, *shapes
    )


def insert(hole: InsertHole) -> str:
    """A wire insert in its hole, half cut away: what is drilled, what is tapped, where the bolt goes."""
    scale = 60 / hole.tapped.diameter_mm
    middle, top, pitch = 105.0, 40.0, 18.0
    out, bore, bolt = (
        across * scale
        for across in (hole.tapped.diameter_mm, hole.drill_mm, hole.thread.minor_diameter_mm)
    )
    shapes: list[str] = []
    for side in (-1, 1):
        wall = [(middle + side * 95, top), (middle + side * bore, top)]
        for k in range(6):
            y = top + pitch * (k + 0.5)
            wall += [(middle + side * bore, y - pitch / 2), (middle + side * out, y)]
            shapes.append(
                _coil(middle + side * (out + bolt) / 2, y, (out - bolt) / 2, pitch * 0.42)
            )
        wall += [(middle + side * bore, top + 6 * pitch), (middle + side * bore, top + 8 * pitch)]
        shapes.append(path(wall, thick=3))
    end = top + 8 * pitch
    shapes += [
        line(middle, top - 16, middle, end + 8, thick=1, dashed=True),
        line(middle - bore, end, middle + bore, end, thick=3),
        line(middle + out, top + pitch / 2, 206, top + pitch / 2, thick=1),
        words(210, top + pitch / 2 + 5, f"tap {hole.tapped.diameter_mm:.2f} mm"),
        line(middle + bolt, top + pitch * 3.5, 206, top + pitch * 3.5, thick=1),
        words(210, top + pitch * 3.5 + 5, "wire insert"),
        line(middle + bore, top + pitch * 7, 206, top + pitch * 7, thick=1),
        words(210, top + pitch * 7 + 5, f"drill {hole.drill_mm:.2f} mm"),
    ]
    title = f"Wire insert of {hole.thread.name} in its hole"
    return drawing(title, 350, end + 20, *shapes)


def _coil(x: float, y: float, half_wide: float, half_high: float) -> str:
    """One turn of the wire, cut: a diamond."""
    return path(
        [(x - half_wide, y), (x, y - half_high), (x + half_wide, y), (x, y + half_high)],
        closed=True,
    )
