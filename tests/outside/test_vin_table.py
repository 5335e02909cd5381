"""Identification numbers against 49 CFR 565 and ISO 3779.

`data/vin.csv` names the source of each row; where its `how` has no S, the row is from memory or by arithmetic.
"""

import pytest

from tests.outside.tables import rows_of
from witnessmark.decode import DecodeError, check_digit, model_years, read_identification, told
from witnessmark.decode.identification import weighted_sum
from witnessmark.decode.identification_tables import (
    CHECK_AT,
    CYCLE_YEARS,
    LENGTH,
    VALUES,
    WEIGHTS,
    YEAR_SIGNS,
)

ROWS = rows_of("vin")
SAMPLE = "1G4AH59H45G118341"  # 49 CFR 565.15 Table V
LEFT_OUT = {
    ("rule", "high_volume_limit_per_year"): "how many machines a maker makes is nothing we compute",
}


def _key(row):
    return row["kind"], row["key"]


TESTED = [row for row in ROWS if _key(row) not in LEFT_OUT]


def test_every_row_is_tested_or_left_out_with_a_reason():
    assert (len(TESTED), len(LEFT_OUT), len(ROWS)) == (90, 1, 91)


def _transliteration(row):
    assert VALUES[row["key"]] == int(row["value"])


def _weight(row):
    assert WEIGHTS[int(row["key"]) - 1] == int(row["value"])


def _forbidden(row):
    """A letter that never occurs is refused anywhere; one that is no year is no year, and no error."""
    if row["value"] == "anywhere":
        for at in range(LENGTH):
            with pytest.raises(DecodeError, match=f"{row['key']} at position {at + 1}"):
                read_identification(SAMPLE[:at] + row["key"] + SAMPLE[at + 1 :], 2026)
    else:
        assert row["key"] not in YEAR_SIGNS
        assert model_years(row["key"], 2026) == ()


def _year(row):
    years = int(row["value"]), int(row["value2"])
    assert model_years(row["key"], years[1]) == years
    assert model_years(row["key"], years[1] - 2) == years[:1]


def _worked(row):
    number = row["key"]
    assert weighted_sum(number) == int(row["weighted_sum"])
    assert check_digit(number) == row["check_digit"]
    assert read_identification(number, 2026).check_fits is (row["valid"] == "yes")


def _rule(row):
    match row["key"]:
        case "length":
            assert int(row["value"]) == LENGTH
            for problem in (SAMPLE[:-1], SAMPLE + "1"):
                with pytest.raises(DecodeError, match=f"{len(problem)} characters, not 17"):
                    read_identification(problem, 2026)
        case "check_digit_position":
            assert int(row["value"]) == CHECK_AT
        case "no_repeat_period_years":
            assert int(row["value"]) == CYCLE_YEARS
        case "position_7_alphabetic":  # motorcycles are not in that list: both years stay possible
            for seventh in "A9":
                other = f"1M8GDM{seventh}AXKP042788"
                assert read_identification(other, 2026).years == (1989, 2019)
        case "third_character_9":
            assert read_identification("1M9GDM9AXKP042788", 2026).few_made
            assert not read_identification("1M8GDM9AXKP042788", 2026).few_made
        case "check_digit_outside_north_america":  # a warning nowhere but where the rule holds
            assert told("WZZGDM9A1KP042788", 2026).warnings == ()
            assert told("1M8GDM9A1KP042788", 2026).warnings != ()


TESTERS = {
    "transliteration": _transliteration, "weight": _weight, "forbidden_character": _forbidden, "model_year": _year,
    "worked_vin": _worked, "rule": _rule,
}  # fmt: skip


def _id(row):
    memory = "" if "S" in row["how"] else " (from memory or arithmetic)"
    return f"{row['kind']} {row['key']}{memory}"


@pytest.mark.parametrize("row", TESTED, ids=_id)
def test_a_row_of_the_table_holds(row):
    """Each row against our own reading of an identification number."""
    TESTERS[row["kind"]](row)
