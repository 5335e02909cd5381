"""Pictures of the suspension: three lengths side by side, and where a spring is measured."""

from __future__ import annotations

from witnessmark.charts.drawing import circle, drawing, line, path, words
from witnessmark.units import show


def sag_picture(free_mm: float, own_mm: float | None, rider_mm: float) -> str:
    """Axle to mark, hanging free, alone and with rider; what it sank is drawn to one scale."""
    shown = [("free", free_mm), ("alone", own_mm), ("rider", rider_mm)]
    lengths = [(text, mm) for text, mm in shown if mm is not None]
    scale = 70 / max(free_mm - rider_mm, 1e-9) if rider_mm < free_mm else 0.0
    step = 300 / len(lengths)
    shapes = [line(20, 50, 340, 50, dashed=True), words(20, 42, "mark")]
    for place, (text, mm) in enumerate(lengths):
        x, axle = 60 + step * place + step / 4, 190 - (free_mm - mm) * scale
        shapes += [line(x, 50, x, axle, thick=3), circle(x, axle, 9)]
        shapes += [path([(x - 5, 60), (x, 50), (x + 5, 60)])]
        shapes += [words(x + 12, (50 + axle) / 2 + 5, show(mm, "length"))]
        shapes += [words(x, 226, text, anchor="middle")]
    title = "Length from axle to mark: " + ", ".join(f"{a} {show(b, 'length')}" for a, b in lengths)
    return drawing(title, 360, 236, *shapes)


def spring_picture(wire: str, outer: str, coils: float) -> str:
    """A spring from the side: its wire, its outer diameter, and the coils that count."""
    turns = [(90, 60 + 22 * n) for n in range(5)]
    shapes = [line(90, 40, 210, 40, thick=9), line(90, 170, 210, 170, thick=9)]
    shapes += [line(x, y, x + 120, y - 14, thick=9) for x, y in turns]
    shapes += [line(86, 14, 86, 28), line(214, 14, 214, 28), line(86, 21, 214, 21)]
    shapes += [words(224, 27, f"outer {outer}")]
    shapes += [line(216, 104, 236, 104), words(242, 109, f"wire {wire}")]
    shapes += [path([(66, 52), (58, 52), (58, 158), (66, 158)])]
    shapes += [words(52, 96, f"{coils:g}", anchor="end"), words(52, 114, "coils", anchor="end")]
    shapes += [words(150, 196, "flat ends do not count", anchor="middle")]
    title = f"Spring of {coils:g} coils, wire {wire}, outer diameter {outer}"
    return drawing(title, 360, 206, *shapes)
