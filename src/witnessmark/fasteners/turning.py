"""What turning by an angle adds to a bolt within its elastic range, and how an angle is read off a head.

Stiffness of the bolt after Shigley's Mechanical Engineering Design, 9th ed., Table 8-7 and Eq. 8-17, of the parts
after its Eq. 8-23 (Wileman and others, 1991). Sizes in mm, forces in N, stiffness in N/mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark.fasteners.threads import Thread

FLAT_DEG = 60.0  # of a hexagon; plain arithmetic
BOLT_E_MPA = 207_000.0  # steel; Shigley's handbook, from memory


@dataclass(frozen=True)
class Clamped:
    """What the parts under a bolt are made of: modulus in MPa, and both numbers of Shigley's Table 8-8."""

    name: str
    modulus_mpa: float
    a: float
    b: float


# Shigley's Mechanical Engineering Design (a handbook), Table 8-8; aluminium from memory.
CLAMPED = {
    one.name: one
    for one in (
        Clamped("steel", 207_000, 0.78715, 0.62873),
        Clamped("aluminium", 71_000, 0.79670, 0.63816),
        Clamped("cast iron", 100_000, 0.77871, 0.61616),
    )
}


def bolt_stiffness(thread: Thread, shank_mm: float, threaded_mm: float) -> float:
    """A_d·A_t·E / (A_d·l_t + A_t·l_d): the plain shank and the thread one behind the other."""
    shank, root = math.pi / 4 * thread.diameter_mm**2, thread.stress_area_mm2
    return BOLT_E_MPA * shank * root / (shank * threaded_mm + root * shank_mm)


def clamped_stiffness(diameter_mm: float, grip_mm: float, parts: Clamped) -> float:
    """E·d·A·exp(B·d/l): of parts wider than the cone of pressure, all of one material."""
    return parts.modulus_mpa * diameter_mm * parts.a * math.exp(parts.b * diameter_mm / grip_mm)


@dataclass(frozen=True)
class Turned:
    """What an angle does: how far the thread goes on, the force it adds, of that way the bolt's own stretch."""

    way_mm: float
    added_n: float
    stretch_mm: float


def turned(
    thread: Thread, angle_deg: float, grip_mm: float, parts: Clamped
) -> tuple[Turned, Turned]:
    """The least and the most that an angle adds, for the thread within the grip is seldom known.

    Least: thread all along the grip, and half a diameter of it in the hole beyond. Most: a plain shank all along.
    """
    way = thread.pitch_mm * angle_deg / 360
    under = clamped_stiffness(thread.diameter_mm, grip_mm, parts)

    def one(bolt: float) -> Turned:
        added = way / (1 / bolt + 1 / under)
        return Turned(way, added, added / bolt)

    soft = bolt_stiffness(thread, 0.0, grip_mm + thread.diameter_mm / 2)
    return one(soft), one(bolt_stiffness(thread, grip_mm, 0.0))


def in_flats(angle_deg: float) -> str:
    """An angle in flats of a hexagon. Example: 90° is "1 1/2 flats", 100° "1 flat and 40°"."""
    whole, rest = divmod(round(angle_deg, 6), FLAT_DEG)
    parts = {0.0: "", 15.0: "1/4", 30.0: "1/2", 45.0: "3/4"}.get(rest)
    if parts is None:
        flats = f"{whole:g} flat{'s' if whole != 1 else ''} and " if whole else ""
        return f"{flats}{rest:g}°"
    text = f"{whole:g} {parts}".strip() if whole else parts
    return f"{text} flat{'s' if angle_deg > FLAT_DEG else ''}"
