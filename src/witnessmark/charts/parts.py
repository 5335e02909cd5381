"""Parts of a motorcycle in a few strokes, as shapes of `drawing` in a field of 96 by 64."""

from __future__ import annotations

import math
from collections.abc import Iterable

from witnessmark.charts.drawing import box, circle, line, path

WIDTH, HEIGHT = 96, 64
Point = tuple[float, float]


def turned(x: float, y: float, degrees: float, points: Iterable[Point]) -> list[Point]:
    """Points given across and along an axis that leaves x, y at so many degrees from upright."""
    s, c = math.sin(math.radians(degrees)), math.cos(math.radians(degrees))
    return [(x + across * c + along * s, y + across * s - along * c) for across, along in points]


def cylinder(x: float, y: float, degrees: float = 0, length: float = 26) -> list[str]:
    """A cylinder with its fins, on a crank at x, y."""
    barrel = [(-7.0, 11.0), (-7.0, 11 + length), (7.0, 11 + length), (7.0, 11.0)]
    fins = [11 + length * share for share in (0.25, 0.5, 0.75)]
    return [
        path(turned(x, y, degrees, barrel), closed=True),
        *(path(turned(x, y, degrees, [(-10, fin), (10, fin)])) for fin in fins),
    ]


def engine(*degrees: float, x: float = 48, y: float = 48, length: float = 26) -> list[str]:
    """A crankcase with cylinders, from the side."""
    return [circle(x, y, 11), *(one for a in degrees for one in cylinder(x, y, a, length))]


def in_line(count: int) -> list[str]:
    """Cylinders side by side, from the front."""
    wide = 18.0
    left = 48 - wide * count / 2
    barrels = [box(left + 2 + wide * n, 10, wide - 4, 30) for n in range(count)]
    fins = [line(left, y, left + wide * count, y) for y in (18, 25, 32)]
    return [*barrels, *fins, box(left - 2, 40, wide * count + 4, 16)]


def flat(each_side: int) -> list[str]:
    """Cylinders lying opposite one another, from above."""
    tall = 15.0
    top = 32 - tall * each_side / 2
    sides = [
        box(x, top + 2 + tall * n, 24, tall - 4) for n in range(each_side) for x in (10.0, 62.0)
    ]
    return [box(38, top - 3, 20, tall * each_side + 6), *sides]


def wheel(x: float = 48, y: float = 32, radius: float = 27) -> list[str]:
    """A wheel from the side."""
    return [circle(x, y, radius), circle(x, y, radius - 6)]


def spokes(
    x: float, y: float, inner: float, outer: float, count: int, twist: float = 0
) -> list[str]:
    """Spokes between two radii; `twist` crosses them."""
    made = []
    for n in range(count):
        a = 2 * math.pi * n / count
        b = a + twist * (1 if n % 2 else -1)
        made.append(line(x + inner * math.cos(a), y + inner * math.sin(a),
                         x + outer * math.cos(b), y + outer * math.sin(b)))  # fmt: skip
    return made


def disc(*, fixed: bool = False) -> list[str]:
    """A disc with its caliper; a fixed one has pistons on both sides."""
    caliper = box(62, 12, 15, 15, filled=True)
    other = [box(80, 14, 6, 11, filled=True)] if fixed else []
    return [circle(44, 34, 24), circle(44, 34, 10), circle(44, 34, 3, filled=True), caliper, *other]


def edge_discs(count: int) -> list[str]:
    """A wheel from the front, its discs beside it."""
    sides = [66.0, 28.0][:count]
    return [
        box(40, 4, 16, 56),
        line(22, 32, 74, 32, thick=3),
        *(box(x, 18, 3, 28, filled=True) for x in sides),
    ]


def drum(*more: str) -> list[str]:
    """A drum brake from the side."""
    return [circle(42, 32, 25), circle(42, 32, 14), circle(42, 32, 3, filled=True), *more]


def pulleys(left: float, right: float) -> list[str]:
    """Two wheels with what runs round both."""
    return [
        circle(20, 32, left), circle(72, 32, right), circle(20, 32, 3, filled=True), circle(72, 32, 3, filled=True),
        line(20, 32 - left, 72, 32 - right), line(20, 32 + left, 72, 32 + right),
    ]  # fmt: skip


def links(*middle: str) -> list[str]:
    """Three links of a chain; the middle one closes it."""
    rollers = [circle(x, 32, 4) for x in (14, 34, 62, 82)]
    plates = [path([(8, 24), (40, 24), (40, 40), (8, 40)], closed=True),
              path([(56, 24), (88, 24), (88, 40), (56, 40)], closed=True)]  # fmt: skip
    return [*rollers, *plates, *middle]


