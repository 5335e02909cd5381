"""Month arithmetic as people count: the same day of another month, or that month's last."""

from __future__ import annotations

import calendar
from datetime import date, timedelta

DAYS_A_MONTH = 365.2425 / 12  # mean Gregorian month, plain arithmetic; only for parts of a month


def add_months(start: date, months: float) -> date:
    """The day so many months later. Example: 31 January + 1 month is 28 (or 29) February.

    Always count from the first day: adding one month twice is not adding two. Parts of a month
    count by the mean month. A day past the last one a calendar knows is that last day.
    """
    whole = int(months // 1)
    year, month = divmod(start.year * 12 + start.month - 1 + whole, 12)
    if not date.min.year <= year < date.max.year:
        return date.max if year >= date.max.year else date.min
    last = calendar.monthrange(year, month + 1)[1]
    return date(year, month + 1, min(start.day, last)) + timedelta(
        days=round((months - whole) * DAYS_A_MONTH)
    )
