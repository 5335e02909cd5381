"""Witness Mark: plan the work on a motorcycle, do it, prove it, predict the next."""

__version__ = "0.1.0"
