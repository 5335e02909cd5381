"""Both wheels along a string or straight edge: how far apart their tracks stand, and how they are turned."""

from __future__ import annotations

import math
from dataclasses import dataclass

from witnessmark import units
from witnessmark.calculators import wheel_pictures as pictures
from witnessmark.calculators.model import (
    Asked,
    Calculated,
    CalculationError,
    Calculator,
    Inputs,
    amount,
    maybe_amount,
    value_or,
)
from witnessmark.facts import Limit, judge

MOST_DEG = 10.0  # beyond it a wheel is not straight ahead, or a measure is a slip; judged by us
STRAIGHT_DEG = 0.1  # under it a wheel is told to stand straight; judged by us
WHEELBASE_MM = (700.0, 2500.0)  # of a motorcycle or scooter; judged by us
APART_MM = (150.0, 900.0)  # across a wheel; judged by us


@dataclass(frozen=True)
class Track:
    """A wheel beside the line: measured at its front and rear, so far apart, and how wide it is there. In mm."""

    at_front: float
    at_rear: float
    apart: float
    width: float

    @property
    def slope(self) -> float:
        """How much further from the line each mm forwards."""
        return (self.at_front - self.at_rear) / self.apart

    @property
    def angle_deg(self) -> float:
        """How far it is turned away from the line."""
        return math.degrees(math.atan(self.slope))

    @property
    def middle(self) -> float:
        """Of its track, at its axle, from the line."""
        return (self.at_front + self.at_rear) / 2 + self.width / 2


@dataclass(frozen=True)
class Alignment:
    """How the front wheel stands to the rear wheel's plane: away from the line is more. mm and degrees."""

    offset: float
    angle_deg: float
    unsure: float


def align(front: Track, rear: Track, wheelbase: float, resolution: float = 0.0) -> Alignment:
    """The front track less the rear plane carried forward, square to the line.

    ``unsure``: every measure is off by ``resolution``, in the worst case 2·r over the rear wheel's span, carried over
    the wheelbase, and r at each wheel.
    """
    ahead = rear.middle + rear.slope * wheelbase
    unsure = resolution * (2 + 2 * wheelbase / rear.apart)
    return Alignment(front.middle - ahead, front.angle_deg - rear.angle_deg, unsure)


def _aligned(inputs: Inputs) -> Calculated:
    front, rear = _track(inputs, "front"), _track(inputs, "rear")
    wheelbase = amount(inputs, "wheelbase").value
    _believable("wheelbase", wheelbase, WHEELBASE_MM, "give axle to axle")
    side = str(inputs.get("side", "left"))
    found = align(front, rear, wheelbase, value_or(inputs, "resolution"))
    for name, track in (("front_front", front), ("rear_front", rear)):
        if abs(track.angle_deg) > MOST_DEG:
            problem = f"the wheel would be turned {abs(track.angle_deg):.1f}°"
            raise CalculationError(name, problem, "look at both measures of that wheel")
    beyond, nearer = ("right", "left") if side == "left" else ("left", "right")
    off = abs(found.offset)
    way = beyond if found.offset > 0 else nearer
    shown = units.show(round(off, 1), "length")
    limit = maybe_amount(inputs, "limit")
    stands = f"The front wheel stands {shown} to the {way} of the rear wheel's plane" if round(off, 1) else (
        "The front wheel stands in the rear wheel's plane"
    )  # fmt: skip
    within = bool(round(off, 1)) and off <= found.unsure
    if within:
        stands += ", no more than the measures tell apart"
    turned = beyond if found.angle_deg > 0 else nearer
    lines = [
        ("front wheel turned against the rear one", _turned(found.angle_deg, turned)),
        ("rear wheel to the line", _turned(rear.angle_deg, beyond if rear.angle_deg > 0 else nearer)),
        ("front wheel to the line", _turned(front.angle_deg, beyond if front.angle_deg > 0 else nearer)),
    ]  # fmt: skip
    if found.unsure:
        lines.append(("known to", f"± {units.show(round(found.unsure, 1), 'length')}"))
    if limit:
        told = judge(
            off, "length", high=Limit(limit.value, "as put in"), resolution=found.unsure
        ).short
        lines.append(("against the limit", told))
        stands += "" if within else f": {told}"
    warnings = [
        "The manual may want an offset: then compare with that.",
        "Measure both wheels at one height, on rims that run true; tyres bulge.",
    ]
    if abs(found.angle_deg) > STRAIGHT_DEG:
        warnings.insert(
            0, "Turn the front wheel until it stands along the rear one, and measure it again."
        )
    return Calculated(
        said=f"{stands}.",
        lines=tuple(lines),
        formula="angle = atan((front − rear) / apart); track = (front + rear)/2 + width/2; offset = front track "
        "− (rear track + slope of the rear wheel × wheelbase)",
        put_in=(),
        source="plain arithmetic; the string along the rear wheel: common practice, no source",
        warnings=tuple(warnings),
        picture=pictures.along(
            (amount(inputs, "front_front").understood, amount(inputs, "front_rear").understood),
            (amount(inputs, "rear_front").understood, amount(inputs, "rear_rear").understood),
            side=side,
            offset=found.offset,
            angle_deg=found.angle_deg,
            said=f"Both wheels from above along a line on the {side}: {stands[0].lower()}{stands[1:]}",
        ),
    )


def _track(inputs: Inputs, wheel: str) -> Track:
    at_front, at_rear, apart, width = (
        amount(inputs, f"{wheel}_{name}").value for name in ("front", "rear", "apart", "width")
    )
    expected = "give how far apart on the wheel both measures were taken"
    _believable(f"{wheel}_apart", apart, APART_MM, expected)
    return Track(at_front, at_rear, apart, width)


def _believable(name: str, value: float, bounds: tuple[float, float], expected: str) -> None:
    if not bounds[0] <= value <= bounds[1]:
        shown, low, high = (units.show(one, "length") for one in (value, *bounds))
        raise CalculationError(name, f"{shown} is not from {low} to {high}", expected)


def _turned(angle_deg: float, way: str) -> str:
    size = abs(angle_deg)
    return "straight" if size < STRAIGHT_DEG else f"{size:.1f}° to the {way}"


CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        "wheel-alignment",
        "Wheels in line",
        "Both wheels measured from a string or straight edge: how far off, and how turned.",
        (
            Asked("rear_front", "Rear wheel: line to its front edge", "length", "20 mm"),
            Asked("rear_rear", "Rear wheel: line to its rear edge", "length", "20 mm"),
            Asked("front_front", "Front wheel: line to its front edge", "length", "42 mm"),
            Asked("front_rear", "Front wheel: line to its rear edge", "length", "41 mm"),
            Asked("rear_apart", "Rear wheel: both places apart", "length", "430 mm"),
            Asked("front_apart", "Front wheel: both places apart", "length", "460 mm"),
            Asked("rear_width", "Rear wheel: width there", "length", "130 mm"),
            Asked("front_width", "Front wheel: width there", "length", "90 mm"),
            Asked("wheelbase", "Wheelbase", "length", "1450 mm", help="Axle to axle."),
            Asked("side", "The line is on the", "choice", "left", ("left", "right"), optional=True,
                  help="As one sits on it; left empty: left."),
            Asked("resolution", "What was read to", "length", "0.5 mm", optional=True),
            Asked("limit", "Most offset of the manual", "length", "5 mm", optional=True),
        ),
        _aligned,
        also=("tracking", "crooked frame"),
    ),
)  # fmt: skip
