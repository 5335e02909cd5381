"""Calendar arithmetic against a general calendar library and the standards, as gathered in `data/calendar.csv`.

The table names the source of each row (dateutil's documentation and others); where `how` has no S,
the row was computed by us with that library. Month arithmetic is what this program has of its own;
weeks, zones and calendar files are left out until something of ours makes them.
"""

import re
from datetime import date

import pytest

from tests.outside.tables import rows_of
from witnessmark.facts import add_months

ROWS = rows_of("calendar")
REASONS = {
    "months_between": "nothing of ours counts months between two days: a due date is counted from the last one",
    "iso_week": "no week is numbered: the weeks of tyres are those of 49 CFR 574.5, see tyres.csv",
    "icalendar": "no calendar file is written",
    "recurrence": "nothing recurs by rule: each due date is counted from the day the work was done",
    "zone": "offsets are the standard library's and Django's, with no code of ours between",
}


def key(row):
    return " | ".join(row[name] for name in ("kind", "item", "condition", "quantity"))


LEFT_OUT = {key(row): REASONS[row["kind"]] for row in ROWS if row["kind"] in REASONS}
TESTED = [row for row in ROWS if key(row) not in LEFT_OUT]


def test_every_row_is_tested_or_left_out_with_a_reason():
    assert len({key(row) for row in ROWS}) == len(ROWS)
    assert (len(ROWS), len(TESTED), len(LEFT_OUT)) == (78, 25, 53)


@pytest.mark.parametrize("row", TESTED, ids=key)
def test_a_row_of_the_table_holds(row):
    if row["kind"] == "leap_year":
        end = add_months(date(int(row["item"]), 1, 31), 1)
        assert end.day == {"yes": 29, "no": 28}[row["value"]]
        return
    day = date.fromisoformat(row["item"])
    for months in steps(row["condition"]):
        day = add_months(day, months)
    assert day == date.fromisoformat(row["value"])


def steps(condition):
    """The months added, one after the other; most rows add them at once."""
    if condition.endswith("twice"):
        return [1, 1]
    return [int(number) for number in re.findall(r"[+-]\d+", condition)]


def test_counting_step_by_step_is_another_thing_than_counting_from_the_first_day():
    """The notes of the rows on two steps: why due dates are always counted from the day of the work."""
    assert add_months(date(2024, 1, 31), 2) == date(2024, 3, 31)
    assert add_months(date(2024, 2, 29), 48) == date(2028, 2, 29)
