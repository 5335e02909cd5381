"""What ISO 6789 says of hand torque tools: types and classes, permissible deviation, range, recalibration.

The standard's own text was not at hand. Where a value was not read in a document that restates it, it is marked
"from memory"; all of them are held against the table of published values in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ToolType = Literal["indicating", "setting"]

SMALL_TOOL_NM = (
    10.0  # largest torque up to which every class may deviate by 6 % (ISO 6789-1:2017, 5.1.5)
)
LOWER_LIMIT = (
    0.2  # of the largest torque: lowest calibrated point of ISO 6789:2003, where none is marked
)
CHECK_SHARES = (0.2, 0.6, 1.0)  # of the largest torque: points of a calibration (ISO 6789:2003)
MONTHS = 12  # ISO 6789-2:2017, 4.1; ISO 6789:2003: whichever of months and cycles comes first
CYCLES = 5_000  # ISO 6789-2:2017, 4.1
RESOLUTION = (
    0.25  # of the permitted deviation: what an electronic tool's display may hide (ISO 6789-1:2017)
)
DEVICE_SHARE = (
    0.25  # of the permitted deviation: what a calibration device may be off (ISO 6789-1:2017)
)
AMBIENT_C = (18.0, 28.0)  # where tools are checked, held within 1 °C (ISO 6789)
LOAD_SECONDS = (0.5, 4.0)  # from 80 % of the torque to the click of a setting tool (ISO 6789:2003)
BEST_SHARES = (
    0.3,
    0.8,
)  # of the largest torque: where a tool is best (manual US Army TM 1-1500-204-23-9, 8-3)


@dataclass(frozen=True, slots=True)
class ToolClass:
    """A class of ISO 6789-1: what a tool of it may deviate, as a share of the torque."""

    type: ToolType
    text: str
    small: float  # largest torque up to 10 N·m
    large: float

    @property
    def indicating(self) -> bool:
        """Whether it shows the torque reached (type I); a setting tool clicks or slips at one set before (II)."""
        return self.type == "indicating"


# II A was read in a torque-tester maker's manual that restates the standard; the others are from memory.
CLASSES: dict[str, ToolClass] = {
    "I A": ToolClass("indicating", "wrench, torsion or flexion bar", 0.06, 0.06),
    "I B": ToolClass(
        "indicating", "wrench, rigid housing, with scale, dial or display", 0.06, 0.04
    ),
    "I C": ToolClass("indicating", "wrench, rigid housing, electronic", 0.06, 0.04),
    "I D": ToolClass("indicating", "screwdriver with scale, dial or display", 0.06, 0.06),
    "I E": ToolClass("indicating", "screwdriver, electronic", 0.06, 0.04),
    "II A": ToolClass("setting", "wrench, adjustable, graduated", 0.06, 0.04),
    "II B": ToolClass("setting", "wrench, fixed", 0.06, 0.04),
    "II C": ToolClass("setting", "wrench, adjustable, not graduated", 0.06, 0.04),
    "II D": ToolClass("setting", "screwdriver, adjustable, graduated", 0.06, 0.06),
    "II E": ToolClass("setting", "screwdriver, fixed", 0.06, 0.06),
    "II F": ToolClass("setting", "screwdriver, adjustable, not graduated", 0.06, 0.06),
    "II G": ToolClass("setting", "wrench, flexion bar, adjustable, graduated", 0.06, 0.06),
}
WIDEST_DEVIATION = max(max(one.small, one.large) for one in CLASSES.values())


def permitted_deviation(tool_class: str, high_nm: float) -> float:
    """The permissible deviation of a class, as a share of the torque, for a tool up to `high_nm`.

    ISO 6789-1:2017, 5.1.5 (also ISO 6789:2003). Raises KeyError for a class the standard does not have.
    """
    one = CLASSES[tool_class]
    return one.small if high_nm <= SMALL_TOOL_NM else one.large


def check_points(low_nm: float, high_nm: float) -> tuple[float, ...]:
    """The torques at which a tool is checked: its lower limit, 60 % and 100 % of its largest torque.

    A lower limit above 60 % leaves two points.
    """
    middle = CHECK_SHARES[1] * high_nm
    return (low_nm, *((middle,) if middle > low_nm else ()), high_nm)
