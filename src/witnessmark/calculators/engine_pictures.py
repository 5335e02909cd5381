"""Drawings of gears and speeds, a chain run, a piston near its top, valve timing, and a cylinder in section."""

from __future__ import annotations

import math
from collections.abc import Mapping

from witnessmark.charts.drawing import Anchor, box, circle, drawing, line, path, words
from witnessmark.units import convert, show, usual_unit


def gear_chart(speeds_kmh: Mapping[str, float], rpm: float, marked_kmh: float | None) -> str:
    """Engine speed over road speed, a line for each gear; the speed put in is dashed."""
    unit = usual_unit(0, "speed")
    most = max(*speeds_kmh.values(), marked_kmh or 0.0)
    left, right, top, bottom = 30.0, 340.0, 40.0, 240.0

    def at(kmh: float) -> float:
        return left + kmh / most * (right - left)

    shapes = [line(left, top - 8, left, bottom), line(left, bottom, right + 10, bottom)]
    shapes += [words(left - 8, 16, f"up to {show(rpm, 'rotation')}")]
    lowest = -math.inf
    for name, kmh in sorted(speeds_kmh.items(), key=lambda one: one[1]):
        shapes.append(line(left, bottom, at(kmh), top))
        if at(kmh) - lowest >= 22:
            shapes.append(words(at(kmh), top - 8, name.removeprefix("gear ")[:4], anchor="middle"))
            lowest = at(kmh)
    foot = bottom + (42 if marked_kmh else 20)
    shapes += [words(right + 10, foot, f"{convert(most, 'speed', unit):.0f} {unit}", anchor="end")]
    if marked_kmh:
        x = at(marked_kmh)
        shapes += [line(x, top, x, bottom, dashed=True)]
        shapes += [
            words(min(max(x, 60), 300), bottom + 20, show(marked_kmh, "speed"), anchor="middle")
        ]
    title = f"Road speed in {len(speeds_kmh)} gears up to {show(rpm, 'rotation')}"
    return drawing(title, 360, foot + 10, *shapes)


def chain_run(
    small: tuple[float, int], large: tuple[float, int], centre_mm: float, links: int
) -> str:
    """Two sprockets with pitch diameter in mm and teeth, to one scale, and the chain straight round them."""
    (d1, z1), (d2, z2) = small, large
    scale = 300 / (centre_mm + (d1 + d2) / 2)
    r1, r2, apart = d1 / 2 * scale, d2 / 2 * scale, centre_mm * scale
    x1, y = 30 + r1, 24 + r2
    x2 = x1 + apart
    lean = math.asin((r2 - r1) / apart)
    along = -math.sin(lean)
    shapes = [
        circle(x1, y, r1),
        circle(x2, y, r2),
        circle(x1, y, 3, filled=True),
        circle(x2, y, 3, filled=True),
    ]
    shapes += [
        line(x1 + along * r1, y + up * r1, x2 + along * r2, y + up * r2, thick=4)
        for up in (-math.cos(lean), math.cos(lean))
    ]
    shapes += [line(x, y, x, y + r2 + 20, thick=1) for x in (x1, x2)]
    shapes += [
        line(x1, y, x2, y, dashed=True),
        line(x1, y + r2 + 16, x2, y + r2 + 16),
        words((x1 + x2) / 2, y + r2 + 36, show(round(centre_mm, 1), "length"), anchor="middle"),
        words(x1, y - r1 - 8, str(z1), anchor="middle"),
        words(x2, y - r2 - 8, str(z2), anchor="middle"),
    ]
    title = f"{links} links round {z1} and {z2} teeth"
    return drawing(title, 360, y + r2 + 48, *shapes)


