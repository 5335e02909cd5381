"""Where what was drained goes: streams that are collected apart, containers, and how full they are.

Used oil is regenerated; brake fluid, coolant or petrol in it makes the whole drum hazardous mixed
waste, which nobody takes for nothing. Local law decides; this is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, get_args

from witnessmark.fluids.volume import FluidError, exact_ml

Stream = Literal["used oil", "brake fluid", "coolant", "petrol", "oily rags and filters"]
STREAMS: tuple[Stream, ...] = get_args(Stream)
_STREAM_OF: dict[str, Stream] = {
    "engine oil": "used oil",
    "gear oil": "used oil",
    "fork oil": "used oil",
    "two-stroke oil": "used oil",
    "mineral clutch oil": "used oil",
    "glycol brake fluid": "brake fluid",
    "silicone brake fluid": "brake fluid",
    "coolant": "coolant",
    "chain lubricant": "oily rags and filters",
}
NEARLY_FULL = 0.9  # said before it runs over; judged by us


def stream_of(family: str) -> Stream:
    """The stream that a family of fluids is collected in. Raises FluidError for none of ours."""
    if family not in _STREAM_OF:
        raise FluidError(
            "family", f"“{family}” is no family of fluids", "choose one of the book's families"
        )
    return _STREAM_OF[family]


def families_of() -> tuple[str, ...]:
    """Every family of fluids that is collected."""
    return tuple(_STREAM_OF)


def why_not_into(family: str, stream: str) -> str | None:
    """Why a fluid may not go into a container of that stream, in words; None where it belongs there."""
    own = stream_of(family)
    if own == stream:
        return None
    if stream == "used oil":
        return f"{family} never goes into used oil: the whole drum becomes mixed waste that nobody takes"
    return f"{family} belongs to {own}, not to {stream}: streams are collected apart"


@dataclass(frozen=True, slots=True)
class Container:
    """A waste container as it stands: its stream, what it holds and what is in it."""

    id: str
    name: str
    stream: str
    capacity_ml: float
    level_ml: float = 0.0

    @property
    def room_ml(self) -> float:
        """What still goes in."""
        return max(0.0, self.capacity_ml - self.level_ml)

    @property
    def share(self) -> float:
        """How full it is, 0 to 1 and beyond."""
        return self.level_ml / self.capacity_ml

    @property
    def advice(self) -> str:
        """What to do about how full it is; empty where there is nothing to do."""
        if self.level_ml < 0:
            return "more was collected than went in: write down what is lacking"
        if self.level_ml > self.capacity_ml:
            return "more than it holds: measure it"
        return "have it collected" if self.share >= NEARLY_FULL else ""


def choose(family: str, volume_ml: float, containers: Iterable[Container]) -> Container | None:
    """Where a drained volume goes by itself: the fullest of its stream with room, else the emptiest.

    None where the shop has no container of that stream.
    """
    own = [one for one in containers if one.stream == stream_of(family)]
    fits = [one for one in own if one.room_ml >= volume_ml]
    if fits:
        return max(fits, key=lambda one: (one.level_ml, one.name))
    return max(own, key=lambda one: (one.room_ml, one.name), default=None)


def level(put_in_ml: Iterable[float], collected_ml: Iterable[float] = ()) -> float:
    """What is in a container: the sum of what went in, less what was collected. Exact.

    Negative where more was collected than was ever written down.
    """
    went_in = sum((exact_ml(one, "volume") for one in put_in_ml), Fraction(0))
    return float(went_in - sum((exact_ml(one, "collected") for one in collected_ml), Fraction(0)))
