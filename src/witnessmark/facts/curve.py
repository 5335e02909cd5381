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
