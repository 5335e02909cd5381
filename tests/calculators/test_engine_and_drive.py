"""Gearing, chain length, timing, volumes, bores and carburettors, against published examples and other ways to compute.

Published examples were read on the web, and computed again; names of makers are left out.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from witnessmark.calculators import CALCULATORS, CalculationErrors, evaluate
from witnessmark.calculators.chain_drive import centre_for, links_for, pitch_diameter
from witnessmark.calculators.timing import crank_angle_deg, piston_drop_mm


def answer(name, system="metric", **texts):
    return evaluate(CALCULATORS[name], texts, system)


def line(found, label):
    return dict(found.lines)[label]


def refused(name, **texts):
    with pytest.raises(CalculationErrors) as told:
        answer(name, **texts)
    (error,) = told.value.errors
    assert error.expected
    return error.place, error.problem


# ---------------------------------------------------------------- gearing

GEARS = "2.571\n1.667\n1.25\n1.0\n0.8"


def test_a_published_exercise_in_gearing_comes_out_the_same():
    """An article for riders: 1.708 × 0.973, third 1.25, final 2.833: at 2000 rpm the wheel turns about 340 times."""
    found = answer(
        "road-speed",
        primary="1.662",
        gears=GEARS,
        final="2.833",
        tyre="150/90-15",
        rpm="2000 rpm",
    )
    overall = float(line(found, "gear 3").split(" : ")[0])
    assert 2000 / overall == pytest.approx(340, abs=0.5)
    rolls_m = math.pi * (15 * 25.4 + 2 * 0.9 * 150) / 1000  # plain arithmetic
    assert f"; {340 * rolls_m * 60 / 1000:.1f} km/h at 2000 rpm" in line(found, "gear 3")


def test_a_second_exercise_and_miles_an_hour():
    """1.741 × 1.545 × 2.388 is 6.423: 622.76 turns of the wheel at 4000 rpm; a furlong is 660 ft, eight are a mile."""
    texts = {
        "primary": "1.741",
        "gears": "3rd: 1.545",
        "final": "2.388",
        "tyre": "85.577 in",
        "rpm": "4000 rpm",
    }
    found = answer("road-speed", "us", **texts)
    assert line(found, "3rd").startswith("6.423 : 1 over all")
    assert found.said == f"4000 rpm in 3rd: {622.76 * 85.577 * 60 / (8 * 660 * 12):.1f} mph."


def test_speed_and_engine_speed_are_the_same_sum_both_ways():
    texts = {"primary": "63/36", "gears": "0.95", "final": "45-15", "tyre": "1960 mm"}
    there = answer("road-speed", **texts, rpm="5000 rpm").said
    kmh = there.split(": ")[1].removesuffix(".")
    assert answer("road-speed", **texts, speed=kmh).said.endswith(f"{kmh} in gear 1: 5000 rpm.")


@pytest.mark.parametrize(
    ("takes", "said"),
    [
        ("gearbox", "engine 6.2 % slower, speedometer 6.2 % less, turned by the gearbox"),
        ("rear wheel", "engine 6.2 % slower, speedometer unchanged, turned by the rear wheel"),
    ],
)
def test_a_larger_sprocket_in_front_changes_the_speedometer_only_behind_the_gearbox(takes, said):
    """15 to 16 teeth, plain arithmetic: 15/16 is 6.25 % less."""
    found = answer("gearing-change", final_now="15/45", final_then="45/16", takes=takes)
    assert found.said == f"At the same road speed: {said}."
    assert any("less than the true speed" in one for one in found.warnings) == (takes == "gearbox")


def test_a_lower_tyre_turns_engine_and_speedometer_faster():
    """Plain arithmetic: (432 + 2 × 105) / (432 + 2 × 90) = 641.8 / 611.8, 4.9 % more."""
    found = answer("gearing-change", final_now="3", tyre_now="150/70-17", tyre_then="150/60-17")
    assert (
        found.said
        == "At the same road speed: engine 4.9 % faster, speedometer 4.9 % more, turned by the rear wheel."
    )
    assert line(found, "at a true 100 km/h it shows") == "105 km/h"


@pytest.mark.parametrize(
    ("shown", "verdict"),
    [
        ("100", "as is allowed"),
        ("114", "as is allowed"),
        ("114.5", "more than"),
        ("99", "less than"),
    ],
)
def test_a_speedometer_shows_no_less_than_true_and_a_tenth_and_4_km_h_more(shown, verdict):
    """UN Regulation 39, 5.3."""
    assert verdict in answer("speedometer-error", shown=f"{shown} km/h", true="100 km/h").said


# ---------------------------------------------------------------- chain


def test_a_published_chain_of_20_and_63_teeth_comes_out_the_same():
    """A paper on roller chains, after a design handbook: at 36 pitches 114.8, and 114 links need 35.6."""
    found = answer(
        "chain-links", chain="ANSI 50", front="20", rear="63", centre=f"{36 * 15.875} mm"
    )
    assert line(found, "computed") == "114.80 links"
    assert found.said.startswith("114 links")
    assert centre_for(114, 15.875, 20, 63) / 15.875 == pytest.approx(35.6, abs=0.05)


@given(st.integers(11, 20), st.integers(30, 60), st.floats(28, 60))
def test_a_chain_is_as_long_as_a_belt_on_its_pitch_circles(small, large, apart):
    """Straight runs and arcs of the two circles, counted in pitches: within a tenth of a link; and back."""
    r, big = (pitch_diameter(1, teeth) / 2 for teeth in (small, large))
    lean = math.asin((big - r) / apart)
    belt = 2 * apart * math.cos(lean)
    belt += small * (math.pi - 2 * lean) / (2 * math.pi) + large * (math.pi + 2 * lean) / (
        2 * math.pi
    )
    links = links_for(apart, 1, small, large)
    assert links == pytest.approx(belt, abs=0.1)
    assert centre_for(links, 1, small, large) == pytest.approx(apart)


def test_links_behind_the_size_of_a_chain_count_and_an_odd_number_is_told():
    assert answer("chain-links", chain="520 x 108", front="15", rear="45").said.startswith(
        "108 links: "
    )
    odd = answer("chain-links", chain="520", front="15", rear="45", links="107")
    assert any("cranked link" in one for one in odd.warnings)
    place, problem = refused("chain-links", chain="520 x 108", front="15", rear="45", links="110")
    assert (place, "108 behind the size" in problem) == ("links", True)


# ---------------------------------------------------------------- timing


def test_a_published_step_by_step_example_of_timing_comes_out_the_same():
    """54 mm stroke, 100 mm rod, 22° is 2.479 mm of drop."""
    assert answer("ignition-timing", mark="22°", stroke="54 mm", rod="100 mm").said == (
        "22° before TDC is 2.479 mm of piston travel."
    )
    assert (
        "is 22° of the crank"
        in answer("ignition-timing", mark="2.479 mm", stroke="54 mm", rod="100 mm").said
    )


@given(st.floats(1, 179), st.floats(30, 100), st.floats(1.2, 3))
def test_piston_and_crank_are_held_together_by_the_rod(angle, stroke, rods):
    """The height at which the pin is one rod from the crank pin, found by scipy; and back to the angle."""
    r, rod, turn = stroke / 2, rods * stroke, math.radians(angle)
    x, y = r * math.sin(turn), r * math.cos(turn)
    pin = brentq(lambda height: math.hypot(x, height - y) - rod, y, y + 2 * rod)
    drop = piston_drop_mm(angle, stroke, rod)
    assert drop == pytest.approx(r + rod - pin, abs=1e-6)
    assert crank_angle_deg(drop, stroke, rod) == pytest.approx(angle, abs=1e-4)


def test_a_rim_of_360_mm_has_a_millimetre_to_the_degree():
    texts = {"diameter": f"{360 / math.pi:.6f} mm"}
    assert answer("rim-mark", mark="24°", **texts).said == "24° is 24 mm along the rim."
    assert answer("rim-mark", mark="24 mm", **texts).said == "24 mm is 24° of the crank."
    assert (
        line(answer("rim-mark", mark="180°", **texts), "straight across, with dividers")
        == "114.59 mm"
    )


@pytest.mark.parametrize(
    ("opens", "closes", "duration", "centre"), [("6", "42", 228, 108), ("40°", "60°", 280, 100), ("-5", "55", 230, 120)]
)  # fmt: skip
def test_published_sums_of_cam_timing_come_out_the_same(opens, closes, duration, centre):
    """The first two of owners' texts, worked step by step; the third, opening after TDC, plain arithmetic."""
    assert answer("cam-timing", inlet_opens=opens, inlet_closes=closes).said == (
        f"Inlet lobe centre {centre}° after TDC, open for {duration}°."
    )


