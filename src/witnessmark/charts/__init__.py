"""Pictures drawn from computed values, as SVG."""

from witnessmark.charts.order import (
    Bar,
    StateBar,
    bars,
    order_picture,
    people_bars,
    state_bars,
)

__all__ = ["Bar", "StateBar", "bars", "order_picture", "people_bars", "state_bars"]
