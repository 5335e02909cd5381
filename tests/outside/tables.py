"""The published tables of `data/`, row by row."""

import csv
from pathlib import Path

DATA = Path(__file__).parent / "data"


def rows_of(table):
    """Every row of a table, by the names of its columns."""
    with (DATA / f"{table}.csv").open(encoding="utf-8", newline="") as text:
        return list(csv.DictReader(text))
