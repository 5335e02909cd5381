"""Mixtures, levels, viscosities and waste: sums that must come out whichever way they are made."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from witnessmark.fluids import FluidError, brake, coolant, fork, mixing, viscosity, waste

ML = st.floats(1, 20_000).map(lambda x: round(x, 1))
THICK = st.floats(2, 2000)
GLYCOLS = st.sampled_from(["ethylene glycol", "propylene glycol"])


@given(st.lists(st.tuples(ML, st.floats(8, 200)), min_size=1, max_size=5))
def test_a_blend_is_as_thick_as_its_double_logarithms_by_volume(parts):
    """Recomputed by the other form of the same rule: Refutas' index with 0.8 comes within 2 % of it."""
    ours = viscosity.blend(parts)
    total = sum(volume for volume, _ in parts)
    index = sum(
        volume / total * (14.534 * math.log(math.log(v + 0.8)) + 10.975) for volume, v in parts
    )
    assert ours == pytest.approx(math.exp(math.exp((index - 10.975) / 14.534)) - 0.8, rel=0.02)
    assert min(v for _, v in parts) * (1 - 1e-9) <= ours <= max(v for _, v in parts) * (1 + 1e-9)


@given(THICK, THICK, st.floats(0, 1), ML)
def test_the_shares_for_a_viscosity_blend_to_it(one, two, where, total):
    wanted = min(one, two) + where * abs(one - two)
    share = viscosity.share(wanted, one, two, total)
    assert share.first_ml + share.second_ml == pytest.approx(total)
    parts = [part for part in ((share.first_ml, one), (share.second_ml, two)) if part[0] > 0]
    assert viscosity.blend(parts) == pytest.approx(wanted, rel=1e-3, abs=2e-3)


@given(st.floats(3, 400), st.floats(0.15, 0.8), st.floats(0, 120))
def test_an_oil_gets_thinner_all_the_way(at_40, share, at):
    assume(at_40 * share >= 1)
    line = viscosity.walther((40, at_40), (100, at_40 * share))
    assert line.at(40) == pytest.approx(at_40, rel=1e-3)
    assert line.at(at) > line.at(at + 10)


@given(GLYCOLS, st.floats(0, 60))
def test_more_glycol_never_freezes_earlier_and_the_percent_is_found_back(glycol, percent):
    """Up to 60 % by volume, where the tables end."""
    point = coolant.freeze_point(glycol, percent).celsius
    assert coolant.freeze_point(glycol, min(60, percent + 1)).celsius <= point
    assert coolant.percent_for(glycol, point) == pytest.approx(percent, abs=0.01)


@given(ML, st.floats(0, 59), st.floats(0, 60), st.sampled_from([0.0, 50.0, 100.0]))
def test_drained_and_refilled_it_is_of_the_percent_wanted(whole, now, wanted, poured):
    """Poured together again by volume, nothing over and nothing short."""
    try:
        step = coolant.refill(whole, now, wanted, poured)
    except FluidError:
        assert not min(now, poured) <= wanted <= max(now, poured) or now == poured
        return
    assert 0 <= step.drain_ml <= whole + 1e-9
    left = whole - step.drain_ml
    glycol = left * now + step.concentrate_ml * poured
    assert glycol / (left + step.concentrate_ml) == pytest.approx(wanted, abs=0.01)


@given(ML, st.floats(0.01, 0.9), st.integers(1, 8))
def test_each_fill_leaves_the_same_share_of_what_was_old(whole, share, fills):
    """Simulated fill by fill."""
    stays, old = whole * share, 1.0
    for _ in range(fills):
        old = old * stays / whole
    assert mixing.old_share(stays, whole, fills) == pytest.approx(old)
    assert mixing.fills_until(stays, whole, old * 1.0001) <= fills


@given(st.floats(1000, 20_000), st.floats(20, 100), st.floats(20, 100))
def test_a_tank_is_brought_to_another_ratio(tank, ratio_in, wanted):
    oil, petrol = mixing.two_stroke_correction(tank, ratio_in, wanted)
    assert min(oil, petrol) == 0
    parts = tank / (ratio_in + 1) + oil, tank * ratio_in / (ratio_in + 1) + petrol
    assert parts[1] / parts[0] == pytest.approx(wanted)


