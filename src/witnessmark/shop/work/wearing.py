"""From two readings of a machine to what the forecast of their wear asks for."""

from __future__ import annotations

from collections.abc import Iterable

from witnessmark.book import Book
from witnessmark.book.figures import limits
from witnessmark.shop.models import ReadingRow

FORECAST = "wear-forecast"


def worn(rows: Iterable[ReadingRow], book: Book | None) -> dict[str, str]:
    """What is put into the forecast, by field, from the two newest readings; empty where they show no wear.

    `rows`: one reading at one place, over the visits. Only what wears down to a least is forecast, from
    readings at two odometers.
    """
    taken = sorted(rows, key=lambda row: row.visit.number)
    points = [(row.km, row.value) for row in taken if row.km is not None and row.value is not None]
    rule = book.readings.get(taken[-1].reading) if book and taken else None
    if book is None or rule is None or rule.quantity != "length" or len(points) < 2:
        return {}
    least, most = limits(book, rule)
    (then_at, then), (now_at, now) = points[-2:]
    if least is None or most is not None or now >= then or round(now_at) <= round(then_at):
        return {}  # no limit to wear down to; or renewed since, or mistaken
    return {
        "then": f"{then:g} mm",
        "then_at": f"{then_at:.0f} km",
        "now": f"{now:g} mm",
        "now_at": f"{now_at:.0f} km",
        "limit": f"{least:g} mm",
        "resolution": rule.resolution or "",
    }
