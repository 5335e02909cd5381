"""Preload and tightening torque by VDI 2230 Part 1, for a bolt and for the thread it is screwed into.

Forces in N, torques in N·m, sizes in mm. These figures judge what was entered; they are never
shown as what a machine needs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.fasteners.strength import Material, PropertyClass
from witnessmark.fasteners.threads import Thread

UTILISATION = 0.9  # of the yield, VDI 2230-1
# Hexagon heads of product grade B, ISO 4014: bearing face d_w,min; from memory.
_FACE_MM = {
    3.0: 4.45, 4.0: 5.74, 5.0: 6.74, 6.0: 8.74, 8.0: 11.47, 10.0: 14.47, 12.0: 16.47, 14.0: 19.15,
    16.0: 22.0, 18.0: 24.85, 20.0: 27.7, 22.0: 31.35, 24.0: 33.25, 27.0: 38.0, 30.0: 42.75,
}  # fmt: skip
# Clearance holes, medium series, ISO 273; from memory.
_HOLE_MM = {
    3.0: 3.4, 4.0: 4.5, 5.0: 5.5, 6.0: 6.6, 8.0: 9.0, 10.0: 11.0, 12.0: 13.5, 14.0: 15.5,
    16.0: 17.5, 18.0: 20.0, 20.0: 22.0, 22.0: 24.0, 24.0: 26.0, 27.0: 30.0, 30.0: 33.0,
}  # fmt: skip
_FACE_RATIO, _HOLE_RATIO = (
    1.4,
    1.1,
)  # of the diameter, for sizes between and beyond the tables; judged by us


@dataclass(frozen=True)
class Friction:
    """Coefficients in the thread and under the head."""

    thread: float
    head: float


def bearing_diameter_mm(thread: Thread) -> float:
    """D_Km = (d_w + d_h)/2: where friction under the head acts, in the middle of its ring."""
    size = thread.diameter_mm
    face = _FACE_MM.get(size, _FACE_RATIO * size)
    return (face + _HOLE_MM.get(size, _HOLE_RATIO * size)) / 2


def preload_n(
    thread: Thread,
    yield_mpa: float,
    thread_friction: float,
    utilisation: float = UTILISATION,
) -> float:
    """F_M at which tension and twist together use so much of the yield (VDI 2230-1).

    F_M = A_0·ν·R_p / √(1 + 3·[3/2·(d2/d0)·(P/(π·d2) + 1.155·μ_G)]²)
    """
    d2, d0 = thread.pitch_diameter_mm, thread.stress_diameter_mm
    twist = 1.5 * d2 / d0 * (thread.pitch_mm / (math.pi * d2) + 1.155 * thread_friction)
    return thread.stress_area_mm2 * utilisation * yield_mpa / math.sqrt(1 + 3 * twist**2)


def torque_per_force_mm(
    thread: Thread, friction: Friction, bearing_mm: float | None = None
) -> float:
    """M_A/F_M = 0.16·P + 0.58·d2·μ_G + D_Km/2·μ_K, in N·mm per N (VDI 2230-1)."""
    bearing = bearing_diameter_mm(thread) if bearing_mm is None else bearing_mm
    in_thread = 0.16 * thread.pitch_mm + 0.58 * thread.pitch_diameter_mm * friction.thread
    return in_thread + bearing / 2 * friction.head


def torque_nm(
    thread: Thread, preload: float, friction: Friction, bearing_mm: float | None = None
) -> float:
    """The torque at which a bolt has that preload (N)."""
    return preload * torque_per_force_mm(thread, friction, bearing_mm) / 1000


def preload_of_torque_n(
    thread: Thread, torque: float, friction: Friction, bearing_mm: float | None = None
) -> float:
    """The preload that a torque (N·m) leaves in the bolt."""
    return torque * 1000 / torque_per_force_mm(thread, friction, bearing_mm)


def assembly_torque_nm(
    thread: Thread, bolt: PropertyClass, friction: Friction, utilisation: float = UTILISATION
) -> float:
    """M_A of VDI 2230-1: the torque at that share of the bolt's yield."""
    force = preload_n(thread, bolt.yield_mpa, friction.thread, utilisation)
    return torque_nm(thread, force, friction)


# ---------------------------------------------------------------- the thread it is screwed into


def strips_at_n(
    thread: Thread, engaged_mm: float, bolt: PropertyClass, into: Material, *, most: bool = True
) -> float:
    """The force at which the weaker of both threads shears off (VDI 2230-1 clause 5.5.5, after Alexander).

    ``engaged_mm``: the length screwed in; 0.8·P of it does not bear. ``most``: with the greatest
    likely strength of the material, else with the least. Shear strength of the bolt 0.6·R_m; from memory.
    """
    bearing = max(0.0, engaged_mm - 0.8 * thread.pitch_mm)
    turns = bearing / thread.pitch_mm
    slope = math.tan(math.radians(30))
    d, d2, d1 = thread.diameter_mm, thread.pitch_diameter_mm, thread.minor_diameter_mm
    inner_area = math.pi * d * turns * (thread.pitch_mm / 2 + (d - d2) * slope)
    outer_area = math.pi * d1 * turns * (thread.pitch_mm / 2 + (d2 - d1) * slope)
    inner = inner_area * (into.shear_most_mpa if most else into.shear_least_mpa)
    outer = outer_area * 0.6 * bolt.tensile_mpa
    return min(inner * bending_factor(inner, outer), outer * bending_factor(outer, inner))


def bending_factor(own: float, other: float) -> float:
    """C_2 or C_3: the flanks of the weaker thread bend under load (VDI 2230-1, after Alexander; from memory).

    Above 0.4 of the other's strength 0.728 + 1.769·R − 2.896·R² + 1.296·R³, at most 0.897 from 1 on.
    """
    if own >= other:
        return 0.897
    ratio = max(0.4, own / other)
    return min(1.0, 0.728 + 1.769 * ratio - 2.896 * ratio**2 + 1.296 * ratio**3)


def needed_engagement_mm(thread: Thread, bolt: PropertyClass, into: Material) -> float:
    """The length screwed in at which the bolt breaks before the thread strips, by the least likely strength.

    Halving search; the force grows with the length. Common use: more than 3·d is said as that.
    """
    breaks = thread.stress_area_mm2 * bolt.tensile_mpa
    low, high = 0.0, 10 * thread.diameter_mm
    for _ in range(60):
        middle = (low + high) / 2
        if strips_at_n(thread, middle, bolt, into, most=False) < breaks:
            low = middle
        else:
            high = middle
    return high
