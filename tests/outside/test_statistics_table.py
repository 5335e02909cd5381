"""Statistics: certified regressions, survival curves, intervals, shrinkage. Nothing here is computed by us yet.

`data/statistics.csv` names the source of each row (NIST StRD, the NIST/SEMATECH e-Handbook, textbooks;
`how` as in the other tables). It stands here so that no row is lost: whoever builds forecasts moves
rows from LEFT_OUT to tests.
"""

from collections import Counter

from tests.outside.tables import rows_of

ROWS = rows_of("statistics")
REASON = "forecasts not built"


def key(row):
    return " | ".join(row[name] for name in ("kind", "item", "condition", "quantity", "value"))


LEFT_OUT = {key(row): REASON for row in ROWS}
TESTED: list[dict[str, str]] = []


def test_every_row_is_left_out_for_the_one_reason():
    """Two readings and a straight line are all that is calculated now (`wear.csv`, linear_forecast)."""
    assert (len(ROWS), len(TESTED), len(LEFT_OUT)) == (155, 0, 155)
    assert Counter(row["kind"] for row in ROWS)["regression"] == 45
