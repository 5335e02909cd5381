"""Torque tools against published values: ISO 6789 as restated by others, and worked examples of maintenance manuals.

`data/torque_tools.csv` names the source of each row. Rows whose `how` is M are from memory (the standard's text was
not opened); their ids say so.
"""

from datetime import date, timedelta

import pytest

from tests.outside.tables import rows_of
from witnessmark.units import convert, read
from witnessmark.wrenches import (
    Adapter,
    Check,
    Dropped,
    Point,
    TorqueTool,
    check_points,
    permitted_deviation,
    renews,
    set_on,
    standard,
    suits,
    tool_status,
)

ROWS = rows_of("torque_tools")
UNITS = {"lbf.in": "lbf·in", "lbf.ft": "lbf·ft"}
LEFT_OUT = {
    "0 to 1000 lbf.ft wrench, 20 percent of full scale to full scale": "an army's own limit, not ISO's",
    "0 to 100 lbf.in wrench": "an army's own limit, narrower than ISO's",
    "share of the torque being measured": "the rounding of each setting is counted instead of its step",
    "sample of 4500, Germany": "a survey: nothing is computed from it",
}
DEVIATIONS = [row for row in ROWS if row["kind"] == "max_permissible_deviation"]
EXAMPLES = [row for row in ROWS if row["kind"].startswith("extension_example")]
RULES = [
    row
    for row in ROWS
    if row not in DEVIATIONS and row not in EXAMPLES and row["condition"] not in LEFT_OUT
]
DAY = date(2026, 3, 2)


def named(row):
    words = f"{row['item']} {row['condition']} {row['setting_published']}".strip()
    return words + (" (from memory)" if row["how"] == "M" else "")


def test_the_table_is_whole():
    tested = len(DEVIATIONS) + len(EXAMPLES) + len(RULES)
    assert (tested, len(LEFT_OUT), len(ROWS)) == (44, 4, 48)
    assert not [row for row in ROWS if row["kind"] in {"known_error", "superseded"}]


@pytest.mark.parametrize("row", DEVIATIONS, ids=named)
def test_a_class_may_deviate_as_published(row):
    """ISO 6789-1:2017, 5.1.5; a tool of just 10 N·m belongs to the smaller ones."""
    roman, letter = row["item"].removeprefix("Type ").split(" (")[0].split(" class ")
    small = "<= 10" in row["condition"]
    for high in (4.0, 10.0) if small else (10.001, 200.0):
        found = permitted_deviation(f"{roman} {letter}", high)
        assert found * 100 == pytest.approx(float(row["value"]), rel=1e-12)


@pytest.mark.parametrize("row", EXAMPLES, ids=named)
def test_a_worked_example_comes_out_as_printed(row):
    """In the units of the example. One of them is printed rounded down: the exact value stands beside it."""
    length = {"in": 25.4, "ft": 304.8}[row["length_unit"]]
    unit = UNITS[row["torque_unit"]]
    angle = 180.0 if row["kind"].endswith("shortening") else 0.0
    adapter = Adapter(float(row["E_adapter"]) * length, angle, float(row["L_arm"]) * length)
    wanted = read(f"{row['T_required']} {unit}", "torque").value
    found = convert(set_on(wanted, adapter), "torque", unit)
    assert found == pytest.approx(float(row["setting_exact"]), abs=5.1e-7)
    printed = row["setting_published"]
    last_digit = 10.0 ** -len(printed.partition(".")[2])
    if "rounded down" in row["note"]:
        assert 0 <= found - float(printed) < last_digit
        assert found > float(printed)  # our setting does not lose what the print cut off
    else:
        assert abs(found - float(printed)) <= last_digit / 2


@pytest.mark.parametrize("row", RULES, ids=named)
def test_a_rule_holds(row):
    TESTS[row["item"], row["condition"]](row)


def _share(row):
    return float(row["value"]) / 100


def _points(row):
    assert _share(row) * 100 in check_points(20.0, 100.0)


def _lowest_2003(row):
    assert TorqueTool("x", 100.0).lowest_nm == _share(row) * 100


