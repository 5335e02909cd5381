"""Run-out, spokes and wheels in line: against closed forms, a library's least squares, and as people type them."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.calculators import CALCULATORS, CalculationErrors, evaluate
from witnessmark.calculators.alignment import Track, align
from witnessmark.calculators.wheels import run_out, spokes_of


def said(name, **typed):
    return evaluate(CALCULATORS[name], typed)


def refused(name, **typed):
    with pytest.raises(CalculationErrors) as told:
        said(name, **typed)
    (error,) = told.value.errors
    return error


def lines(values):
    return "\n".join(f"{value:.4f}" for value in values)


# ---------------------------------------------------------------- run-out


@given(st.integers(6, 36), st.floats(0.05, 3), st.floats(0, 2 * math.pi), st.floats(-1, 1))
def test_a_true_circle_off_its_middle_goes_once_round_by_its_offset(count, off, towards, zero):
    """Closed form: r = zero + e·cos(turn − towards); the gauge shows up to 2·e (textbooks: TIR = 2 × offset)."""
    read = [zero + off * math.cos(2 * math.pi * k / count - towards) for k in range(count)]
    found = run_out(read)
    assert found.offset == pytest.approx(off)
    assert found.share == pytest.approx(1)
    assert found.place is None
    assert found.total <= 2 * off + 1e-9
    assert math.cos(math.radians(found.once_round_high) - towards) == pytest.approx(1)


@given(st.lists(st.floats(-2, 2), min_size=6, max_size=24))
def test_what_goes_once_round_is_the_least_squares_circle_of_a_library(read):
    """numpy.linalg.lstsq; and what leaving a point out takes away is found by leaving it out."""
    count = len(read)
    turn = 2 * np.pi * np.arange(count) / count
    model = np.column_stack([np.ones(count), np.cos(turn), np.sin(turn)])
    fitted, *_ = np.linalg.lstsq(model, np.array(read), rcond=None)
    found = run_out(read)
    left = read - model @ fitted
    if found.place is None:
        assert found.offset == pytest.approx(np.hypot(fitted[1], fitted[2]), abs=1e-9)
    else:
        kept = np.arange(count) != found.place
        again, *_ = np.linalg.lstsq(model[kept], np.array(read)[kept], rcond=None)
        squares = float(np.sum((np.array(read)[kept] - model[kept] @ again) ** 2))
        assert squares <= 0.4 * float(np.sum(left**2)) + 1e-12
        alone = read[found.place] - float(model[found.place] @ again)
        assert found.alone == pytest.approx(alone, abs=1e-7)
        assert found.offset == pytest.approx(np.hypot(again[1], again[2]), abs=1e-7)


@given(st.integers(8, 36), st.floats(0.1, 2), st.data())
def test_one_dent_in_a_true_rim_is_found_where_it_is_and_as_deep(count, deep, data):
    place = data.draw(st.integers(0, count - 1))
    read = [0.0] * count
    read[place] = -deep
    found = run_out(read)
    assert found.place == place
    assert found.alone == pytest.approx(-deep)


def test_each_shape_is_told_in_words():
    turn = [2 * math.pi * k / 12 for k in range(12)]
    once = said("wheel-runout", points=lines(0.5 * math.cos(t) for t in turn))
    assert once.said == "It runs out by 1 mm: it stands aslant, out towards point 1."
    up = said(
        "wheel-runout", points=lines(0.5 * math.cos(t) for t in turn), where="rim, up and down"
    )
    assert "its middle stands off by 0.5 mm" in up.said
    oval = said("wheel-runout", points=lines(0.5 * math.cos(2 * t) for t in turn))
    assert "two opposite places" in oval.said
    dent = said("wheel-runout", points="0 0 0 -0.8 0 0 0 0")
    assert (
        dent.said == "It runs out by 0.8 mm: one place, point 4, stands in by about 0.8 mm alone."
    )
    none = said("wheel-runout", points="0.1 0.1 0.1 0.1 0.1 0.1")
    assert none.said == "It runs out by 0 mm: no more than the gauge tells apart."


def test_it_is_judged_by_the_limit_put_in_and_by_none_of_our_own():
    points = "0 0.1 0.3 0.4 0.3 0.1"
    assert "within limits" in said("wheel-runout", points=points, limit="0.5 mm").said
    assert (
        "above the limit of 0.3 mm (as put in)"
        in said("wheel-runout", points=points, limit="0.3 mm").said
    )
    assert "at the limit" in said("wheel-runout", points=points, limit="0.4 mm").said
    assert (
        "limit is in the machine's own manual" in said("wheel-runout", points=points).warnings[-1]
    )


@pytest.mark.parametrize(
    ("points", "problem"),
    [
        ("0 0.1 0.2", "3 points"),
        ("0 0.1 0.2 0.3 0.2 4O", "“O” is no unit"),
        ("0 0.1 0.2 0.3 0.2 40", "40 mm between"),
        ("0 .1 x .3 .2 .1", "not a length"),
        ("100 110 120 100 100 90", "may be one number or several"),
    ],
)
def test_readings_that_cannot_be_are_asked_about(points, problem):
    error = refused("wheel-runout", points=points)
    assert error.place == "points"
    assert problem in error.problem


def test_readings_are_taken_as_they_are_typed():
    """One a line, or with blanks or ; between; commas for points; units; signs; thou."""
    usual = said("wheel-runout", points="0\n0.1\n-0.2\n0.3\n0.2\n0.1").said
    for typed in (
        "0 0,1 −0,2 0,3 0,2 0,1",
        "0, 0.1, -0.2, 0.3, 0.2, 0.1",
        "0; .1; -.2; +.3; .2; .1",
        "0 mm 0.1 mm -0.2 mm 0.3 mm 0.2 mm 0.1 mm",
    ):
        assert said("wheel-runout", points=typed).said == usual
    thou = evaluate(
        CALCULATORS["wheel-runout"], {"points": "0 4thou 8thou 12thou 8thou 4thou"}, "us"
    )
    assert thou.said.startswith("It runs out by 0.012 in")


# ---------------------------------------------------------------- spokes


def test_spokes_outside_are_named_by_side_and_number_with_their_share():
    found = said("spoke-tension", left="20 20 20 20 20 20 20 10", right="30 30 30 30", allowed="20")
    assert found.said.startswith("left 8 (−47%) is more than 20 % off the mean of their side.")
    assert dict(found.lines)["right, 4 spokes"] == "mean 30, spread +0% to +0%"


def test_a_quarter_that_pulls_is_named_and_to_which_side():
    """Its spokes 20 % over their fellows on one side alone: it pulls in, and to that side."""
    tight = "24 24 20 20 20 20 20 20"
    both = said("spoke-tension", left=tight, right=tight, allowed="20")
    assert both.said.endswith("From the valve on, the first quarter pulls the rim in.")
    one = said("spoke-tension", left=tight, right="20 20 20 20 20 20 20 20", allowed="20")
    assert "pulls the rim to the left" in one.said
    even = said("spoke-tension", left="20 21 20 21 20 21 20 21", right="30 31 30 31", allowed="20")
    assert even.said == (
        "All within ± 20 % of the mean of their side. No quarter pulls more than the others."
    )


def test_tension_goes_by_the_square_of_a_tone():
    """Mersenne's law: T = 4·L²·m·f²; a tone 10 % higher is a tension 21 % higher."""
    typed = {"left": "300 300 300 330".replace(" ", "\n"), "allowed": "20"}
    one = said("spoke-tension", **typed, read="tone in Hz")
    squares = [one.off for one in spokes_of("left", [300**2] * 3 + [330**2])]
    assert squares[3] == pytest.approx(1.1**2 / ((3 + 1.21) / 4) - 1)
    assert "(+15%)" not in said("spoke-tension", **typed).said
    assert "mean 308" in dict(one.lines)["left, 4 spokes"]


