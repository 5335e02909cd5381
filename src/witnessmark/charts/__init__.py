"""Pictures drawn from computed values, as SVG."""

from witnessmark.charts.order import Bar, ChartRow, meanwhile, order_picture

__all__ = ["Bar", "ChartRow", "meanwhile", "order_picture"]
