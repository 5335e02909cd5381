"""What shim a valve needs: new shim = fitted shim + measured clearance − target. Plain arithmetic."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from witnessmark.errors import WitnessError

UM = 1000  # micrometres in a millimetre, by definition
MOST_CLEARANCE_MM = 2.0  # judged by us
SHIMS_MM = (0.5, 6.0)  # thinner or thicker is no shim; judged by us


class ShimError(WitnessError):
    """Clearances or shims that cannot be worked with."""


@dataclass(frozen=True, slots=True)
class Valve:
    """A valve as measured: its clearance, the shim under it, and the window it must be left in, all mm.

    ``target``: the clearance aimed at; the middle of the window where it is not given.
    """

    name: str
    measured: float
    fitted: float
    least: float
    most: float
    target: float | None = None

    def __post_init__(self) -> None:
        """Raise ShimError for what cannot be."""
        _within(f"{self.name}, measured", self.measured, 0.0, MOST_CLEARANCE_MM)
        _within(f"{self.name}, fitted shim", self.fitted, *SHIMS_MM)
        _within(f"{self.name}, least", self.least, 0.0, MOST_CLEARANCE_MM)
        _within(f"{self.name}, most", self.most, 0.0, MOST_CLEARANCE_MM)
        if self.least > self.most:
            raise ShimError(
                f"{self.name}, least", f"{self.least:g} is more than {self.most:g} mm", "swap them"
            )
        if not self.least <= self.aim <= self.most:
            problem = f"{self.aim:g} mm lies outside {self.least:g} to {self.most:g} mm"
            raise ShimError(f"{self.name}, target", problem, "aim inside the window")

    @property
    def aim(self) -> float:
        """The clearance aimed at."""
        return (self.least + self.most) / 2 if self.target is None else self.target

    @property
    def within(self) -> bool:
        """Whether it is within its limits as it stands; equality with a limit is within."""
        return to_um(self.least) <= to_um(self.measured) <= to_um(self.most)


def needed(fitted: float, measured: float, target: float) -> float:
    """The shim that brings a valve to the target exactly. Example: 2.33 + 0.08 − 0.15 = 2.26 mm."""
    return to_mm(to_um(fitted) + to_um(measured) - to_um(target))


def clearance_with(fitted: float, measured: float, new: float) -> float:
    """The clearance with another shim: measured + fitted − new."""
    return to_mm(to_um(measured) + to_um(fitted) - to_um(new))


def window(fitted: float, measured: float, least: float, most: float) -> tuple[float, float]:
    """Thinnest and thickest shim that leave the clearance within its limits."""
    return needed(fitted, measured, most), needed(fitted, measured, least)


_STAMP = re.compile(r"(\d{2,4})")


def read_stamp(text: str) -> float:
    """A number stamped on a shim, in mm: ``155`` is 1.55 mm, ``2275`` 2.275 mm, ``45`` the last two of x.45.

    Measure the shim: stamps are worn, and sometimes wrong. Raises ShimError for what cannot be one,
    and for two digits, which leave the whole millimetres open.
    """
    hit = _STAMP.fullmatch(text.strip()) if text.isascii() else None
    if hit is None or len(hit[1]) == 2:
        problem = f"“{text.strip()[:20]}” does not say the thickness"
        raise ShimError("stamp", problem, "measure it, and write it in millimetres: 2.350 mm")
    value = int(hit[1]) / (100 if len(hit[1]) == 3 else 1000)
    _within("stamp", value, *SHIMS_MM)
    return value


def to_um(mm: float) -> int:
    """Whole tenths of a micrometre: finer than any micrometer reads, so that sums are exact."""
    return round(mm * UM * 10)


def to_mm(tenths: int) -> float:
    """Millimetres of `to_um`."""
    return tenths / (UM * 10)


def _within(place: str, value: float, low: float, high: float) -> None:
    if not (math.isfinite(value) and low <= value <= high):
        raise ShimError(
            place, f"{value:g} mm cannot be", f"give {low:g} to {high:g} mm, in millimetres"
        )