def _lowest_2017(_row):
    assert TorqueTool("x", 100.0, 10.0).lowest_nm == 10.0
    assert suits(TorqueTool("x", 100.0, 10.0), 12.0, DAY).usable
    assert not suits(TorqueTool("x", 100.0), 12.0, DAY).usable


def _best(row):
    assert (float(row["value"]) / 100, float(row["value_max"]) / 100) == standard.BEST_SHARES


def _months(row):
    assert float(row["value"]) == 12
    tool = TorqueTool("x", 100.0, history=(Check(DAY),))
    assert tool_status(tool, date(2027, 3, 1)).proves
    assert not tool_status(tool, date(2027, 3, 2)).proves


def _cycles(row):
    most = int(row["value"])
    at = {
        n: tool_status(TorqueTool("x", 100.0, cycles=n, history=(Check(DAY),)), DAY)
        for n in (most - 1, most)
    }
    assert at[most - 1].proves
    assert not at[most].proves


def _aviation(row):
    """At once after a fall, however recent the calibration."""
    _months(row)
    dropped = TorqueTool("x", 100.0, history=(Check(DAY), Dropped(DAY)))
    assert not tool_status(dropped, DAY + timedelta(days=1)).usable


def _rig(row):
    """A check in house counts if its method is off by at most a quarter of what the tool may deviate."""
    tool = TorqueTool("x", 100.0, 20.0)
    points = (Point(20, 20), Point(100, 100))
    most = float(row["value"]) / 100
    assert renews(Check(DAY, "lever", points, uncertainty=most), tool)
    assert not renews(Check(DAY, "lever", points, uncertainty=most * 1.01), tool)


def _resolution(row):
    assert float(row["value_max"] or row["value"]) == standard.RESOLUTION


def _ambient(row):
    assert (float(row["value"]), float(row["value_max"])) == standard.AMBIENT_C


def _load(row):
    assert (float(row["value"]), float(row["value_max"])) == standard.LOAD_SECONDS


def _square(_row):
    assert set_on(60.0, Adapter(80.0, 90.0, 400.0)) == 60.0


def _angle(_row):
    """The moment of one pull about the square and about the fastener, calculated by coordinates."""
    arm, reach, pull = 400.0, 80.0, 100.0
    for angle in range(0, 181, 5):
        adapter = Adapter(reach, float(angle), arm)
        # the square at 0, the hand at (-arm, 0), the fastener at (reach cos, reach sin); the pull along y
        x_fastener = reach * convert_cos(angle)
        about_square, about_fastener = arm * pull, (arm + x_fastener) * pull
        assert set_on(about_fastener, adapter) == pytest.approx(about_square, rel=1e-12)


def convert_cos(angle):
    """Cosine by its series, so that nothing of the tested code is used."""
    x = angle * 3.141592653589793 / 180
    term, total = 1.0, 1.0
    for n in range(1, 30):
        term *= -x * x / ((2 * n - 1) * (2 * n))
        total += term
    return total


TESTS = {
    ("calibration point", "share of maximum torque, ISO 6789:2003"): _points,
    ("lowest calibrated point", "ISO 6789:2003"): _lowest_2003,
    ("lowest calibrated point", "ISO 6789-1:2017"): _lowest_2017,
    ("best accuracy band of the range", "share of range"): _best,
    ("interval by time", "whichever first"): _months,
    ("interval by use", "whichever first"): _cycles,
    ("interval by time (aviation)", "or at once after abuse or a drop"): _aviation,
    ("rig error at most a quarter of the tool limit", "4 percent tool"): _rig,
    (
        "electronic tool resolution at any reading, at most this share of its permissible deviation",
        "",
    ): _resolution,
    ("ambient temperature window", "held within 1 degC"): _ambient,
    ("load time from 80 percent to target, Type II", ""): _load,
    ("adapter at 90 degrees to the wrench: no correction", "E_effective = 0"): _square,
    ("adapter at angle a to the wrench axis: effective arm L + E*cos(a)", ""): _angle,
}