def test_overlap_and_the_exhaust():
    """20–60, 60–20 of a published text on timing diagrams: each open for 260°; overlap 40°, lobes 110° apart."""
    both = {
        "inlet_opens": "20",
        "inlet_closes": "60",
        "exhaust_opens": "60",
        "exhaust_closes": "20",
    }
    found = answer("cam-timing", **both)
    told = [
        line(found, label) for label in ("exhaust open for", "overlap", "between the lobe centres")
    ]
    assert told == ["260°", "40°", "110° of the cam"]
    apart = answer("cam-timing", **(both | {"inlet_opens": "-5", "exhaust_closes": "-3"}))
    assert line(apart, "overlap") == "none: both shut for 8°"


# ---------------------------------------------------------------- volumes


def test_published_sums_of_displacement_and_compression_come_out_the_same():
    """Two published examples: six of 4 × 4 in are 4942.2 cm³; 4 in, 3.48 in, dish of 5 and chamber of 64 cm³: 9.97."""
    assert answer("displacement", bore="4 in", stroke="4 in", cylinders="6").said.startswith(
        "4942.2 cm³"
    )
    texts = {
        "bore": "4 in",
        "stroke": "3.48 in",
        "gasket": "0.020 in",
        "deck": "0.033 in",
        "crown": "5 cc",
    }
    assert (
        answer("compression-ratio", **texts, chamber="64 cc").said == "Compression ratio 9.97 : 1."
    )
    dome = answer("compression-ratio", **texts, chamber="64 cc", crown_is="dome", deck_is="above")
    left = 64 + (0.020 - 0.033) * math.pi * 4 * 16.387064 - 5  # plain arithmetic
    assert line(dome, "left at the top").startswith(f"{left:.1f} cm³")