def test_three_digits_each_are_several_tones():
    assert (
        "mean 401"
        in dict(said("spoke-tension", left="400 410 395 400", allowed="10").lines)["left, 4 spokes"]
    )


@given(st.lists(st.floats(5, 50), min_size=4, max_size=20))
def test_what_the_spokes_of_a_side_are_off_their_mean_adds_up_to_nothing(read):
    assert sum(one.off for one in spokes_of("left", read)) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("left", "problem"),
    [
        ("20 21 20", "3 spokes"),
        ("20 21 20 0", "spoke 4 reads 0"),
        ("20 21 20 210", "may be one number or several"),
        ("20\n21\n20\n210", "spoke 4 reads 210, far from the others"),
        ("20 21 2O 21", "“O” follows the number"),
    ],
)
def test_spokes_that_cannot_be_are_asked_about(left, problem):
    error = refused("spoke-tension", left=left, allowed="20")
    assert error.place == "left"
    assert problem in error.problem


# ---------------------------------------------------------------- wheels in line

USUAL = {
    "rear_front": "20 mm", "rear_rear": "20 mm", "front_front": "40 mm", "front_rear": "40 mm", "rear_apart": "430 mm",
    "front_apart": "460 mm", "rear_width": "130 mm", "front_width": "90 mm", "wheelbase": "1450 mm",
}  # fmt: skip


