"""A reading against its limits, said in words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.facts import Limit, judge

MANUAL = "manual, p. 12"
TOO_COARSE = "; from limit to limit it is hardly more: a finer instrument tells"
WRONG_SIDE = ", on its wrong side by no more than the instrument tells apart"


@pytest.mark.parametrize(
    ("value", "resolution", "low", "high", "words"),
    [
        (1.6, 0.1, 1.6, None, "1.6 mm measured with ±0.1 mm: at the limit of 1.6 mm (manual, p. 12)"),
        (1.7, 0.1, 1.6, None, "1.7 mm measured with ±0.1 mm: at the limit of 1.6 mm (manual, p. 12)"),
        (1.8, 0.1, 1.6, None, "1.8 mm measured with ±0.1 mm: within limits"),
        (1.5, 0.1, 1.6, None, f"1.5 mm measured with ±0.1 mm: at the limit of 1.6 mm (manual, p. 12){WRONG_SIDE}"),
        (1.4, 0.1, 1.6, None, "1.4 mm measured with ±0.1 mm: below the limit of 1.6 mm (manual, p. 12)"),
        (1.6, 0, 1.6, None, "1.6 mm: at the limit of 1.6 mm (manual, p. 12)"),
        (2.3, 0, 3.5, None, "2.3 mm: below the limit of 3.5 mm (manual, p. 12)"),
        (0.12, 0.01, 0.08, 0.15, "0.12 mm measured with ±0.01 mm: within limits"),
        (0.15, 0.01, 0.08, 0.15, "0.15 mm measured with ±0.01 mm: at the limit of 0.15 mm (manual, p. 12)"),
        (0.17, 0.01, 0.08, 0.15, "0.17 mm measured with ±0.01 mm: above the limit of 0.15 mm (manual, p. 12)"),
        (2.6, 1, 2, 3, f"2.6 mm measured with ±1 mm: at the limit of 3 mm (manual, p. 12){TOO_COARSE}"),
        (2.0, 0.1, None, None, "2 mm measured with ±0.1 mm: no limit is known"),
    ],
)  # fmt: skip
def test_a_reading_is_judged_in_words_with_limit_and_source(value, resolution, low, high, words):
    ends = {"low": low, "high": high}
    limits = {side: Limit(end, MANUAL) for side, end in ends.items() if end is not None}
    assert judge(value, "length", **limits, resolution=resolution, unit="mm").words == words


def test_a_verdict_is_said_in_the_unit_of_the_reading():
    """A temperature's resolution is a difference: ±2 °F, not ±34 °F."""
    told = judge(90, "temperature", high=Limit(105), resolution=10 / 9, unit="°F").words
    assert told == "194 °F measured with ±2 °F: within limits"


LENGTHS = st.floats(0, 100)


@given(LENGTHS, LENGTHS, st.floats(0, 5))
def test_within_and_beyond_are_only_said_where_the_instrument_proves_them(value, limit, resolution):
    """Moved by the resolution to the worse, a value within limits still is; to the better, one below still is."""
    told = judge(value, "length", low=Limit(limit), resolution=resolution)
    if told.stand == "within limits":
        assert value - resolution >= limit
        assert not told.beyond
    elif told.stand == "below the limit":
        assert value + resolution < limit
        assert told.beyond
    else:
        assert told.stand == "at the limit"
        assert abs(value - limit) <= resolution + 1e-6


@given(LENGTHS, LENGTHS, LENGTHS)
def test_a_reading_between_its_limits_is_never_called_beyond(value, one, other):
    low, high = sorted((one, other))
    told = judge(value, "length", low=Limit(low), high=Limit(high))
    assert told.beyond == (value < low or value > high) or told.stand == "at the limit"


def test_a_value_ten_times_its_least_is_looked_at_again_where_no_most_stops_it():
    slipped = judge(124, "voltage", low=Limit(12.5), unit="V")
    assert slipped.stand == "within limits"
    assert "look at the decimal point" in slipped.words
    assert "decimal" not in judge(12.6, "voltage", low=Limit(12.5), unit="V").words
    assert "decimal" not in judge(124, "voltage", low=Limit(12.5), high=Limit(200)).words
