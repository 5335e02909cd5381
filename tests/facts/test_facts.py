"""What an odometer can have read, and how much a machine is ridden."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.facts import (
    MOST_KM_A_DAY,
    FactError,
    LastDone,
    Odometer,
    plausible_odometer,
    riding,
)

MARCH = date(2026, 3, 1)


def reading(km, day=0):
    return Odometer(MARCH + timedelta(days=day), km)


@pytest.mark.parametrize(
    ("previous", "new", "problem"),
    [
        ([(12000, 0)], (11999, 5), "11\u202f999 km is less than 12\u202f000 km read on 1 Mar 2026"),
        ([(12000, 0)], (11999, 0), "11\u202f999 km is less than 12\u202f000 km read on 1 Mar 2026"),
        (
            [(12000, 0)],
            (14001, 2),
            "from 12\u202f000 km on 1 Mar 2026 to 14\u202f001 km on 3 Mar 2026 is 2001 km in 2 days",
        ),
        (
            [(12000, 0)],
            (13001, 0),
            "from 12\u202f000 km on 1 Mar 2026 to 13\u202f001 km on 1 Mar 2026 is 1001 km in one day",
        ),
        (
            [(12000, 9)],
            (12001, 0),
            "12\u202f001 km on 1 Mar 2026 is more than 12\u202f000 km read later, on 10 Mar 2026",
        ),
    ],
)
def test_a_reading_that_cannot_be_is_told_with_what_speaks_against_it(previous, new, problem):
    fault = plausible_odometer([reading(*each) for each in previous], reading(*new))
    assert (fault.place, fault.problem) == ("odometer", problem)
    assert "read the odometer again" in fault.expected


@pytest.mark.parametrize("new", [(12000, 0), (13000, 0), (14000, 2), (12000, 900)])
def test_a_reading_that_can_be_passes(new):
    assert plausible_odometer([reading(11000, -100), reading(12000)], reading(*new)) is None


def test_a_reading_that_would_fit_in_miles_says_so():
    fault = plausible_odometer([reading(19000)], reading(12000, 30))
    assert fault.expected.endswith("if it counts miles, 12\u202f000 mi would be 19\u202f312 km")


DAYS_AND_KM = st.lists(st.tuples(st.integers(0, 900), st.floats(0, 1e5)), min_size=2, max_size=9)


@given(DAYS_AND_KM)
def test_a_history_in_which_each_reading_passed_is_monotone_and_rideable(readings):
    """Whatever order they come in: accepted readings never go down in time nor jump."""
    accepted = []
    for day, km in readings:
        if plausible_odometer(accepted, reading(km, day)) is None:
            accepted.append(reading(km, day))
    accepted.sort()
    for earlier, later in pairwise(accepted):
        assert (
            earlier.km
            <= later.km
            <= earlier.km + MOST_KM_A_DAY * max(1, (later.on - earlier.on).days)
        )


@pytest.mark.parametrize("km", [-1, float("nan"), float("inf"), 3e6])
def test_a_distance_no_machine_runs_is_refused(km):
    with pytest.raises(FactError):
        reading(km)
    with pytest.raises(FactError):
        LastDone("oil", "record", km=km)


def test_what_was_never_done_has_no_day():
    with pytest.raises(FactError, match="never known to be done"):
        LastDone("oil", "never", on=MARCH)


@pytest.mark.parametrize(
    ("history", "km_per_day"),
    [
        ([], None),
        ([(1000, 0)], None),
        ([(1000, 0), (1290, 29)], None),
        ([(1000, 0), (1300, 30)], 10.0),
        ([(0, 0), (7300, 730)], 10.0),
        (
            [(0, -1000), (2000, 0), (5650, 365), (5650, 365)],
            10.0,
        ),  # the last whole year, not all of it
        ([(90000, -400), (1000, 0), (1300, 30)], 10.0),  # an exchanged instrument ends the stretch
    ],
)
def test_riding_comes_from_the_last_whole_year_where_there_is_one(history, km_per_day):
    assert riding([reading(*each) for each in history]).km_per_day == km_per_day


def test_riding_names_the_readings_it_comes_from():
    found = riding([reading(1000), reading(1300, 30)])
    assert (
        found.why
        == "300 km in 30 days (1 Mar 2026 to 31 Mar 2026, less than a year: the season counts)"
    )
    assert (
        riding([reading(3650, 365)], new_on=MARCH).why
        == "3650 km in 365 days (1 Mar 2026 to 1 Mar 2027)"
    )
