"""Settings, corrections, suiting and standing of torque tools: properties, and cases worked by hand."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from math import isclose

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from witnessmark.units import UNITS, convert, read
from witnessmark.wrenches import (
    Adapter,
    Check,
    CrowFoot,
    Dropped,
    Lever,
    Loan,
    Point,
    TorqueTool,
    WrenchError,
    delivered,
    doubted,
    lever_torque,
    mass_for,
    permitted,
    ranked,
    set_on,
    setting,
    suits,
    tool_status,
    true_torque,
)

DAY = date(2026, 3, 2)
GOOD = (Check(DAY - timedelta(days=30)),)
SMALL = TorqueTool("small", 25.0, 5.0, step=0.5, history=GOOD)
LARGE = TorqueTool("large", 100.0, 20.0, step=1.0, history=GOOD)

torques = st.floats(1.0, 500.0)
arms = st.floats(150.0, 900.0)
reaches = st.floats(0.0, 120.0)
angles = st.floats(0.0, 180.0)


# ---------------------------------------------------------------- crow-foot and extension


@given(torques, arms, reaches)
def test_a_crow_foot_square_to_the_handle_changes_nothing(torque, arm, reach):
    assert set_on(torque, Adapter(reach, 90.0, arm)) == torque


@given(torques, arms, reaches, angles, st.floats(0.1, 10.0))
def test_the_setting_grows_with_the_figure_and_knows_no_unit(torque, arm, reach, angle, k):
    """Twice the torque is twice the setting; inches in place of millimetres change nothing."""
    base = set_on(torque, Adapter(reach, angle, arm))
    assert isclose(set_on(torque * k, Adapter(reach, angle, arm)), base * k, rel_tol=1e-12)
    assert isclose(set_on(torque, Adapter(reach * k, angle, arm * k)), base, rel_tol=1e-12)
    assert isclose(delivered(base, Adapter(reach, angle, arm)), torque, rel_tol=1e-12)


@given(torques, arms, reaches, angles)
def test_ahead_wants_less_and_back_wants_more_and_either_side_is_alike(torque, arm, reach, angle):
    set_to = set_on(torque, Adapter(reach, angle, arm))
    assert (set_to <= torque) == (angle <= 90) or isclose(set_to, torque, rel_tol=1e-12)
    assert set_to == set_on(torque, Adapter(reach, -angle, arm))


def test_a_crow_foot_that_reaches_back_to_the_hand_cannot_be_set():
    with pytest.raises(WrenchError) as told:
        Adapter(390.0, 180.0, 400.0)
    assert told.value.place == "reach"


# ---------------------------------------------------------------- the scale


@given(
    torques,
    st.sampled_from(UNITS["torque"]),
    st.sampled_from([0.1, 0.2, 0.25, 0.5, 1.0, 2.0]),
)
def test_a_setting_lies_on_a_division_and_at_most_half_a_step_off(torque, unit, step):
    made = setting(TorqueTool("any", 1000.0, 0.1, scale_unit=unit, step=step), torque)
    divisions = convert(made.set_nm, "torque", unit) / step
    assert isclose(divisions, round(divisions), abs_tol=1e-6)
    off = abs(convert(made.set_nm, "torque", unit) - convert(torque, "torque", unit))
    assert off <= step / 2 + 1e-9 or round(divisions) == 1
    assert read(made.text.replace("\u202f", ""), "torque").value == pytest.approx(made.set_nm)


def test_sixty_newton_metres_on_a_scale_in_foot_pounds():
    """44.25 lbf·ft: a scale of whole ones is set to 44, 0.6 % low."""
    tool = TorqueTool("us", 110.0, 20.0, scale_unit="lbf·ft", step=1.0, history=GOOD)
    fit = suits(tool, 60.0, DAY)
    assert (fit.setting.text, fit.suits) == ("44 lbf·ft", True)
    assert fit.setting.rounding == pytest.approx(-0.00573, abs=1e-4)
    assert fit.error == pytest.approx(0.0457, abs=1e-4)


# ---------------------------------------------------------------- which wrench


def test_a_pair_sets_the_figures_of_a_service_and_one_alone_does_not():
    """Common practice, no source: 20, 60, 12, 28, 11 N·m with a 5–25 and a 20–100 N·m wrench, never with one."""
    figures = (20.0, 60.0, 12.0, 28.0, 11.0)
    assert all(ranked([SMALL, LARGE], figure, DAY)[0].suits for figure in figures)
    for alone in (SMALL, LARGE):
        assert not all(suits(alone, figure, DAY).suits for figure in figures)


def test_a_tolerance_narrower_than_the_wrench_is_said():
    """12 ± 0.3 N·m is 2.5 %; a wrench of 4 % may give 11.5."""
    fit = suits(SMALL, 12.0, DAY, low_nm=11.7, high_nm=12.3)
    assert fit.usable
    assert not fit.suits
    assert "at least 11.7 N·m" in fit.words
    assert suits(SMALL, 12.0, DAY, low_nm=11.0, high_nm=13.0).suits


def test_a_coarse_scale_is_refused_for_its_rounding_alone():
    """22.5 N·m on divisions of 5 is set to 25: 11 % off, whatever the wrench may deviate."""
    coarse = TorqueTool("coarse", 100.0, 20.0, step=5.0, history=GOOD)
    assert "rounds by 11.1 %" in suits(coarse, 22.5, DAY).words
    assert suits(coarse, 25.0, DAY).suits


def test_a_crow_foot_can_bring_a_figure_into_range_or_out_of_it():
    ahead = CrowFoot(100.0)
    measured = replace(LARGE, arm_mm=300.0)
    assert not suits(measured, 120.0, DAY).usable
    fit = suits(measured, 120.0, DAY, crow_foot=ahead)
    assert (fit.suits, fit.setting.text) == (True, "90 N·m")
    assert not suits(measured, 25.0, DAY, crow_foot=ahead).usable
    assert "was not measured" in suits(LARGE, 60.0, DAY, crow_foot=ahead).words
    assert not suits(measured, 60.0, DAY, crow_foot=CrowFoot(290.0, 180.0)).usable


def test_the_best_comes_first_and_each_other_says_why_not():
    never = TorqueTool("never", 80.0, 10.0, step=1.0)
    out = TorqueTool("old", 60.0, 10.0, step=1.0, history=(Check(date(2024, 1, 1)),))
    order = ranked([out, SMALL, never, LARGE], 60.0, DAY)
    assert [fit.tool.name for fit in order] == ["large", "never", "old", "small"]
    assert order[1].words == "never: never calibrated"
    assert order[2].words == "old: out of calibration since 1 Jan 2025"
    assert order[3].words == "small: ends at 25 N·m, 60 N·m to be set"
    assert [fit.usable for fit in order] == [True, True, True, False]


def test_one_overdue_for_its_check_comes_after_every_calibrated_one_that_reaches_the_torque():
    """Though it would be the better tool; out of use or out of range comes behind both."""
    coarse = replace(LARGE, name="coarse", step=7.0)
    late = replace(coarse, loan=Loan(DAY - timedelta(days=3)), name="late")
    worn = replace(LARGE, name="worn", cycles=6_000)
    old = replace(LARGE, name="old", history=(Check(date(2024, 1, 1)),))
    order = ranked([old, worn, SMALL, late, coarse], 60.0, DAY, low_nm=59.0, high_nm=61.0)
    assert [fit.tool.name for fit in order] == ["coarse", "late", "old", "worn", "small"]
    assert not any(fit.suits for fit in order)


@given(st.floats(0.5, 200.0), st.floats(0.001, 0.2), st.floats(0.05, 5.0), st.floats(1, 40))
def test_whatever_a_suiting_wrench_does_within_its_limits_stays_within_the_figure(
    torque, share, step, low
):
    """Against the definition: every true torque behind the setting, at the ends of the permitted deviation."""
    tool = TorqueTool("x", 200.0, low, step=step, history=GOOD)
    ends = {"low_nm": torque * (1 - share), "high_nm": torque * (1 + share)}
    fit = suits(tool, torque, DAY, **ends)
    assume(fit.suits)
    for deviation in (-permitted(tool), 0.0, permitted(tool)):
        true = fit.setting.set_nm / (1 + deviation)
        assert ends["low_nm"] * (1 - 1e-6) <= true <= ends["high_nm"] * (1 + 1e-6)


# ---------------------------------------------------------------- how it stands


def test_a_dropped_wrench_is_out_of_use_until_a_check_finds_it_good():
    fell = Dropped(DAY)
    bad = Check(DAY, "lever", (Point(60, 55),))
    good = Check(DAY, "lever", (Point(60, 59.5),))
    tool = TorqueTool("x", 100.0, history=(*GOOD, fell))
    assert tool_status(tool, DAY - timedelta(days=1)).proves
    for history, stand in (
        ((fell,), "dropped"),
        ((fell, bad), "wrong"),
        ((fell, good), "calibrated"),
    ):
        now = tool_status(TorqueTool("x", 100.0, history=(*GOOD, *history)), DAY)
        assert now.stand == stand
        assert now.usable == (stand == "calibrated")


@pytest.mark.parametrize(
    ("points", "uncertainty", "stand"),
    [
        (((30, 30), (90, 90)), 0.008, "calibrated"),
        (((30, 30),), 0.008, "never"),  # one half of the range
        (((30, 30), (90, 90)), 0.02, "never"),  # a method off by half of what the wrench may be
        (((30, 30), (90, 90)), 0.0, "never"),  # a method of which nothing is told
    ],
)
def test_a_check_in_house_renews_if_it_covers_the_range_by_a_fine_method(
    points, uncertainty, stand
):
    check = Check(DAY, "reference", tuple(Point(*p) for p in points), uncertainty=uncertainty)
    assert tool_status(TorqueTool("x", 100.0, history=(check,)), DAY).stand == stand


def test_a_wrench_says_when_it_is_soon_due_and_when_its_owner_waits():
    soon = TorqueTool("x", 100.0, history=(Check(DAY - timedelta(days=340)),))
    assert tool_status(soon, DAY).soon
    worn = TorqueTool("x", 100.0, cycles=4600, history=GOOD)
    assert (tool_status(worn, DAY).soon, tool_status(worn, DAY).cycles_left) == (True, 400)
    lent = TorqueTool("x", 100.0, history=GOOD, loan=Loan(DAY - timedelta(days=1)))
    assert tool_status(lent, DAY).overdue
    assert tool_status(lent, DAY).said[-1] == "was due back to its owner on 1 Mar 2026"
    back = TorqueTool("x", 100.0, history=GOOD, loan=Loan(DAY, returned=DAY))
    assert (tool_status(back, DAY).usable, tool_status(back, DAY).quiet) == (False, True)


# ---------------------------------------------------------------- found wrong


def at(month: int, hour: int = 12) -> datetime:
    return datetime(2025, month, 5, hour, tzinfo=UTC)


def test_the_doubt_reaches_back_to_the_last_good_check_by_the_hour():
    """Put right at nine in the morning: what it tightened in the afternoon is not in doubt."""
    points = (Point(20, 19.5), Point(60, 54), Point(100, 90))
    first = Check(date(2025, 1, 5), first=at(1), last=at(1))
    good = Check(date(2025, 6, 5), first=at(6, 0), last=at(6, 9))
    problem = Check(
        date(2025, 12, 5), "laboratory", points, adjusted=True, first=at(12, 9), last=at(12, 9)
    )
    (found,) = doubted(TorqueTool("x", 100.0, history=(first, good, problem)))
    assert (found.check, found.good) == (problem, good)
    assert found.reaches(at(5)) == "clear"
    assert found.reaches(at(6, 8)) == "unclear"
    assert [found.reaches(when) for when in (at(6, 9), at(9), at(12, 9))] == ["in doubt"] * 3
    assert found.reaches(at(12, 14)) == "clear"


def test_the_true_torque_is_read_between_the_points_of_the_check():
    """Set to 40 of 20 (deviation 0) and 60 (11.1 %): half way, 5.6 %, so 37.9 N·m."""
    check = Check(DAY, points=(Point(20, 20), Point(60, 54)))
    assert true_torque(check, 60.0).likely_nm == pytest.approx(54.0)
    assert true_torque(check, 40.0).likely_nm == pytest.approx(40 / (1 + (60 / 54 - 1) / 2))
    assert true_torque(check, 100.0).likely_nm == pytest.approx(90.0)
    assert true_torque(check, 10.0).likely_nm == 10.0


# ---------------------------------------------------------------- a weight on a lever


def test_ten_kilograms_half_a_metre_out():
    """Plain arithmetic: 10 kg × 9.80665 m/s² × 0.5 m = 49.03325 N·m; a wrench of 1 kg at 0.2 m adds 1.96133."""
    assert lever_torque(10_000, Lever(500.0)).torque_nm == pytest.approx(49.03325, rel=1e-12)
    both = lever_torque(10_000, Lever(500.0, 1000.0, 200.0))
    assert both.torque_nm == pytest.approx(49.03325 + 1.96133, rel=1e-12)


@given(torques, arms, st.floats(0, 2000), st.floats(0, 300), st.floats(-10, 10))
def test_the_mass_for_a_torque_gives_that_torque(torque, arm, own, own_arm, tilt):
    lever = Lever(arm, own, own_arm, tilt)
    assume(torque > lever.own_nm * 1.01)
    assert lever_torque(mass_for(torque, lever), lever).torque_nm == pytest.approx(torque)


def test_good_scales_and_a_rule_make_a_lever_fine_enough_for_a_wrench_of_four_per_cent():
    found = lever_torque(8_000, Lever(500.0), mass_error_g=5, arm_error_mm=0.5)
    assert 0.004 < found.uncertainty < 0.01


# ---------------------------------------------------------------- what cannot be

numbers = st.floats() | st.sampled_from([0.0, -1.0, 1e308, float("inf"), float("nan")])


@given(numbers, numbers, numbers, numbers)
def test_a_number_that_cannot_be_is_refused_with_its_place(a, b, c, d):
    """It answers or says what is wrong; never another error, never a value that is no number."""
    for tried in (
        lambda: set_on(60.0, Adapter(a, b, c)),
        lambda: setting(TorqueTool("x", a, b, step=c), d).set_nm,
        lambda: lever_torque(a, Lever(b, c, d)).torque_nm,
        lambda: mass_for(a, Lever(b, c, d)),
        lambda: Point(a, b).deviation + 2,
        lambda: suits(TorqueTool("x", a, b, step=c, history=GOOD), d, DAY).error,
    ):
        try:
            answer = tried()
        except WrenchError as error:
            told = (error.place, error.problem, error.expected)
            answer = float(all(told))
        assert answer == answer and answer  # noqa: PLR0124, PT018 - neither NaN nor 0
