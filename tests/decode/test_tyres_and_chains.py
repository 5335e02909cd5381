"""Tyres, chains and batteries as they are marked."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.decode import (
    DecodeError,
    age_words,
    age_years,
    elongation_percent,
    length_at,
    pressure_at,
    read_battery,
    read_chain,
    read_date_code,
    read_marking,
    tread_limit,
    tread_words,
    wear_words,
)
from witnessmark.decode.tyre_dates import made_on

TODAY = date(2026, 11, 25)

# marking: system, width, ratio, construction, rim, load, speed, over
MARKINGS = {
    "120/70 ZR 17 M/C (58W) TL": ("metric", 120, 70, "radial", 17, 58, "W", True),
    "180/55ZR17M/C(73W)": ("metric", 180, 55, "radial", 17, 73, "W", True),
    "150/70 R 17 69V": ("metric", 150, 70, "radial", 17, 69, "V", False),
    "90/90-21 54S M+S": ("metric", 90, 90, "bias (diagonal)", 21, 54, "S", False),
    "130/90 B 16 M/C 67H REAR": ("metric", 130, 90, "bias belted", 16, 67, "H", False),
    "3.25-19 54H": ("inch", 82.55, None, "bias (diagonal)", 19, 54, "H", False),
    "4.25/85-18 64H": ("inch", 107.95, 85, "bias (diagonal)", 18, 64, "H", False),
    "2 1/4-17 33J": ("inch", 57.15, None, "bias (diagonal)", 17, 33, "J", False),
    "3.50-10 REINF 59J": ("inch", 88.9, None, "bias (diagonal)", 10, 59, "J", False),
    "MT90B16 71H": ("alphanumeric", 130, 90, "bias belted", 16, 71, "H", False),
    "2 1/4-16 38A8": ("inch", 57.15, None, "bias (diagonal)", 16, 38, "A8", False),
    "2.25-17 33A": ("inch", 57.15, None, "bias (diagonal)", 17, 33, "A", False),
    "E4 75R-000123 120/70 R 17 58W": ("metric", 120, 70, "radial", 17, 58, "W", False),
    "120/70 R 17 (E4) 75R 0001234 58W": ("metric", 120, 70, "radial", 17, 58, "W", False),
    "75R-000123 120/70 R 17 58W": ("metric", 120, 70, "radial", 17, 58, "W", False),
    "3.50-10 4PR 51J": ("inch", 88.9, None, "bias (diagonal)", 10, 51, "J", False),
    "6 P.R. 3.50-10 51J": ("inch", 88.9, None, "bias (diagonal)", 10, 51, "J", False),
    "MU85-16 77H": ("alphanumeric", 140, 85, "bias (diagonal)", 16, 77, "H", False),
}


@pytest.mark.parametrize("marking", MARKINGS)
def test_a_marking_is_read_whole(marking):
    read = read_marking(marking, TODAY)
    assert not read.unread
    size, rating = read.size, read.rating
    assert (
        size.system, pytest.approx(size.width_mm), size.ratio, size.construction, size.rim_in,
        rating.load, rating.speed, rating.over,
    ) == MARKINGS[marking]  # fmt: skip


def test_marks_that_look_like_others_are_told_by_name():
    read = read_marking("TL 4PR E11 75R-0012345 120/70-12 51L DOT 1AB C2D3 2319", TODAY)
    assert not read.unread
    assert [mark for mark, _ in read.words] == ["TL", "E11 75R-0012345", "4PR", "1AB C2D3"]
    assert read.made.words == "week 23 of 2019"


@pytest.mark.parametrize(("symbol", "kmh"), [(f"A{n}", 5 * n) for n in range(1, 9)])
def test_a_moped_has_its_speed_symbols(symbol, kmh):
    """A1 to A8 are 5 to 40 km/h (ISO 4000-1, from memory); A alone lacks its digit, and is told so."""
    assert read_marking(f"2.25-17 33{symbol}", TODAY).words_of_speed == f"{symbol} ({kmh} km/h)"
    assert "look for its digit" in read_marking("2.25-17 33A", TODAY).words_of_speed


@pytest.mark.parametrize(
    ("marking", "made"),
    [
        ("DOT 1234 5678 2319", "week 23 of 2019"),
        ("DOT E4 AB 2319 58W 120/70-17", "week 23 of 2019"),
        ("DOT 2319 MT90B16 71H", "week 23 of 2019"),
        ("DOT 2319 3.25-19", "week 23 of 2019"),
        ("DOT AB12 2319 CD34", None),
        ("DOT 2319 CD34", None),
    ],
)
def test_the_date_is_the_last_of_the_number_or_asked_about(marking, made):
    """49 CFR 574.5: the last four digits."""
    read = read_marking(marking, TODAY)
    assert (read.made and read.made.words) == made
    assert [why for _, why in read.unread if "last four digits" in why] == (
        [] if made else [read.unread[0][1]]
    )


@given(st.text(st.sampled_from("0123456789ABEPRWZ/.-() DOTM→"), max_size=40))
def test_whatever_is_stored_can_be_shown_again(text):
    """Every part that was read has its words."""
    try:
        read = read_marking(text, TODAY)
    except DecodeError:
        return
    assert not read.rating or read.rating.words
    assert read.words_of_speed or not (read.rating or (read.size and read.size.speed))
    assert all(mark and means for mark, means in (*read.words, *read.unread))
    assert not read.made or age_words(read.made, TODAY)


def test_the_nominal_diameter_is_rim_and_twice_the_height():
    """Plain arithmetic: 17 × 25.4 + 2 × 120 × 0.7 = 599.8 mm."""
    assert read_marking("120/70R17", TODAY).size.diameter_mm == pytest.approx(599.8)


def test_the_date_is_found_behind_dot_and_what_is_not_understood_is_shown():
    for text in ("DOT AB12 CD34 3119 QUANDLE", "QUANDLE DOT AB12CD343119", "DOT 3119 QUANDLE"):
        read = read_marking(f"110/80R19 59V FRONT → {text}", TODAY)
        assert read.directed
        assert read.made.words == "week 31 of 2019"
        assert read.unread == (("QUANDLE", "not understood"),)
    partial = read_marking("110/80R19 DOT AB12 CDEF", TODAY)
    assert partial.made is None
    assert "other side" in partial.unread[0][1]


@given(st.dates(date(2000, 1, 10), TODAY))
def test_age_grows_from_the_week_it_was_made(on):
    """Independent count of weeks: within one week of the age in days."""
    week = (on - made_on(1, on.year)).days // 7 + 1
    if 1 <= week <= 52 and made_on(week, on.year) <= on:
        made = read_date_code(f"{week:02}{on.year % 100:02}", TODAY)
        assert abs(age_years(made, TODAY) - (TODAY - on).days / 365.2425) <= 7 / 365


def test_three_digits_leave_the_decade_open_unless_a_triangle_stands_there():
    assert read_date_code("317", TODAY).years == (1997, 1987, 1977)
    assert read_date_code("317◁", TODAY).years == (1997,)
    assert "at least 29 years" in age_words(read_date_code("317", TODAY), TODAY)


@pytest.mark.parametrize(
    ("depth", "said"),
    [
        (1.8, "1.8 mm measured with ±0.1 mm: within limits"),
        (1.7, "at the limit of 1.6 mm"),
        (1.6, "at the limit of 1.6 mm"),
        (1.4, "below the limit of 1.6 mm"),
    ],
)
def test_a_depth_is_told_with_the_gauge_and_the_law(depth, said):
    told = tread_words(depth, tread_limit("germany"), 0.1)
    assert said in told
    assert ("StVZO section 36" in told) == ("limit of" in told)


def test_a_country_we_have_no_law_of_is_said_so():
    with pytest.raises(DecodeError, match="ask the law of the place"):
        tread_limit("atlantis")


@given(
    st.floats(0, 800), st.floats(-40, 100), st.floats(-40, 100),
)  # fmt: skip
def test_a_pressure_comes_back_when_the_tyre_does(gauge, low, high):
    there = pressure_at(gauge, low, high)
    if there >= 0:
        assert pressure_at(there, high, low) == pytest.approx(gauge, abs=1e-9)
    assert (there > gauge) == (high > low) or abs(high - low) < 1e-9


@given(st.floats(-2, 4.9), st.integers(1, 60), st.sampled_from([12.7, 15.875, 19.05]))
def test_growth_and_length_are_each_others_reverse(percent, links, pitch):
    assert elongation_percent(length_at(percent, links, pitch), links, pitch) == pytest.approx(
        percent, abs=1e-9
    )


def test_growth_that_cannot_be_is_asked_about_not_judged():
    """A link too many, and a slack chain: neither says anything of the life left."""
    assert "count the links again" in wear_words(5.83, 2.0)
    assert "nothing of the life left" in wear_words(-0.13, 2.0)
    assert wear_words(2.02, 2.0, 0.1).endswith("at the limit of 2 %")
    assert wear_words(2.2, 2.0, 0.1).endswith("above the limit of 2 %")


@pytest.mark.parametrize(
    ("marking", "name", "strands", "links", "rest"),
    [
        ("520", "520", 1, None, ""),
        ("525 x 118", "525", 1, 118, ""),
        ("530-114", "530", 1, 114, ""),
        ("428H 130L", "428", 1, 130, "H"),
        ("08B-2", "08B", 2, None, ""),
        ("ISO 606 10A-1", "10A", 1, None, ""),
        ("ANSI 50", "10A", 1, None, ""),
        ("50", "10A", 1, None, ""),
        ("ABC520XY3", "520", 1, None, "ABC XY3"),
    ],
)
def test_a_chain_is_known_by_its_number(marking, name, strands, links, rest):
    read = read_chain(marking)
    assert (read.chain.name, read.strands, read.links, read.rest) == (name, strands, links, rest)


def test_batteries_are_read_where_an_open_standard_has_their_code():
    """EN 50342-1 type number and IEC 60086 cells; a maker's own designation is refused, not guessed."""
    assert dict(read_battery("560 049 054").facts)["Cold start current"] == "540 A"
    assert dict(read_battery("CR2032").facts)["Height"] == "3.2 mm"
    with pytest.raises(DecodeError, match="no open standard explains it"):
        read_battery("QZ14-BS")