def crank(angle_deg: float, drop_mm: float, stroke_mm: float, rod_mm: float) -> str:
    """Piston, rod and crank before the top, to one scale, turning clockwise."""
    scale = 210 / (stroke_mm + rod_mm)
    r, rod, drop = stroke_mm / 2 * scale, rod_mm * scale, drop_mm * scale
    x, top = 110.0, 62.0
    pin, axle = top + drop, top + rod + r
    turn = math.radians(angle_deg)
    px, py = x - r * math.sin(turn), axle - r * math.cos(turn)
    arc = [
        (x - (r + 14) * math.sin(a), axle - (r + 14) * math.cos(a))
        for a in (turn * n / 20 for n in range(21))
    ]
    crown = pin - 26
    return drawing(
        f"{show(round(angle_deg, 2), 'angle')} before the top, {show(round(drop_mm, 3), 'length')} of piston travel",
        330,
        axle + r + 30,
        circle(x, axle, r),
        line(x, axle, x, axle - r - 20, dashed=True),
        line(x, axle, px, py, thick=4),
        line(px, py, x, pin, thick=4),
        circle(px, py, 5, filled=True),
        circle(x, axle, 4, filled=True),
        box(x - 40, crown, 80, 46),
        circle(x, pin, 4, filled=True),
        line(x - 56, top - 46, x - 56, axle - r - 6),
        line(x + 56, top - 46, x + 56, axle - r - 6),
        line(x - 40, top - 26, x + 90, top - 26, dashed=True),
        line(x + 40, crown, x + 90, crown, thick=1),
        words(x + 98, top - 26 if drop > 18 else top - 30, "TDC"),
        words(x + 98, crown + (6 if drop > 18 else 12), show(round(drop_mm, 3), "length")),
        path(arc),
        words(x + r + 26, axle, f"{show(round(angle_deg, 2), 'angle')} before TDC"),
    )


def valve_timing(inlet: tuple[float, float], exhaust: tuple[float, float] | None) -> str:
    """Opening and closing in degrees of the crank from the top of the overlap, clockwise; a dot at each lobe centre."""
    x, y, rim = 180.0, 154.0, 112.0

    def spot(degrees: float, radius: float) -> tuple[float, float]:
        turn = math.radians(degrees)
        return x + radius * math.sin(turn), y - radius * math.cos(turn)

    shapes = [circle(x, y, rim), line(x, y - rim - 8, x, y + rim + 8, dashed=True)]
    shapes += [words(x, 16, "TDC", anchor="middle"), words(x, y + rim + 24, "BDC", anchor="middle")]
    told = "outer arc: inlet" + (", inner: exhaust" if exhaust else "") + "; dot: lobe centre"
    shapes.append(words(x, y + rim + 50, told, anchor="middle", size=13))
    for ends, radius in ((inlet, 84.0), (exhaust, 56.0)):
        if ends is None:
            continue
        opens, closes = ends
        arc = (spot(opens + (closes - opens) * n / 60, radius) for n in range(61))
        shapes += [path(arc, thick=6), circle(*spot((opens + closes) / 2, radius), 8, filled=True)]
        for end in ends:
            beside = spot(end, rim + 9)
            aside: Anchor = "start" if beside[0] > x else "end"
            shapes.append(words(beside[0], beside[1] + 5, _from_centre(end), anchor=aside))
            shapes.append(line(*spot(end, radius), *spot(end, rim)))
    return drawing("Valve timing round the crank, clockwise from TDC", 360, y + rim + 60, *shapes)


def _from_centre(degrees: float) -> str:
    """The angle to the nearer dead centre."""
    return f"{abs(degrees - 180 * round(degrees / 180)):.4g}°"


def chamber(parts: Mapping[str, float]) -> str:
    """The volumes at the top as bars of one scale, with their names; what the crown takes away is dashed."""
    most = max(abs(one) for one in parts.values()) or 1.0
    shapes = []
    for place, (name, ml) in enumerate(parts.items()):
        y = 10 + place * 36
        shapes += [
            words(10, y + 20, name),
            box(150, y + 4, max(abs(ml) / most * 110, 1), 22, dashed=ml < 0),
        ]
        shapes += [words(268, y + 20, f"{'−' if ml < 0 else ''}{abs(ml):.2f} cm³")]
    return drawing("Volumes above the piston at the top", 360, 20 + 36 * len(parts), *shapes)
