"""Pictures drawn from computed values, as SVG."""

from witnessmark.charts.order import Bar, Row, meanwhile, order_picture

__all__ = ["Bar", "Row", "meanwhile", "order_picture"]