def test_five_litres_at_one_to_fifty_take_a_decilitre():
    """Common practice, no source."""
    assert mixing.two_stroke(5000, 50).words == "100 mL (1 : 50, 2 % of the petrol)"


@given(st.floats(20, 60), st.floats(0, 15), st.floats(50, 200), st.floats(50, 200))
def test_what_is_added_to_a_leg_sets_its_gap(bore, rod, measured, wanted):
    """The volume of the ring between bore and rod, over the way the level moves."""
    change = fork.set_gap(measured, wanted, bore, rod)
    ring = math.pi * (bore / 2 + rod / 2) * (bore / 2 - rod / 2)
    assert change.add_ml * 1000 == pytest.approx(ring * (measured - wanted), abs=1e-6)


GLYCOL_CLASSES = st.sampled_from(
    [name for name, one in brake.CLASSES.items() if one.base == "glycol"]
)


@given(GLYCOL_CLASSES, st.floats(0, 100), st.floats(80, 400))
def test_a_fluid_is_judged_alike_by_its_water_and_by_where_it_boils(label, water, measured):
    """One rule: water by where the curve says it boils at the earliest, and never more than 3 %."""
    by_water, by_both = (
        brake.judged(label, water=water),
        brake.judged(label, water=water, boils_c=measured),
    )
    by_boiling = brake.judged(label, boils_c=measured)
    if water < 3:
        assert (
            by_water.flush_now is brake.judged(label, boils_c=brake.boils_at(water).low_c).flush_now
        )
    else:
        assert by_water.flush_now
    assert by_both.flush_now is (by_water.flush_now or by_boiling.flush_now)
    for said in (by_water, by_boiling, by_both):
        assert ("flush now" in said.said) is said.flush_now
        assert ("the interval stands" in said.said) is not said.flush_now


@given(GLYCOL_CLASSES, st.floats(0, 3), st.floats(0, 3))
def test_more_water_boils_earlier_and_is_never_judged_better(label, one, two):
    low, high = sorted((one, two))
    assert brake.boils_at(high).low_c <= brake.boils_at(low).low_c
    assert brake.judged(label, water=low).flush_now <= brake.judged(label, water=high).flush_now


# ---------------------------------------------------------------- waste


@given(st.lists(st.integers(1, 50_000).map(lambda x: x / 10), max_size=30))
def test_what_went_in_is_the_level_to_the_tenth_of_a_millilitre(volumes):
    """Exact: no float dust after many drains; collected whole, it is empty."""
    total = sum(round(volume * 10) for volume in volumes) / 10
    assert waste.level(volumes) == total
    assert waste.level(volumes, [total] if total else []) == 0


@pytest.mark.parametrize("family", ["glycol brake fluid", "silicone brake fluid", "coolant"])
def test_brake_fluid_and_coolant_never_go_into_used_oil(family):
    why = waste.why_not_into(family, "used oil")
    assert why is not None
    assert "never goes into used oil" in why


CONTAINERS = st.lists(
    st.builds(
        waste.Container, st.uuids().map(str), st.text("ab", min_size=1, max_size=3), st.sampled_from(waste.STREAMS),
        st.integers(1, 60).map(lambda x: x * 1000.0), st.integers(0, 60).map(lambda x: x * 1000.0),
    ),
    max_size=6,
)  # fmt: skip


@given(st.sampled_from(sorted(waste._STREAM_OF)), ML, CONTAINERS)
def test_a_drain_goes_into_a_container_of_its_stream_with_room_where_there_is_one(
    family, volume, containers
):
    chosen = waste.choose(family, volume, containers)
    own = [one for one in containers if waste.why_not_into(family, one.stream) is None]
    assert (chosen is None) is (not own)
    if chosen is not None:
        assert chosen in own
        assert chosen.room_ml >= volume or all(one.room_ml < volume for one in own)