def fork(*, thick_above: bool) -> list[str]:
    """A fork from the front, its thick tubes above or below."""
    above, below = (9.0, 5.0) if thick_above else (5.0, 9.0)
    legs = [box(x - w / 2, y, w, 27) for x in (32, 64) for w, y in ((above, 6), (below, 33))]
    return [
        *legs,
        line(24, 12, 72, 12, thick=3),
        line(24, 24, 72, 24, thick=3),
        line(30, 60, 66, 60, thick=3),
    ]


def spring(top: Point, foot: Point) -> str:
    """A spring between two points."""
    (x1, y1), (x2, y2) = top, foot
    length = math.hypot(x2 - x1, y2 - y1)
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    turns = 8
    side = [0.0, *(5.0 if n % 2 else -5.0 for n in range(1, turns)), 0.0]
    return path([(x1 + ux * length * n / turns - uy * s, y1 + uy * length * n / turns + ux * s)
                 for n, s in enumerate(side)])  # fmt: skip


def arm(*more: str) -> list[str]:
    """A swinging arm with its wheel."""
    return [circle(74, 44, 16), line(20, 40, 74, 44, thick=4), circle(20, 40, 3), *more]


def machine(*more: str) -> list[str]:
    """A motorcycle from the side, in a few strokes."""
    return [
        circle(20, 46, 13), circle(76, 46, 13), line(76, 46, 64, 14), line(58, 14, 68, 14),
        path([(64, 20), (44, 22), (30, 28), (14, 26)]), path([(20, 46), (44, 44), (62, 26)]), *more,
    ]  # fmt: skip


def tank(*more: str) -> list[str]:
    """A fuel tank from the side."""
    return [
        path([(18, 40), (26, 22), (52, 18), (74, 28), (78, 40)], closed=True),
        circle(46, 16, 4),
        *more,
    ]


def drop(x: float, y: float) -> str:
    """A drop of something."""
    return path(
        [(x, y - 9), (x + 5, y), (x + 4, y + 4), (x, y + 6), (x - 4, y + 4), (x - 5, y)],
        closed=True,
    )


def carburettor(x: float) -> list[str]:
    """A carburettor from the side."""
    return [box(x - 8, 14, 16, 18), line(x - 12, 23, x + 12, 23), box(x - 6, 34, 12, 12)]


def valves(count: int) -> list[str]:
    """Valves from below: inlet above, exhaust below."""
    each = count // 2
    gap = min(20.0, 84 / each)
    radius = min(8.0, gap / 2 - 1)
    left = 48 - gap * (each - 1) / 2
    return [circle(left + gap * n, y, radius) for n in range(each) for y in (20.0, 44.0)]


def bucket(*, over: bool) -> list[str]:
    """A bucket under its cam, with the shim on top or beneath."""
    shim = box(38, 15, 20, 4, filled=True) if over else box(42, 26, 12, 4, filled=True)
    return [
        circle(48, 6, 5),
        path([(34, 48), (34, 20), (62, 20), (62, 48)]),
        shim,
        line(48, 32, 48, 60, thick=3),
    ]


def sump(*more: str) -> list[str]:
    """A sump with the level in it."""
    return [
        path([(16, 14), (16, 40), (28, 56), (68, 56), (80, 40), (80, 14)]),
        line(16, 34, 80, 34, dashed=True),
        *more,
    ]


def battery(*more: str) -> list[str]:
    """A battery from the front."""
    return [box(26, 26, 44, 30), box(32, 20, 8, 6, filled=True), box(56, 20, 8, 6, filled=True),
            line(32, 36, 40, 36), line(56, 36, 64, 36), line(60, 32, 60, 40), *more]  # fmt: skip


def nut(x: float, y: float, radius: float) -> str:
    """A hexagon."""
    sixths = [math.pi / 3 * n for n in range(6)]
    return path([(x + radius * math.cos(a), y + radius * math.sin(a)) for a in sixths], closed=True)


def ring(
    x: float, y: float, radius: float, count: int, size: float, *, filled: bool = False
) -> list[str]:
    """Circles set round a centre."""
    angles = (2 * math.pi * n / count for n in range(count))
    return [
        circle(x + radius * math.cos(a), y + radius * math.sin(a), size, filled=filled)
        for a in angles
    ]


def teeth(x: float, y: float, radius: float, count: int) -> list[str]:
    """The teeth of a wheel."""
    return spokes(x, y, radius, radius + 4, count)
