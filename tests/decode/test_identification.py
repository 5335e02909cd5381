"""Identification numbers as they are typed at the door."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.decode import DecodeError, check_digit, read_identification, slips, told
from witnessmark.decode.identification_tables import VALUES, WEIGHTS

SIGNS = "".join(VALUES)
NUMBERS = st.text(SIGNS, min_size=17, max_size=17).map(lambda n: n[:8] + check_digit(n) + n[9:])


@given(NUMBERS, st.integers(0, 16), st.sampled_from(SIGNS))
def test_a_wrong_sign_breaks_the_check_unless_its_value_is_the_same(number, at, sign):
    """Published property of the method: modulo 11 catches a single slip, but letters share values with digits."""
    other = number[:at] + sign + number[at + 1 :]
    same = VALUES[other[at]] == VALUES[number[at]] if WEIGHTS[at] else sign == number[at]
    assert read_identification(other, 2026).check_fits is same


@given(NUMBERS, st.integers(0, 15))
def test_neighbours_swapped_are_found_again(number, at):
    """Among the likely slips of a broken number stands the swap that was made."""
    swapped = number[:at] + number[at + 1] + number[at] + number[at + 2 :]
    if check_digit(swapped) != swapped[8]:
        assert number in [slip.number for slip in slips(swapped)]


@given(NUMBERS)
def test_every_slip_named_puts_the_check_digit_right(number):
    broken = number[:16] + ("1" if number[16] != "1" else "2")
    assert all(check_digit(slip.number) == slip.number[8] for slip in slips(broken))


def test_a_country_lies_in_one_region_and_those_moved_lie_in_theirs():
    """ISO 3780 as assigned lately (from memory): H is China's, 7F to 70 the United States', 7A to 7E New Zealand's."""
    regions = {}
    for pair in (one + other for one in SIGNS for other in SIGNS):
        read = read_identification(f"{pair}A00000000000000", 2026)
        if read.country:
            regions.setdefault(read.country, set()).add(read.region)
    assert [country for country, found in regions.items() if len(found) > 1] == []
    assert regions["China"] == {"Asia"}
    assert regions["United States"] == {"North America"}
    assert regions["New Zealand"] == {"Oceania"}
    for pair in ("7F", "7Z", "70"):
        assert read_identification(f"{pair}A00000000000000", 2026).market == "north america"
    assert read_identification("HBA00000000000000", 2026).region == "Asia"


@pytest.mark.parametrize(
    "typed",
    [
        "1m8gdm9axkp042788",
        " 1M8 GDM9AX KP042788 ",
        "1M8-GDM9AX-KP042788",
        "*1M8GDM9AXKP042788*",
        "１M8GDM9AXKP042788",
    ],
)
def test_it_is_read_however_it_is_set(typed):
    assert read_identification(typed, 2026).number == "1M8GDM9AXKP042788"


def test_a_mismatch_says_something_only_where_the_rule_holds():
    """North America: look again, with the likely slips. Elsewhere it proves nothing, and warns of nothing."""
    american = told("1M8GDM9AXKP042787", 2026)
    assert "Read the number off the frame again" in american.warnings[0]
    european = told("ZM8GDM9AXKP042787", 2026)
    assert european.warnings == ()
    assert "proves nothing outside North America" in dict(european.facts)["Check digit"]


def test_what_was_probably_meant_is_told():
    with pytest.raises(DecodeError) as error:
        read_identification("1M8GDM9AXKPO42788", 2026)
    assert error.value.expected == "probably meant: 1M8GDM9AXKP042788"
    with pytest.raises(DecodeError) as error:
        read_identification("1М8GDM9AXKP042788", 2026)  # Cyrillic М
    assert "letter of another alphabet" in error.value.problem
    assert "1M8GDM9AXKP042788" in error.value.expected
