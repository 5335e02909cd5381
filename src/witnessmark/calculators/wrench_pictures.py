"""Drawings of a torque wrench with its adapter, and of a weight on a lever."""

from __future__ import annotations

import math

from witnessmark.charts.drawing import box, circle, drawing, line, path, words
from witnessmark.units import show
from witnessmark.wrenches import Adapter, Lever, Setting

_SIXTHS = [math.pi / 3 * n for n in range(6)]


def crow_foot(adapter: Adapter, made: Setting) -> str:
    """Handle to the left of the square, the adapter turned from its line; lengths to one scale."""
    scale = 300 / max(adapter.arm_mm + adapter.reach_mm, 1.0)
    arm, reach = adapter.arm_mm * scale, max(adapter.reach_mm * scale, 14.0)
    turn = math.radians(adapter.angle_deg)
    along, across = reach * math.cos(turn), reach * math.sin(turn)
    square_x, middle = 30 + arm, 76 + max(0.0, across)
    nut_x, nut_y = square_x + along, middle - across
    bottom = middle + 64
    return drawing(
        f"Set {made.text} for {show(made.torque_nm, 'torque')} at the fastener",
        380,
        bottom + 34,
        line(30, middle, square_x, middle, thick=9),
        line(30, middle - 44, 30, middle - 10, thick=3),
        path([(24, middle - 20), (30, middle - 10), (36, middle - 20)]),
        words(38, middle - 32, "pull"),
        box(square_x - 7, middle - 7, 14, 14, filled=True),
        line(square_x, middle, nut_x, nut_y, thick=6),
        circle(nut_x, nut_y, 13),
        path([(nut_x + 8 * math.cos(a), nut_y + 8 * math.sin(a)) for a in _SIXTHS], closed=True),
        line(30, middle + 26, square_x, middle + 26),
        words((30 + square_x) / 2, middle + 44, f"arm {adapter.arm_mm:.4g} mm", anchor="middle"),
        line(30, bottom, max(nut_x, 34), bottom, dashed=True),
        words(30, bottom + 20, f"counts {adapter.effective_mm:.4g} mm"),
        words(190, 22, f"reach {adapter.reach_mm:.4g} mm at {adapter.angle_deg:.4g}°"),
    )


def lever(arm: Lever, mass_g: float) -> str:
    """A level lever on its square, the weight at its end."""
    own = 60 + 250 * min(arm.own_arm_mm / arm.arm_mm, 1.0)
    balance = (
        [line(own, 60, own, 84, dashed=True), words(own, 100, "own weight", anchor="middle")]
        if arm.own_g
        else []
    )
    mass = show(mass_g, "mass")
    return drawing(
        f"{mass} hung {arm.arm_mm:.4g} mm from the square of a level lever",
        360,
        190,
        box(20, 30, 40, 60),
        line(60, 60, 310, 60, thick=8),
        box(53, 53, 14, 14, filled=True),
        *balance,
        line(310, 60, 310, 110),
        box(288, 110, 44, 40),
        words(310, 172, mass, anchor="middle"),
        line(60, 24, 310, 24),
        words(185, 18, f"{arm.arm_mm:.4g} mm", anchor="middle"),
    )
