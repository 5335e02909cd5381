"""What can be believed of a reading: no more than a new one has, and no one reading far from its fellows.

The bounds are judged by us from motorcycles, without a source. They ask, and never refuse for good.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from witnessmark.facts.verdict import FAR


@dataclass(frozen=True, slots=True)
class New:
    """What a new one has at most, in the base unit."""

    what: str
    most: float


LINING = New("the lining of a new brake pad or shoe", 7)  # mm; judged by us
TREAD = New("the tread of a new road tyre", 12)  # mm; judged by us
DISC = New("a new brake disc", 9)  # mm; judged by us
CLEARANCE = New("a clearance", 1)  # mm; judged by us
SLACK = New("the slack of a chain or belt", 120)  # mm; judged by us
PLAY = New("the play of a lever or cable", 60)  # mm; judged by us
BATTERY = New("the battery of a motorcycle at rest", 16)  # V; judged by us
COMPRESSION = New("the compression of an engine", 3000)  # kPa; judged by us


def apart(values: Sequence[float]) -> int | None:
    """The place of the one value `FAR` times its fellows, or a ninth of them, as a slip of the point makes it."""
    if len(values) < 3:
        return None
    middle = median(values)
    odd = [place for place, one in enumerate(values) if one > FAR * middle or one * FAR < middle]
    return odd[0] if odd else None
