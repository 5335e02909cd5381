"""Drawings of a wheel with its points or spokes, and of two wheels along a line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Protocol

from witnessmark.charts.drawing import Anchor, circle, drawing, line, path, words

_MIDDLE = 180.0
_ROOM = 6  # so many per cents find room beside one another


def _at(share: float, radius: float) -> tuple[float, float]:
    """A place on a circle: the share of one turn, clockwise from the top."""
    turn = 2 * math.pi * share
    return _MIDDLE + radius * math.sin(turn), _MIDDLE - radius * math.cos(turn)


def round_wheel(readings: Sequence[float], high: int, alone: int | None, total: str) -> str:
    """The points round the wheel, drawn much larger than they are; the highest is filled."""
    count, mean = len(readings), sum(readings) / len(readings)
    scale = 24 / max(*(abs(one - mean) for one in readings), 1e-9)
    radii = [
        100 + scale * (one - mean) if max(readings) > min(readings) else 100 for one in readings
    ]
    spots = [_at(k / count, radius) for k, radius in enumerate(radii)]
    shapes = [
        path([_at(k / 90, 100) for k in range(90)], closed=True, thick=1),
        path(spots, closed=True, thick=3),
        circle(_MIDDLE, _MIDDLE, 8),
        words(_MIDDLE, _MIDDLE + 34, f"total {total}", anchor="middle"),
    ]
    step = max(1, math.ceil(count / 24))
    for k, (x, y) in enumerate(spots):
        shapes.append(circle(x, y, 7 if k == high else 4, filled=k == high))
        if k == alone:
            shapes.append(circle(x, y, 13))
        if k % step == 0 or k in (high, alone):
            far_x, far_y = _at(k / count, 150)
            shapes.append(words(far_x, far_y + 5, str(k + 1), anchor="middle"))
    title = f"Wheel with {count} points, run-out drawn enlarged; highest at point {high + 1}"
    return drawing(title, 2 * _MIDDLE, 2 * _MIDDLE, *shapes)


class SpokeDrawn(Protocol):
    """What a spoke has that is drawn."""

    @property
    def side(self) -> str: ...
    @property
    def number(self) -> int: ...
    @property
    def of(self) -> int: ...
    @property
    def off(self) -> float: ...


def spoked(spokes: Sequence[SpokeDrawn], allowed: float) -> str:
    """The spokes by side, from the valve on: too tight thick, too loose dashed; a few told in per cent."""
    shapes = [
        circle(_MIDDLE, _MIDDLE, 24),
        circle(_MIDDLE, _MIDDLE, 116),
        path([_at(0, 116), _at(0, 98)], thick=6),
        words(_MIDDLE, 16, "valve", anchor="middle", size=12),
    ]
    two = len({one.side for one in spokes}) > 1
    size = 11 if len(spokes) > 24 else 13
    named = sum(abs(one.off) > allowed + 1e-9 for one in spokes) <= _ROOM
    for one in spokes:
        shift = {"left": 0.25, "right": 0.75}[one.side] if two else 0.5
        share = (one.number - 1 + shift) / one.of
        tight, loose = one.off > allowed + 1e-9, one.off < -allowed - 1e-9
        shapes.append(
            line(*_at(share, 24), *_at(share, 116), thick=6 if tight else 1.5, dashed=loose)
        )
        x, y = _at(share, 129)
        name = f"{one.number}{one.side[0].upper()}" if two else str(one.number)
        shapes.append(words(x, y + 4, name, anchor="middle", size=size))
        if named and (tight or loose):
            x, y = _at(share, 146)
            anchor: Anchor = (
                "middle" if abs(x - _MIDDLE) < 50 else "start" if x > _MIDDLE else "end"
            )
            off = f"{one.off:+.0%}".replace("-", "−")
            shapes.append(words(x, y + 4, off, anchor=anchor, size=12))
    title = "Spokes numbered from the valve on; too tight thick, too loose dashed"
    return drawing(title, 2 * _MIDDLE, 2 * _MIDDLE, *shapes)


def along(
    front: tuple[str, str],
    rear: tuple[str, str],
    *,
    side: str,
    offset: float,
    angle_deg: float,
    said: str,
) -> str:
    """Both wheels from above, the line beside them, the four measures where they are taken.

    ``front`` and ``rear``: what was measured at the front and at the rear of each wheel. The way off is enlarged.
    """
    wide, rear_x = 300.0, 170.0
    slant = math.radians(max(-8.0, min(8.0, angle_deg * 4)))
    front_x = rear_x + max(-26.0, min(26.0, offset * 2))

    def on(x: float) -> float:
        return x if side == "left" else wide - x

    shapes = [line(on(50), 20, on(50), 400, thick=3), words(on(50), 416, "line", anchor="middle")]
    for x, y, lean, name, measures in (
        (front_x, 96.0, slant, "front", front),
        (rear_x, 324.0, 0.0, "rear", rear),
    ):
        ends = [(x - far * math.sin(lean), y + far) for far in (-60, 60)]
        for (at, level), text in zip(ends, measures, strict=True):
            shapes.append(line(on(52), level, on(at - 14), level, thick=1))
            shapes.append(words(on((52 + at - 14) / 2), level - 6, text, size=13, anchor="middle"))
        (x1, y1), (x2, y2) = ends
        corners = [(x1 - 13, y1), (x1 + 13, y1), (x2 + 13, y2), (x2 - 13, y2)]
        shapes.append(path([(on(px), py) for px, py in corners], closed=True, thick=3))
        shapes.append(words(on(250), y + 5, name, anchor="middle"))
    shapes.append(line(on(rear_x), 390, on(rear_x), 20, dashed=True, thick=1))
    return drawing(said, wide, 424, *shapes)
