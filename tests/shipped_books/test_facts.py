"""Facts of the trade, held against proven plans of the shipped books.

Each is common practice, no source: what any technician would say of an order of work.
"""

import pytest

from tests.shipped_books.planned import Planned, book, planned
from witnessmark.fluids import stages, strokes


@pytest.fixture(scope="module")
def annual() -> Planned:
    return planned("quandle_t9", "annual")


@pytest.fixture(scope="module")
def drive() -> Planned:
    return planned("bromeck_410", "drive")


# ---------------------------------------------------------------- rear


def test_the_fill_plug_is_cracked_before_the_drain_plug(annual):
    """Common practice, no source: a housing that cannot be filled is not drained."""
    assert annual.in_turn("final_drive_oil/crack_fill", "final_drive_oil/drain")
    scooter = planned("sistrel_m12", "gearbox_oil")
    assert scooter.in_turn("gearbox_oil/crack_fill", "gearbox_oil/drain")


def test_the_final_drive_is_read_cold_and_upright(annual):
    """Common practice, no source: after a ride the housing cools before its level is read."""
    level = annual.start("final_drive_oil/level")
    assert annual.over("cool_drive") <= level
    assert annual.over("ride_before/ride") <= annual.start("cool_drive")
    assert (annual.state("stand", level), annual.state("drive", level)) == ("upright", "cold")


def test_a_syringe_of_60_ml_puts_180_ml_in_by_three_strokes():
    """Common practice, no source."""
    use = book("quandle_t9").jobs["final_drive_oil"].operations["fill"].fluids["final_drive_oil"]
    volume = book("quandle_t9").figures[use.figure].in_base("value")
    done = strokes(volume, use.syringe_ml)
    assert (done.count, done.each_ml, done.last_ml) == (3, 60.0, 60.0)


def test_the_wheel_is_made_tight_once_and_when_nothing_needs_it_off(annual):
    """Common practice, no source: seated snug in a star, made tight once."""
    assert len(annual.starts("rear_wheel_tight")) == len(annual.starts("rear_wheel_out")) == 1
    needs_it_off = [
        s.tail_end
        for s in annual.answer.steps
        if annual.problem.step(s.name).needs.get("rear_wheel") == ("off",)
    ]
    assert len(needs_it_off) == 6  # five steps of its drive, and the wheel on
    assert max(needs_it_off) <= annual.over("rear_wheel_snug") <= annual.start("rear_wheel_tight")


def test_a_gear_holds_the_wheel_and_neutral_lets_it_turn(annual):
    """Common practice, no source."""
    for step in ("rear_wheel_out", "rear_wheel_tight"):
        assert annual.state("gear", annual.start(step)) == "engaged"
    for step in ("tyres/read_rear", "engine_oil/run"):
        assert annual.state("gear", annual.start(step)) == "neutral"


def test_the_wheel_comes_off_only_on_the_lift_upright_and_with_panniers_off(annual):
    """Common practice, no source."""
    at = annual.start("rear_wheel_out")
    found = [annual.state(c, at) for c in ("place", "stand", "panniers")]
    assert found == ["lift", "upright", "off"]


# ---------------------------------------------------------------- engine


def test_the_engine_is_filled_in_stages_and_read_twice(annual):
    """Common practice, no source: most first, run, settle, top up; again after the ride."""
    assert annual.in_turn(
        "engine_oil/drain",
        "engine_oil/close_up",
        "engine_oil/fill_first",
        "engine_oil/run",
        "oil_settle",
        "engine_oil/top_up",
        "ride_after/ride",
        "engine_oil/level_after",
    )


def test_four_and_a_half_litres_are_three_and_a_half_then_one():
    """Common practice, no source."""
    operations = book("quandle_t9").jobs["engine_oil"].operations
    use = operations["fill_first"].fluids["engine_oil"]
    assert operations["top_up"].fluids["engine_oil"].hold_back == use.hold_back
    total = book("quandle_t9").figures[use.figure].in_base("value")
    assert total == 4500
    staged = stages(total, use.hold_back_ml)
    assert (staged.first_ml, staged.top_up_ml) == (3500, 1000)


def test_the_oil_is_drained_warm(annual):
    """Common practice, no source."""
    assert annual.state("engine", annual.start("engine_oil/drain")) == "warm"
    assert annual.in_turn("ride_before/ride", "engine_oil/drain")
    cold = planned("quandle_t9", "oil")
    assert cold.in_turn("warm_engine", "engine_oil/drain")


def test_the_engine_runs_only_with_oil_filter_and_plugs_in_and_the_wheel_tight(annual):
    """Common practice, no source."""
    at = annual.start("engine_oil/run")
    found = [annual.state(c, at) for c in ("engine_oil", "oil_filter", "rear_wheel")]
    assert found == ["filled", "on", "tight"]


