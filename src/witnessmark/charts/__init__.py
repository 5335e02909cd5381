"""Pictures drawn from computed values, as SVG."""

from witnessmark.charts.order import Bar, bars, order_picture

__all__ = ["Bar", "bars", "order_picture"]