def test_a_published_two_stroke_from_the_closing_of_its_port():
    """54.0 × 54.5 mm, 8.5 cm³ in the head, exhaust port 28 mm after TDC: 8.54."""
    found = answer(
        "compression-ratio", bore="54 mm", stroke="54.5 mm", chamber="8.5 cc", port="28 mm"
    )
    assert found.said.startswith("Compression ratio 8.54 : 1 from the closing of the exhaust port")


def test_squish_is_judged_at_its_tightest_and_at_its_widest():
    found = answer("squish", solder="left: 0.85\nright: 1.30", least="0.9 mm", most="1.25 mm")
    assert "0.85 mm: below the limit" in found.said
    assert "1.3 mm: above the limit" in found.said


# ---------------------------------------------------------------- bores


def test_a_gap_by_the_bore():
    """0.004 in for each inch of bore (common practice, from memory): 0.016 in at 4 in."""
    found = answer("ring-gap", bore="4 in", gaps="top: 0.015 in\nsecond: 0.017 in", least="0.4 %")
    assert found.said == "top below the limit."
    assert "0.38 % of the bore" in line(found, "top") or "0.375 % of the bore" in line(found, "top")


def test_clearance_taper_and_out_of_round_of_readings():
    """Plain arithmetic."""
    bore = "top: 58.045 58.060\nmiddle: 58.035 58.045\nbottom: 58.030 58.035"
    found = answer(
        "piston-clearance",
        bore=bore,
        piston="57.985 mm",
        most="0.07 mm",
        least="0.045 mm",
        taper="0.02 mm",
    )
    assert "0.045 mm: at the limit" in found.said
    assert "0.075 mm: above the limit" in found.said
    assert line(found, "out of round") == "0.015 mm"
    assert line(found, "taper").startswith("0.025 mm: above the limit")


