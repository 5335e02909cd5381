"""Valve shims against worked examples: the rows of kind shim in `data/wear.csv`, and two published slips.

The examples were read in owners' texts and computed again; stamps on shims are common practice.
"""

import re

import pytest

from tests.outside.tables import rows_of
from witnessmark.shims import Shelf, Valve, assign, clearance_with, needed, read_stamp, window
from witnessmark.units import read

ROWS = [row for row in rows_of("wear") if row["kind"] == "shim"]
SLIPS = [
    row
    for row in rows_of("wear")
    if row["kind"] == "known_error" and ("clearance" in row["item"] or "inch" in row["item"])
]


def test_every_row_is_tested():
    assert (len(ROWS), len(SLIPS)) == (7, 2)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["item"])
def test_ours_agrees_with_the_worked_example(row):
    said = {
        k: float(v)
        for k, v in re.findall(r"(measured|specified|old|fit|stamp) ([\d.]+)", row["item"])
    }
    expected = float(row["value"])
    if "stamp" in said:
        assert read_stamp(str(int(said["stamp"]))) == expected
    elif row["value_max"]:
        least, most = (
            float(x) for x in re.search(r"allowed ([\d.]+) to ([\d.]+)", row["item"]).groups()
        )
        assert window(said["old"], said["measured"], least, most) == (
            expected,
            float(row["value_max"]),
        )
    elif row["quantity"] == "clearance":
        assert clearance_with(said["old"], said["measured"], said["fit"]) == expected
    else:
        assert needed(said["old"], said["measured"], said["specified"]) == expected


def test_the_size_in_steps_comes_closest_as_the_example_says():
    """1.675 mm of 0.025 mm steps is nearest to 1.6662 mm, and leaves 0.1512 mm."""
    valve = Valve("exhaust", 0.0762, 1.75, 0.12, 0.20)
    fitted = assign([valve], Shelf(step=0.025)).fittings[0]
    assert (fitted.shim, fitted.clearance) == (1.675, 0.1512)


@pytest.mark.parametrize("row", SLIPS, ids=lambda row: row["item"])
def test_a_published_slip_is_not_ours(row):
    """0.006 in is 0.1524 mm, not 0.16; a tolerance of 0.003 mm is finer than any feeler gauge."""
    if "inch" in row["item"]:
        assert read("0.006 in", "length").value == pytest.approx(0.1524)
        assert read("0.006 in", "length").value != float(row["value"])
    else:
        window_mm = 2 * float(row["value"])
        with pytest.raises(ValueError, match="needs a shim of"):
            assign(
                [Valve("inlet", 0.31, 2.33, 0.25 - window_mm / 2, 0.25 + window_mm / 2)], Shelf()
            )
