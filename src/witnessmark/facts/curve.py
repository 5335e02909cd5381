"""A curve as a table or a check gives it: some points, and straight lines between them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

Curve = Sequence[tuple[float, float]]


def on_curve(curve: Curve, at: float) -> float:
    """The value at a place, straight between the points beside it; past an end, the value of that end.

    The points, one at least, come in rising order.
    """
    if at <= curve[0][0]:
        return curve[0][1]
    for (x0, y0), (x1, y1) in pairwise(curve):
        if at <= x1:
            return y0 + (y1 - y0) * (at - x0) / (x1 - x0)
    return curve[-1][1]


def on_bent_curve(curve: Curve, at: float) -> float:
    """The value of a curve that falls ever faster, such as a freezing point: never below the curve itself.

    Between two points the higher of the straight line and of the parabola through them and the point
    before: where a curve bends down, a straight line lies under it.
    """
    straight = on_curve(curve, at)
    place = next((n for n in range(2, len(curve)) if at <= curve[n][0]), None)
    if place is None or at <= curve[1][0]:
        return straight
    (x0, y0), (x1, y1), (x2, y2) = curve[place - 2 : place + 1]
    slope = (y2 - y1) / (x2 - x1)
    bend = (slope - (y1 - y0) / (x1 - x0)) / (x2 - x0)
    return max(straight, y1 + (at - x1) * (slope + bend * (at - x2)))
