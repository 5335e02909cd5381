"""Days as people write them in English: the one shape of the core's sentences. Pages and papers: `shop.dates`."""

from datetime import date

_MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]


def day(on: date) -> str:
    """Example: ``3 Mar 2026``; the same wherever the program runs."""
    return f"{on.day} {_MONTHS[on.month - 1]} {on.year}"