# ---------------------------------------------------------------- carburettors


def test_carburettors_are_brought_to_the_base_from_it_outward():
    """More vacuum is a throttle further shut (common practice, no source); of absolute pressure the other way round."""
    texts = {"readings": "24.5, 26; 25\n23", "base": "3", "most": "2 cmHg"}
    found = answer("carburettor-balance", **texts)
    assert found.said.startswith("Apart by 3 cmHg: above the limit of 2 cmHg")
    assert [told for told in found.lines if told[0].startswith("step")] == [
        ("step 1: carburettor 2", "open its throttle a little"),
        ("step 2: carburettor 4", "shut its throttle a little"),
        ("step 3: carburettor 1", "shut its throttle a little"),
    ]
    other = answer("carburettor-balance", **texts, shows="absolute pressure")
    assert line(other, "step 1: carburettor 2") == "shut its throttle a little"
    alike = answer("carburettor-balance", readings="25 cmHg\n25 cmHg", base="1")
    assert alike.said == "All alike."


# ---------------------------------------------------------------- what was mistyped

GEARED = {"primary": "1.75", "gears": "2.5", "final": "15/45", "tyre": "150/70-17"}
TIMED = {"mark": "22°", "stroke": "54 mm", "rod": "100 mm"}
LINKED = {"chain": "520", "front": "15", "rear": "45", "centre": "600 mm"}
RATIO = {"bore": "54 mm", "stroke": "54.5 mm", "chamber": "8.5 cc"}
BORED = {"bore": "58.04 58.05", "piston": "57.985 mm"}


@pytest.mark.parametrize(
    ("name", "texts", "field", "typed", "problem"),
    [
        ("convert", {"quantity": "5.6 L/100 km"}, "to", "mpg", "one thing in the United States"),
        ("convert", {"quantity": "5.6 L/100 km", "to": "US mpg", "step": "1"}, "tolerance", "1 US mpg",
         "depends on the value"),
        ("road-speed", GEARED, "gears", "2.571 : 1", "is not one gear"),
        ("road-speed", GEARED, "gears", "25", "25 is no ratio of a gear"),
        ("road-speed", GEARED, "primary", "36/63", "0.5714 is no ratio of a primary drive"),
        ("road-speed", GEARED, "final", "15/4", "no teeth of two sprockets"),
        ("road-speed", GEARED, "final", "0.33", "0.33 is no ratio of a final drive"),
        ("road-speed", GEARED, "tyre", "150/70", "neither the size of a tyre nor a length"),
        ("road-speed", GEARED, "tyre", "17 in", "432 mm is not once round"),
        ("road-speed", GEARED, "tyre", "1960", "neither the size of a tyre nor a length"),
        ("gearing-change", {"final_now": "15/45", "tyre_then": "150/60-17"}, "tyre_now", "", "nothing to compare with"),
        ("gearing-change", {"final_now": "3", "tyre_now": "150/70-17"}, "tyre_then", "1960 mm", "the other computed"),
        ("speedometer-error", {"shown": "100 km/h"}, "true", "0 km/h", "stands still"),
        ("chain-links", LINKED, "centre", "60 mm", "the sprockets touch"),
        ("chain-links", LINKED, "centre", "6000 mm", "no chain of a motorcycle"),
        ("chain-links", LINKED, "rear", "4.5", "not a whole number"),
        ("ignition-timing", TIMED, "mark", "22", "has no unit"),
        ("ignition-timing", TIMED, "mark", "22 mm²", "is no unit"),
        ("ignition-timing", TIMED, "mark", "-2°", "not between 0 and 180"),
        ("ignition-timing", TIMED, "mark", "55 mm", "more than the stroke"),
        ("ignition-timing", TIMED, "rod", "10 mm", "does not go with a stroke"),
        ("cam-timing", {"inlet_opens": "12"}, "inlet_closes", "348", "no point of a road engine's cam"),
        ("compression-ratio", RATIO | {"crown_is": "dome"}, "crown", "12 cc", "cm³ are left"),
        ("compression-ratio", RATIO, "port", "60 mm", "not within the stroke"),
        ("compression-ratio", RATIO | {"deck_is": "above"}, "deck", "", "by how much"),
        ("squish", {}, "solder", "1.05\n105", "line 2: 105 mm was read"),
        ("ring-gap", {"bore": "58 mm", "gaps": "0.3"}, "least", "4", "has 3 mm at most"),
        ("piston-clearance", BORED, "piston", "58.1 mm", "does not run in a bore"),
        ("piston-clearance", BORED, "bore", "58.04 58.05\n58.04 5.805", "line 2: 5.805 mm is no bore"),
        ("carburettor-balance", {"base": "1"}, "readings", "25\n26", "has no unit"),
        ("carburettor-balance", {"readings": "25 kPa\n26 kPa"}, "base", "5", "none of them"),
        ("ring-gap", {"bore": "58 mm"}, "gaps", "top .25", "does not start with a number"),
        ("carburettor-balance", {"base": "1"}, "readings", "25 kPa\n1: -25 kPa", "has a minus"),
        ("carburettor-balance", {"base": "1"}, "readings", "25 bar\n26 bar", "more than the air outside"),
    ],
)  # fmt: skip
def test_what_was_mistyped_is_asked_about_at_its_field(name, texts, field, typed, problem):
    place, told = refused(name, **(texts | {field: typed}))
    assert (place, problem in told) == (field, True), told


