"""A figure's limits as a fastener or a reading is judged by them."""

from __future__ import annotations

from witnessmark.book.model import Figure
from witnessmark.ledger.table import FigureLimits
from witnessmark.units import QuantityError
from witnessmark.wrenches.standard import WIDEST_DEVIATION

# Without a tolerance of its own, a torque counts as reached within the widest deviation (6 %) that ISO 6789-1 lets
# a torque tool have, which also covers rounding a setting to the divisions of a wrench in another unit.
TOOL_DEVIATION = WIDEST_DEVIATION


def span(figure: Figure) -> FigureLimits | None:
    """Its value and limits; None for words, for a missing figure, and for text an entry set that cannot be read."""
    try:
        (low, high), value = figure.bounds, figure.in_base("value")
    except QuantityError:
        return None
    if low is None and high is None:
        return None
    if figure.quantity == "torque" and value is not None and low == value == high:
        low, high = value * (1 - TOOL_DEVIATION), value * (1 + TOOL_DEVIATION)
    return FigureLimits(low=low, value=value, high=high)