def test_wheels_of_unlike_width_in_one_plane_are_in_line():
    """The narrower one stands half the difference further from the line: 20 + (130 − 90)/2 = 40 mm."""
    assert (
        said("wheel-alignment", **USUAL).said == "The front wheel stands in the rear wheel's plane."
    )


@given(
    st.floats(-5, 5),
    st.floats(-60, 60),
    st.floats(-5, 5),
    st.floats(1000, 2000),
    st.floats(300, 600),
)
def test_wheels_set_up_by_coordinates_are_found_where_they_stand(lean, offset, steer, base, apart):
    """Both wheels laid out by rotation matrices; the line is the y axis. The offset is taken square to the line."""
    rear_angle, front_angle = math.radians(lean), math.radians(lean + steer)

    def measured(x, angle, width):
        """The line's distance to a wheel's side, where it is ``apart`` along the line."""
        half, slope = width / 2, math.tan(angle)
        return Track(x + slope * apart / 2 - half, x - slope * apart / 2 - half, apart, width)

    rear = measured(100, rear_angle, 130)
    front = measured(100 + math.tan(rear_angle) * base + offset, front_angle, 90)
    found = align(front, rear, base)
    assert found.offset == pytest.approx(offset, abs=1e-6)
    assert found.angle_deg == pytest.approx(steer, abs=1e-6)


def test_a_side_says_which_way_and_what_is_read_to_says_how_sure():
    """Read to 0.5 mm over 430 mm, carried 1450 mm: 0.5·(2 + 2·1450/430) = 4.4 mm in the worst case."""
    left = said("wheel-alignment", **USUAL | {"front_front": "45 mm", "front_rear": "45 mm"})
    assert left.said == "The front wheel stands 5 mm to the right of the rear wheel's plane."
    right = said(
        "wheel-alignment", **USUAL | {"front_front": "45 mm", "front_rear": "45 mm"}, side="right"
    )
    assert right.said == "The front wheel stands 5 mm to the left of the rear wheel's plane."
    near = said(
        "wheel-alignment",
        **USUAL | {"front_front": "43 mm", "front_rear": "43 mm"},
        resolution="0.5 mm",
    )
    assert "no more than the measures tell apart" in near.said
    assert dict(near.lines)["known to"] == "± 4.4 mm"
    turned = said("wheel-alignment", **USUAL | {"front_front": "44 mm"})
    assert dict(turned.lines)["front wheel turned against the rear one"] == "0.5° to the right"
    limit = said(
        "wheel-alignment", **USUAL | {"front_front": "45 mm", "front_rear": "45 mm"}, limit="4 mm"
    )
    assert "above the limit of 4 mm (as put in)" in limit.said


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"front_front": "400 mm"}, "front_front"),
        ({"rear_rear": "200 mm"}, "rear_front"),
        ({"wheelbase": "145 mm"}, "wheelbase"),
        ({"rear_apart": "0 mm"}, "rear_apart"),
    ],
)
def test_measures_that_cannot_be_are_asked_about(change, place):
    assert refused("wheel-alignment", **USUAL | change).place == place