@pytest.mark.parametrize(
    ("name", "texts", "place"),
    [
        ("wire-size", {"current": "60/55W", "length": "4 m"}, "current"),
        ("voltage-drop", {"current": "21/5 W", "length": "4 m", "size": "1.5"}, "current"),
        ("leak-down", {"supply": "80 psi", "held": "72/70"}, "held"),
        ("compression", {"pressures": "11/12 bar"}, "pressures"),
        ("alternator-output", {"volts": "52/53", "speed": "3000 rpm"}, "volts"),
        ("brake-pad", {"lining": "3/2\n3/3"}, "lining"),
        ("cam-timing", {"inlet_opens": "12/48", "inlet_closes": "50"}, "inlet_opens"),
        ("chain-links", {"chain": "520", "front": "15/45", "rear": "45", "links": "108"}, "front"),
    ],
)  # fmt: skip
def test_two_values_with_a_slash_are_asked_about(name, texts, place):
    """A lamp of 60/55 W is none of 1.09 W, and cylinders of 11 and 12 bar are not one of 0.92 bar."""
    where, problem = refused(name, **texts)
    assert where == place
    assert "may be a range or a fraction, or two values" in problem


def test_several_values_on_one_line_are_read_where_a_sign_tells_them_apart():
    found = answer("leak-down", supply="6 bar", held="5,4; 5,1")
    assert line(found, "cylinder 2").startswith("5.1 bar held, 15.0 %")
    found = answer("brake-disc", thickness="4,02, 4,01, 3,98, 4,00", least="3.5 mm")
    assert line(found, "thickness varies by") == "0.04 mm"
    where, problem = refused("brake-disc", thickness="4.02 4.01 3.98 4.00", least="3.5 mm")
    assert (where, "is more than one number" in problem) == ("thickness", True)


def test_teeth_are_read_the_driven_ones_first():
    found = answer("road-speed", primary="63:36", gears="35/14, 28/20", final="3", tyre="2000 mm")
    assert line(found, "gear 1").startswith("13.12 : 1")
    assert 63 / 36 * 35 / 14 * 3 == 13.125


def test_a_class_with_a_comma_is_that_class():
    found = answer("thread", thread="M8", **{"class": "8,8"})
    assert dict(found.put_in)["Property class, on the head"] == "8.8"
