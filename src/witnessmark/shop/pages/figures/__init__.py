"""The figures a visit asks for: one at a time, with the manual open."""
