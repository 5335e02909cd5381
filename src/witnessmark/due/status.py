"""The status of one job."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from witnessmark.facts import Known

DueState = Literal["due", "due before the next likely visit", "not due"]
By = Literal["distance", "time", "unknown", "word", "no interval", "reading", "finding", "test"]


@dataclass(frozen=True, slots=True)
class Due:
    """The status of one job.

    ``why`` says it in words with the figures; ``by`` names what decides. ``distance_left_km`` and
    ``days_left`` are negative where over and None where not known; ``due_km`` and ``due_on`` are
    where the intervals end, None likewise.
    """

    job: str
    state: DueState
    why: str
    by: By
    known: Known
    distance_left_km: float | None = None
    days_left: int | None = None
    due_km: float | None = None
    due_on: date | None = None
    missing: tuple[str, ...] = ()  # of ``why``, what says that the figure of an interval is missing
