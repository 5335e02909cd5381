"""A figure's limits as numbers in the base unit of its quantity."""

from __future__ import annotations

from witnessmark.book.model import Figure
from witnessmark.ledger.table import Span
from witnessmark.units import QuantityError, read

# Without a tolerance of its own, a torque counts as reached within 6 %: the widest deviation that
# ISO 6789-1:2017 lets an indicating or setting torque tool have (6 % to 10 N·m, 4 % above; from
# memory), which also covers rounding a setting to the divisions of a wrench in another unit.
TOOL_DEVIATION = 0.06


def span(figure: Figure) -> Span | None:
    """Its value and limits; None for words, for a missing figure, and for text that cannot be read."""
    if figure.quantity == "words":
        return None
    try:
        value = read(figure.value, figure.quantity).value if figure.value else None
        low = read(figure.low, figure.quantity).value if figure.low else None
        high = read(figure.high, figure.quantity).value if figure.high else None
        around = _around(figure, value)
    except QuantityError:
        return None
    if value is None and low is None and high is None:
        return None
    if low is None and high is None and value is not None and around is not None:
        low, high = value - around, value + around
    return Span(low=low, value=value, high=high)


def _around(figure: Figure, value: float | None) -> float | None:
    """Half the width of the tolerance, in the base unit."""
    if value is None:
        return None
    if not figure.tolerance:
        return abs(value) * TOOL_DEVIATION if figure.quantity == "torque" else None
    text = figure.tolerance.strip()
    if text.endswith("%"):
        return abs(value) * read(text[:-1].strip(), "count").value / 100
    return read(text, figure.quantity).value
