"""Tyre markings against ISO 4000-1 / UN R75, 49 CFR 574.5 and the law of some places.

`data/tyres.csv` names the source of each row; where its `how` is M, the row is from memory. Rows of kind
`known_error` are published mistakes that we must not repeat.
"""

from datetime import date, timedelta

import pytest

from tests.outside.tables import rows_of
from witnessmark.decode import (
    LOAD_KG,
    SPEED_KMH,
    TREAD_LIMITS,
    DecodeError,
    read_date_code,
    read_marking,
)
from witnessmark.decode.tyre_dates import made_on

ROWS = rows_of("tyres")
TODAY = date(2026, 11, 25)
LEFT_OUT = {
    ("dot_rule", "date_symbol_height_min"): "how high the signs are moulded is nothing we read",
    (
        "dot_rule",
        "tin_symbols_retread",
    ): "a retreaded motorcycle tyre is not told apart; its date is read alike",
}
PLACE_OF = {
    "US new-tyre wear indicator": "us indicator", "Maryland inspection": "maryland", "Germany": "germany",
    "Germany light classes": "germany light", "Austria": "austria", "Austria mopeds": "austria moped",
    "UK": "united kingdom",
}  # fmt: skip


def _key(row):
    return row["kind"], row["key"]


TESTED = [row for row in ROWS if _key(row) not in LEFT_OUT]


def test_every_row_is_tested_or_left_out_with_a_reason():
    assert (len(TESTED), len(LEFT_OUT), len(ROWS)) == (108, 2, 110)


def _load(row):
    assert LOAD_KG[int(row["key"])] == float(row["value"])
    marking = read_marking(f"120/70-17 {row['key']}H", TODAY)
    assert marking.rating.load_kg == float(row["value"])


def _speed(row):
    if not row["value"]:  # no upper figure
        assert "over 240" in read_marking("120/70ZR17", TODAY).words_of_speed
        assert "over 270" in read_marking("120/70ZR17 (58W)", TODAY).words_of_speed
        assert "over 240" in read_marking("120/70ZR17 58(V)", TODAY).words_of_speed
        return
    assert SPEED_KMH[row["key"]] == int(row["value"])
    assert row["value"] in read_marking(f"120/70-17 58{row['key']}", TODAY).words_of_speed


def _known_error(row):
    if row["unit"] == "kg":
        assert LOAD_KG.get(int(row["key"])) != float(row["value"])
        return
    with pytest.raises(DecodeError, match="yet to come"):  # four digits before 2000
        read_date_code(row["key"], TODAY)


def _rule(row):
    match row["key"]:
        case "date_digits_after_rule":
            assert read_date_code("0100", TODAY).years == (2000,)
        case "date_digits_before_rule":
            assert read_date_code("019", TODAY).years == (1999, 1989, 1979)
        case "tin_symbols_new_tyre":
            tin = "1AB" + "C2D3E4" + "2319"
            assert len(tin) == int(row["value"])
            assert read_marking(f"DOT {tin}", TODAY).made.words == "week 23 of 2019"
        case (
            "changeover"
        ):  # a four-digit code cannot mean a year before 2000, three digits none after
            assert min(read_date_code(f"30{year:02}", TODAY).year for year in range(27)) == 2000
            assert max(max(read_date_code(f"30{d}", TODAY).years) for d in range(10)) == 1999
        case "week_01":  # first full week: Sunday to Saturday, wholly in its year
            for year in range(2000, 2027):
                begun = made_on(1, year)
                assert begun.weekday() == 6
                assert begun.year == (begun + timedelta(days=6)).year == year
                assert (begun - timedelta(days=7)).year == year - 1


def _date(row):
    made = read_date_code(row["key"], TODAY)
    assert made.week == int(row["week"])
    assert made.year == int(row["year"])
    if row["year_alternatives"]:
        assert int(row["year_alternatives"]) in made.years
        assert "do not tell the decade" in made.words


def _invalid(row):
    with pytest.raises(DecodeError, match="would be week"):
        read_date_code(row["key"], TODAY)


def _tread(row):
    limit = next(one for one in TREAD_LIMITS if one.key == PLACE_OF[row["key"]])
    assert limit.depth_mm == float(row["value"])
    assert limit.source.split(",")[0].split(" reg")[0] in row["source"].replace(
        "reg.", "regulation"
    )


TESTERS = {
    "load_index": _load, "speed_symbol": _speed, "known_error": _known_error, "dot_rule": _rule, "dot_date": _date,
    "dot_date_invalid": _invalid, "tread_min": _tread,
}  # fmt: skip


def _id(row):
    return f"{row['kind']} {row['key']}{'' if 'S' in row['how'] else ' (from memory)'}"


@pytest.mark.parametrize("row", TESTED, ids=_id)
def test_a_row_of_the_table_holds(row):
    """Each row against our own reading of a tyre."""
    TESTERS[row["kind"]](row)
