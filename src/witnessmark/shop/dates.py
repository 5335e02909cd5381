"""Days and times as pages and papers tell them, by the formats of the language (`shop.formats`)."""

from __future__ import annotations

from datetime import date, datetime

from django.utils import formats, timezone


def day_text(on: date) -> str:
    """Example: ``25 Nov 2026``. An aware instant is told by its day in the zone now in use."""
    return formats.date_format(_here(on) if isinstance(on, datetime) else on, "DATE_FORMAT")


def time_text(at: datetime) -> str:
    """Example: ``14:05``."""
    return formats.time_format(_here(at), "TIME_FORMAT")


def moment_text(at: datetime) -> str:
    """Example: ``25 Nov 2026, 14:05``."""
    return formats.date_format(_here(at), "DATETIME_FORMAT")


def _here(at: datetime) -> datetime:
    return timezone.localtime(at) if timezone.is_aware(at) else at