# ---------------------------------------------------------------- brakes


@pytest.mark.parametrize("end", ["front", "rear"])
def test_the_reservoir_is_drawn_down_once_then_kept_topped_until_it_is_closed(annual, end):
    """Common practice, no source: air drawn in at the port undoes the bleeding."""
    opened, topped, closed = (
        annual.start(f"{verb}_{end}_reservoir") for verb in ("open", "fill", "close")
    )
    assert opened < topped < closed
    for step in ("flush", "cycle", "bleed"):
        at = annual.start(f"{end}_brake_fluid/{step}")
        assert annual.state(f"{end}_reservoir", at) == "fresh"


@pytest.mark.parametrize("end", ["front", "rear"])
def test_pads_are_pushed_back_before_fresh_fluid_goes_in(annual, end):
    """Common practice, no source: pistons pushed back into a full reservoir overflow it."""
    assert annual.over(f"brake_wear/{end}") <= annual.start(f"fill_{end}_reservoir")


@pytest.mark.parametrize("end", ["front", "rear"])
def test_brakes_are_bled_again_after_the_pump_ran_then_closed_and_held(annual, end):
    """Common practice, no source."""
    assert annual.in_turn(
        f"{end}_brake_fluid/flush",
        f"{end}_brake_fluid/cycle",
        f"{end}_brake_fluid/bleed",
        f"close_{end}_reservoir",
        f"{end}_brake_fluid/hold",
        "off_lift",
    )


@pytest.mark.parametrize("jobs", [("annual",), ("brake_wear",), ("rear_end",)])
def test_lever_and_pedal_are_firm_before_the_machine_is_moved(jobs):
    """Common practice, no source: also where pads were only pushed back."""
    done = planned("quandle_t9", *jobs)
    moves = [*done.starts("off_stand"), *done.starts("off_lift")]
    assert moves
    for minute in moves:
        for control in ("front_lever", "rear_pedal"):
            if control in done.problem.conditions:
                assert done.state(control, minute) == "firm"


# ---------------------------------------------------------------- electrics, rides


def test_the_battery_is_read_at_rest_and_the_coolant_cold_before_the_first_ride(annual):
    """Common practice, no source."""
    for step in ("battery/test", "coolant_check/read"):
        assert annual.over(step) <= annual.start("ride_before/ride")


def test_codes_are_copied_at_the_door_before_anything_is_ridden_or_cleared(annual):
    """Common practice, no source: the battery at rest first, then the codes, then the ride; clearing is supported."""
    assert annual.over("battery/test") <= annual.start("codes/copy")
    assert annual.over("codes/copy") <= annual.start("ride_before/ride")
    assert annual.in_turn("codes/copy", "codes/clear", "ride_after/ride")
    assert annual.state("battery", annual.start("codes/clear")) == "supported"
    changed = planned("quandle_t9", "battery_change")
    assert changed.in_turn("codes/copy", "battery_change/swap")


def test_nothing_is_opened_before_the_ride_and_all_is_closed_before_the_next(annual):
    """Common practice, no source: ride first, ride last, then look again."""
    opened = [
        s.start
        for s in annual.answer.steps
        for step in [annual.in_book(s.name)]
        if step.loosens or [c for c in step.opens if not annual.book.circuits[c].trouble_codes]
    ]
    assert annual.over("ride_before/ride") <= min(opened)
    assert annual.in_turn("ride_after/ride", "ride_after/look")
    assert annual.in_turn("ride_after/ride", "codes/read_after")


# ---------------------------------------------------------------- chain, valves


def test_chain_slack_is_read_again_with_the_axle_tight_before_the_new_pin(drive):
    """Common practice, no source: tightening the axle moves it."""
    assert drive.in_turn(
        "chain/read", "chain/adjust", "axle_tight", "chain/read_again", "pin_in", "ride_after/ride"
    )
    assert "rear_split_pin" in drive.book.access["pin_in"].renews


def test_the_front_sprocket_nut_is_cracked_while_the_chain_still_holds_it(drive):
    """Common practice, no source."""
    assert drive.in_turn("chain_kit/sprocket_nut", "axle_loose", "chain_kit/fit_chain")
    assert drive.state("gear", drive.start("chain_kit/sprocket_nut")) == "engaged"


def test_valves_are_read_stone_cold_so_first_thing_in_the_morning_before_any_ride():
    """Common practice, no source: eight hours after the engine last ran."""
    ridden = planned("bromeck_410", "ride_before", "valves")
    assert ridden.in_turn("valves/read", "valves/again", "ride_before/ride")
    assert ridden.state("valve_gear", ridden.start("valves/read")) == "stone cold"
    assert planned("bromeck_410", "valves").start("valves/read") < 60
