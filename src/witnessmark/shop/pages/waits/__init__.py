"""The waits that run: in a strip on every page of their visit and on the day's."""
