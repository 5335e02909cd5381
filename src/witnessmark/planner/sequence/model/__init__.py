"""The planning problem as a constraint model (CP-SAT)."""
