"""Pictures of markings: the parts of an identification number, the side of a tyre and its section."""

from __future__ import annotations

from witnessmark.charts.drawing import box, circle, drawing, line, path, words
from witnessmark.decode import Identification, Marking, TyreSize, speed_kmh

_CELL = 36.0


def identification_picture(read: Identification) -> str:
    """Seventeen cells, their parts named below, the check digit and the year above."""
    shapes = []
    for i, sign in enumerate(read.number):
        x = 10 + i * _CELL
        shapes += [box(x, 44, _CELL, 44), words(x + _CELL / 2, 74, sign, anchor="middle", size=24)]
    for first, last, text in ((0, 2, "maker"), (3, 8, "description"), (9, 16, "this machine")):
        left, right = 12 + first * _CELL, 8 + (last + 1) * _CELL
        shapes.append(path([(left, 94), (left, 102), (right, 102), (right, 94)]))
        shapes.append(words((left + right) / 2, 122, text, anchor="middle"))
    for at, text in (
        (8, "check digit"),
        (9, "year" if read.market == "north america" else "year, perhaps"),
    ):
        x = 10 + (at + 0.5) * _CELL
        shapes.append(line(x, 42, x, 28))
        shapes.append(
            words(x - 6 if at == 8 else x + 6, 20, text, anchor="end" if at == 8 else "start")
        )
    title = f"Parts of the identification number {read.number}"
    return drawing(title, 20 + 17 * _CELL, 134, *shapes)


def tyre_picture(read: Marking) -> str | None:
    """The tyre from the side and in section with its nominal measures, and each part of the marking explained."""
    size = read.size
    if size is None:
        return None
    parts = _parts(read, size)
    shapes = [*_side(size), *_section(size)]
    top = 320.0
    for n, (sign, text) in enumerate(parts):
        y = top + n * 34
        shapes += [box(10, y - 22, 110, 30), words(65, y, sign, anchor="middle", size=18)]
        shapes += [line(122, y - 7, 142, y - 7), words(150, y - 2, text)]
    return drawing(f"What {size.written} means", 520, top + len(parts) * 34, *shapes)


def _side(size: TyreSize) -> list[str]:
    """Seen from the side, to scale in itself: outer diameter and rim."""
    radius = 105.0
    rim = radius * size.rim_in * 25.4 / size.diameter_mm
    return [
        circle(125, 120, radius),
        circle(125, 120, rim),
        circle(125, 120, 4, filled=True),
        line(125 - radius, 246, 125 + radius, 246),
        line(125 - radius, 240, 125 - radius, 252),
        line(125 + radius, 240, 125 + radius, 252),
        words(125, 268, f"{size.diameter_mm:.0f} mm", anchor="middle"),
        line(125 - rim, 120, 125 + rim, 120, dashed=True),
        words(125, 112, f"rim {size.rim_in:g} in", anchor="middle"),
    ]


def _section(size: TyreSize) -> list[str]:
    """Cut through: nominal width and height."""
    scale = 150 / max(size.width_mm, size.height_mm)
    width, height = size.width_mm * scale, size.height_mm * scale
    left, base = 290.0, 205.0
    right, top = left + width, base - height
    round_by = min(width, height) * 0.35
    outline = [
        (left + width * 0.18, base), (left, base - height * 0.3), (left, top + round_by),
        (left + round_by * 0.4, top + round_by * 0.35), (left + width * 0.35, top), (right - width * 0.35, top),
        (right - round_by * 0.4, top + round_by * 0.35), (right, top + round_by), (right, base - height * 0.3),
        (right - width * 0.18, base),
    ]  # fmt: skip
    ratio = "about as high as wide" if size.ratio is None else f"{size.ratio} % of the width"
    return [
        path(outline, thick=5),
        line(left, base + 26, right, base + 26),
        line(left, base + 20, left, base + 32),
        line(right, base + 20, right, base + 32),
        words((left + right) / 2, base + 46, f"{size.width_mm:.0f} mm wide", anchor="middle"),
        line(right + 18, top, right + 18, base),
        line(right + 12, top, right + 24, top),
        line(right + 12, base, right + 24, base),
        words(left, top - 12, f"{size.height_mm:.0f} mm high, {ratio}"),
    ]


def _parts(read: Marking, size: TyreSize) -> list[tuple[str, str]]:
    """Each sign of the marking with its meaning, in the order it stands there."""
    parts = [
        (f"{size.width_mm:.0f}", "nominal width in mm")
        if size.system == "metric"
        else (
            size.written.split("-")[0].split(" ")[0],
            f"nominal width, about {size.width_mm:.0f} mm",
        )
    ]
    if size.ratio is not None:
        parts.append((f"/{size.ratio}", "height in percent of the width"))
    parts.append((_sign(size), size.construction))
    parts.append((f"{size.rim_in:g}", "rim diameter in inches"))
    if read.rating:
        rating = read.rating
        load = f"load index: {rating.load_words}"
        parts.append((str(rating.load), f"{load} on one tyre" if rating.load_kg else load))
        kmh = speed_kmh(rating.speed, over=rating.over)
        parts.append((rating.speed, f"speed symbol: {kmh}"))
    elif size.speed:
        parts.append((size.speed, f"speed symbol: {speed_kmh(size.speed)}"))
    if read.made:
        parts.append((read.made.written, read.made.words))
    if read.directed:
        parts.append(("→", "the way it turns, rolling forward"))
    return parts


def _sign(size: TyreSize) -> str:
    return {"radial": "R", "bias belted": "B"}.get(size.construction, "-")
