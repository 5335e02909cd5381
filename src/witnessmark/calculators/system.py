"""What the calculators have from the system: the day."""

from __future__ import annotations

from datetime import date, datetime


def today() -> date:
    """The day at this machine."""
    return datetime.now().astimezone().date()
