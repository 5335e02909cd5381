"""Wire thread inserts: the hole they need, and how well it holds.

The tapped hole is the bolt's own thread, each diameter grown by 3/2·H: the wire is as high as that
on both sides together (ASME B18.29.2M, formulas from memory, held against published sizes in the tests).
"""

from __future__ import annotations

from dataclasses import dataclass

from witnessmark.fasteners.strength import Material, PropertyClass
from witnessmark.fasteners.threads import Thread
from witnessmark.fasteners.tightening import strips_at_n

LENGTHS_D = (1.0, 1.5, 2.0, 2.5)  # lengths, in diameters: ASME B18.29.2M
SET_DOWN_TURNS = (
    0.75  # the inserted coil ends up to so many pitches short of its length: ASME B18.29.2M
)
SMALL_MM = 8.0  # up to here a tap has a point of half a diameter: ASME B18.29.2M
WIRE = PropertyClass(
    "wire", 1035, 1035, None, "ASME B18.29.2M, tensile strength of the wire, at least"
)


@dataclass(frozen=True)
class InsertHole:
    """The hole for a wire insert of a thread."""

    thread: Thread

    @property
    def tapped(self) -> Thread:
        """The thread of the hole: D + 3/2·H, with the bolt's pitch."""
        return Thread(self.thread.diameter_mm + 1.5 * self.thread.height_mm, self.thread.pitch_mm)

    @property
    def drill_mm(self) -> float:
        """The least bore: D1 of the tapped hole."""
        return self.tapped.minor_diameter_mm

    def drilled_mm(self, length_mm: float, *, bottoming: bool) -> float:
        """How deep a blind hole is drilled at least: lead of the tap, two turns, and the point of a small plug tap."""
        turns = 4 if bottoming else 6
        small = self.thread.diameter_mm <= SMALL_MM and not bottoming
        point = self.thread.diameter_mm / 2 if small else 0.0
        return length_mm + turns * self.thread.pitch_mm + point

    def torn_out_at_n(self, length_mm: float, into: Material) -> float:
        """The force that tears the insert out of the least likely material."""
        held = length_mm - SET_DOWN_TURNS * self.thread.pitch_mm
        return strips_at_n(self.tapped, held, WIRE, into, most=False)


def holds_from_d(thread: Thread, bolt: PropertyClass, into: Material) -> float | None:
    """The shortest length, in diameters, from which the bolt breaks before its insert is torn out; None: no length."""
    hole, breaks = InsertHole(thread), thread.stress_area_mm2 * bolt.tensile_mpa
    return next(
        (n for n in LENGTHS_D if hole.torn_out_at_n(n * thread.diameter_mm, into) >= breaks), None
    )
