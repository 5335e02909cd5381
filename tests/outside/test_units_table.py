"""Conversions against the published digits of NIST SP 811, NIST Handbook 44 and others.

`data/units.csv` names the source of each row, and whether the value is exact by definition.
Gathered by us; where a row's `how` has no S, no published text was read and only the definition
and a general library stand behind it.
"""

from fractions import Fraction

import pytest

from tests.outside.tables import rows_of
from witnessmark.units import convert, read

ROWS = rows_of("units")
SPELT = {
    "lbf.ft": "lbf·ft", "lbf.in": "lbf·in", "kgf.m": "kgf·m", "N.m": "N·m", "US_gal": "US gal",
    "US_qt": "US qt", "US_pt": "US pt", "US_fl_oz": "US fl oz", "imp_gal": "imp gal",
    "imp_qt": "imp qt", "imp_pt": "imp pt", "imp_fl_oz": "imp fl oz", "degC": "°C", "degF": "°F",
    "kgf/cm2": "kgf/cm²",
}  # fmt: skip
TESTED = ROWS
LEFT_OUT: dict[str, str] = {}


def _kind(row):
    longways = row["from_unit"] in {"mi", "km"}
    return "distance" if row["quantity"] == "length" and longways else row["quantity"]


def test_every_row_is_tested():
    assert (len(ROWS), len(TESTED), len(LEFT_OUT)) == (45, 45, 0)


@pytest.mark.parametrize(
    "row", TESTED, ids=lambda row: f"{row['from_value']} {row['from_unit']} in {row['to_unit']}"
)
def test_a_conversion_agrees_with_the_published_digits(row):
    """Read in the one unit and shown in the other: all digits of the table, nothing rounded."""
    kind = _kind(row)
    source, target = (SPELT.get(row[key], row[key]) for key in ("from_unit", "to_unit"))
    amount = read(f"{row['from_value']} {source}", kind)
    assert convert(amount.value, kind, target) == pytest.approx(float(row["to_value"]), rel=3e-15)
    if row["published_rounded"]:
        published = row["published_rounded"]
        half_unit = Fraction(1, 2 * 10 ** len(published.partition(".")[2]))
        if row["exact"] == "no" or Fraction(published) != Fraction(row["to_value"]):
            # 49 CFR 571.119 rounds 0.79375 mm to 0.8: the difference is that of its digits
            got = Fraction(convert(amount.value, kind, target))
            assert abs(got - Fraction(published)) <= half_unit
