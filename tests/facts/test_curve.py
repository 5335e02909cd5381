"""Values between the points of a curve, against numpy's own."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.facts import on_curve

places = st.floats(-1e3, 1e3).map(lambda x: round(x, 3))
curves = st.lists(st.tuples(places, places), min_size=1, max_size=8, unique_by=lambda p: p[0]).map(
    sorted
)


@given(curves, places)
def test_a_value_on_a_curve_is_the_library_s(curve, at):
    """Between the points and past both ends; one point is a level line."""
    xs, ys = zip(*curve, strict=True)
    assert on_curve(curve, at) == pytest.approx(np.interp(at, xs, ys), rel=1e-9, abs=1e-9)


@given(curves)
def test_a_curve_goes_through_its_points(curve):
    for x, y in curve:
        assert on_curve(curve, x) == pytest.approx(y, rel=1e-12, abs=1e-9)
