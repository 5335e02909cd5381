"""A curve on two axes, with the reading that stands on it."""

from __future__ import annotations

from collections.abc import Sequence

from witnessmark.charts.drawing import circle, drawing, line, path, words

Marks = Sequence[tuple[float, str]]
LEFT, RIGHT, TOP, BOTTOM = 72, 318, 20, 170  # for the program


def graph(
    title: str,
    curve: Sequence[tuple[float, float]],
    across: Marks,
    up: Marks,
    spot: tuple[float, float | None] | None = None,
    *,
    dots: bool = False,
) -> str:
    """An SVG of a curve; ``across`` and ``up`` are the marks of the axes, the outer ones their ends.

    ``spot`` is marked from both axes; without its height, from below only. ``dots``: the points of the curve.
    """
    (low, _), (high, _) = across[0], across[-1]
    least, most = min(mark for mark, _ in up), max(mark for mark, _ in up)

    def at(x: float, y: float) -> tuple[float, float]:
        x, y = min(max(x, low), high), min(max(y, least), most)
        return (
            LEFT + (x - low) / (high - low) * (RIGHT - LEFT),
            BOTTOM - (y - least) / (most - least) * (BOTTOM - TOP),
        )

    shapes = [path([(LEFT, TOP), (LEFT, BOTTOM), (RIGHT + 6, BOTTOM)])]
    shapes.append(path([at(x, y) for x, y in curve], thick=3))
    shapes += [circle(*at(x, y), 4) for x, y in curve if dots]
    shapes += [words(LEFT - 10, at(low, y)[1] + 5, text, anchor="end") for y, text in up]
    shapes += [words(at(x, least)[0], BOTTOM + 22, text, anchor="middle") for x, text in across]
    if spot is not None:
        x, y = at(spot[0], most if spot[1] is None else spot[1])
        shapes.append(line(x, BOTTOM, x, y, dashed=True))
        if spot[1] is not None:
            shapes += [line(LEFT, y, x, y, dashed=True), circle(x, y, 6, filled=True)]
    return drawing(title, 350, 202, *shapes)
