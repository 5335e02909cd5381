"""Month arithmetic against worked examples of a general calendar library, as published.

`data/months.csv` names where each example was seen (dateutil's documentation and others); rows
without `seen_in` were computed with that library by us.
"""

import csv
from datetime import date
from pathlib import Path

import pytest

from witnessmark.facts import add_months

ROWS = list(csv.DictReader((Path(__file__).parent / "data" / "months.csv").open(encoding="utf-8")))
PLAIN = [row for row in ROWS if row["condition"].endswith("day clipped to month end")]


def test_the_table_is_whole():
    assert (len(ROWS), len(PLAIN)) == (20, 18)


@pytest.mark.parametrize(
    "row", PLAIN, ids=lambda row: f"{row['item']} {row['condition'].split(';')[0]}"
)
def test_months_are_added_as_the_library_does(row):
    months = int(row["condition"].split(" ")[0])
    assert add_months(date.fromisoformat(row["item"]), months) == date.fromisoformat(row["value"])


@pytest.mark.parametrize(("steps", "end"), [((1, 1), "2024-03-29"), ((2,), "2024-03-31")])
def test_counting_month_by_month_is_another_thing_than_counting_from_the_first_day(steps, end):
    day = date(2024, 1, 31)
    for months in steps:
        day = add_months(day, months)
    assert day == date.fromisoformat(end)
