"""The published tables of `data/`, row by row."""

import csv
from decimal import Decimal
from pathlib import Path

DATA = Path(__file__).parent / "data"


def rows_of(table):
    """Every row of a table, by the names of its columns."""
    with (DATA / f"{table}.csv").open(encoding="utf-8", newline="") as text:
        return list(csv.DictReader(text))


def is_as_printed(row, ours):
    """Whether ours, rounded to the digits of the row, is the row's value: within half a unit of the last."""
    printed = Decimal(row["value"])
    half = Decimal((0, (1,), printed.as_tuple().exponent)) / 2
    return abs(Decimal(repr(ours)) - printed) <= half + Decimal("1e-9")
