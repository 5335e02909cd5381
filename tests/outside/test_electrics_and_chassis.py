"""Wires, coils, sensors, springs and loads against published tables and worked examples; each names its source."""

import math

import pytest

from witnessmark.calculators import CALCULATORS, CalculationErrors, evaluate
from witnessmark.calculators.sensors import beta, celsius_at, ohm_at
from witnessmark.calculators.suspension import spring_rate
from witnessmark.calculators.tyre_load import load_at
from witnessmark.calculators.wiring import gauge_mm2, read_size, wire_ohm
from witnessmark.decode.tyre_tables import LOAD_KG

FT = 304.8  # mm, by definition


def answer(name, **texts):
    return evaluate(CALCULATORS[name], texts)


# ---------------------------------------------------------------- wires


@pytest.mark.parametrize(
    ("gauge", "mils", "ohm_per_1000_ft"),
    [(12, 80.808, 1.588), (14, 64.084, 2.525), (16, 50.820, 4.016), (18, 40.303, 6.385), (20, 31.961, 10.15),
     (24, 20.100, 25.67), (30, 10.025, 103.2)],
)  # fmt: skip
def test_gauges_have_diameter_and_resistance_of_the_wire_tables(gauge, mils, ohm_per_1000_ft):
    """NBS Handbook 100, Copper Wire Tables, at 20 °C, as a maker of cable testers restates it."""
    assert math.sqrt(gauge_mm2(gauge) * 4 / math.pi) / 0.0254 == pytest.approx(mils, abs=0.01)
    ohm = wire_ohm(1000 * FT, gauge_mm2(gauge))
    assert ohm == pytest.approx(
        ohm_per_1000_ft, rel=0.002
    )  # the table's diameters are rounded to 0.1 mil


@pytest.mark.parametrize(("size", "most"),
    [(0.5, 37.1), (0.75, 24.7), (1.0, 18.5), (1.5, 12.7), (2.5, 7.6), (4, 4.71), (6, 3.14)],
)  # fmt: skip
def test_copper_alone_has_no_more_than_a_cable_of_its_size_may_have(size, most):
    """ISO 6722, mΩ/m at 20 °C, from memory: a tenth above the metal, which the answer says."""
    ours = wire_ohm(1000, size) * 1000
    assert 0.88 * most < ours < most


def test_copper_grows_by_the_coefficient():
    """From 20 to 75 °C by 0.393 % a degree: 21.6 % (IEC 60028)."""
    assert wire_ohm(1000, 1, 75) / wire_ohm(1000, 1) == pytest.approx(1.216, abs=0.0005)


def test_the_size_found_loses_what_is_allowed():
    """10 A, 5 m, 3 % of 12 V: 10 × 5 / (58 × 0.36) = 2.39 mm², by hand."""
    found = answer("wire-size", current="10 A", length="5 m")
    assert found.said == "At least 2.39 mm²: take 2.5 mm² or AWG 12."
    assert (
        "3 % of 12 V"
        in answer("voltage-drop", current="10 A", length="5 m", size="2.3946 mm²").said
    )


def test_a_load_in_watts_is_taken_at_the_voltage():
    """55 W at 12 V are 4.583 A, at 6 V twice as much."""
    found = answer("wire-size", current="55 W", length="4 m", voltage="6 V")
    assert found.said == answer("wire-size", current="9.16667 A", length="4 m", voltage="6 V").said
    assert "9.17 A at 6 V" in dict(found.put_in)["Current, or power"]


@pytest.mark.parametrize(
    ("typed", "mm2"),
    [("1.5", 1.5), ("1,5 mm2", 1.5), ("1.5 sq mm", 1.5), ("16 AWG", 1.309), ("AWG16", 1.309), ("awg 2/0", 67.43),
     ("16 mm²", 16)],
)  # fmt: skip
def test_a_size_is_read_as_it_is_written(typed, mm2):
    """AWG 16 is 1.309 mm², 2/0 67.43 mm² (ASTM B258, from memory)."""
    assert read_size(typed) == pytest.approx(mm2, rel=1e-3)


@pytest.mark.parametrize(
    "typed", ["16", "16 gauge", "#16", "AWG 50", "AWG 1.5", "-1.5", "1.5 mm", "200 mm²", "0"]
)
def test_a_size_that_may_be_another_is_asked_about(typed):
    with pytest.raises(CalculationErrors) as refused:
        answer("voltage-drop", current="1 A", length="1 m", size=typed)
    assert [error.place for error in refused.value.errors] == ["size"]


def test_a_connection_is_ohms_law():
    """150 mV at 10 A: 15 mΩ and 1.5 W."""
    found = answer("connection", drop="150 mV", current="10 A")
    assert found.said.startswith("15 mΩ. 0.15 V: above the limit of 0.1 V")
    assert dict(found.lines)["turned into heat there"] == "1.5 W"


# ---------------------------------------------------------------- coils


@pytest.mark.parametrize(
    ("texts", "said"),
    [
        ({"readings": "0.42\n0.44\n0.43"}, "The phases are alike"),
        ({"readings": "0,42, 0,44, 0,43"}, "The phases are alike"),
        ({"readings": "0.42\n0.44\n0.62"}, "The phases are not alike: they differ by 41 %"),
        ({"readings": "0.3\n0.4\n0.3", "resolution": "0.1 Ω"}, "The phases are alike"),
        ({"readings": "OL\n0.4 ohm\nopen"}, "Open at 1–2 and 3–1"),
        ({"readings": "0.4\n0.4\n0.4", "ground": "not open"}, "It has a path to ground"),
        ({"readings": "0.4\n0.4\n0.4", "most": "0.3 Ω"}, "Above the limit put in"),
        ({"readings": "0.5\n0.5\n0.5", "most": "0.4 Ω", "leads": "0.1 Ω"}, "No fault is seen"),
        ({"readings": "0.5\n0.5\n0.5", "most": "0.4 Ω", "temperature": "85 °C"}, "No fault is seen"),
        ({"readings": "0\n0\n0"}, "Nothing is read at 1–2 and 2–3 and 3–1: a short"),
        ({"readings": "420 Ω"}, "Nothing to compare it with"),
    ],
)  # fmt: skip
def test_the_coil_is_judged_by_its_phases_and_the_limits_put_in(texts, said):
    """Plain arithmetic; at 85 °C copper has 1.255 times what it has at 20 °C (IEC 60028)."""
    assert answer("charging-coil", **texts).said.startswith(said)


def test_what_a_coil_gives_is_told_per_thousand_turns():
    """52, 53, 52 V at 3000 rpm: 17.4 V per 1000 rpm, alike within 2 %."""
    found = answer(
        "alternator-output", volts="52\n53\n52", speed="3000 rpm", least="15 V", most="25 V"
    )
    assert found.said == "17.4 V AC per 1000 rpm. No fault is seen."
    low = answer("alternator-output", volts="52\n31\n52", speed="3000 rpm", least="15 V")
    assert low.said.endswith("Below the limit put in.")
    assert "not alike" in low.said


# ---------------------------------------------------------------- sensors


def test_a_sensor_follows_the_law_of_its_two_points():
    """10 kΩ at 25 °C with B 3380 K has 4.16 kΩ at 50 °C and 1.45 kΩ at 85 °C: a maker's table, from memory."""
    assert ohm_at(50, 25, 10_000, 3380) == pytest.approx(4160, rel=0.002)
    assert beta(25, 10_000, 50, 4160) == pytest.approx(3380, abs=5)
    assert celsius_at(1451, 25, 10_000, 3380) == pytest.approx(85, abs=2)


POINTS = "-10 °C 9.4 kΩ\n20 °C 2.5 kΩ\n80 °C 0.323 kΩ"


@pytest.mark.parametrize(
    ("texts", "said"),
    [
        ({"measured": "186 Ω"}, "186 Ω stands for 100"),
        ({"at": "100 °C"}, "At 100 °C it should have 189 Ω."),
        ({"at": "20 °C", "measured": "2.5 kΩ", "tolerance": "5"}, "Within limits."),
        ({"at": "20 °C", "measured": "3.5k", "tolerance": "5"}, "Above the limit of 2.63 kΩ."),
    ],
)
def test_a_common_sensor_is_told_past_its_points(texts, said):
    """A common coolant sensor has 186 to 189 Ω at 100 °C: workshop tables, from memory."""
    assert answer("temperature-sensor", points=POINTS, **texts).said.startswith(said)


@pytest.mark.parametrize(
    "points",
    ["20 °C 2.5 kΩ\n80 °C 0.323 kΩ", "2.5 kΩ at 20 °C\n323 ohm @ 80C", "68 °F = 2500\n176F: 323", "20 2500\n80 323",
     "80 323\n20 2500", "20\t2500\n80\t323"],
)  # fmt: skip
def test_points_are_read_in_either_order_and_as_they_are_written(points):
    assert (
        answer("temperature-sensor", points=points, at="50 °C").said
        == "At 50 °C it should have 817 Ω."
    )


def test_a_range_of_the_manual_is_kept_as_a_range():
    points = "20 °C 2.0-3.0 kΩ\n80 °C 0.26 to 0.38 kΩ"
    found = answer("temperature-sensor", points=points, at="20 °C", measured="2.9 kΩ")
    assert found.said.startswith("Within limits. At 20 °C it should have 2 kΩ to 3 kΩ.")


@pytest.mark.parametrize(
    ("texts", "place"),
    [
        ({"points": "20 °C 2.5 kΩ"}, "points"),
        ({"points": "20 °C 2.5 kΩ\n80 °C 4 kΩ"}, "points"),
        ({"points": "20 °C 2.5 kΩ\n80 °C 323 kΩ"}, "points"),
        ({"points": "20 °C 2.5 kΩ\n80 °C 0.3"}, "points"),
        ({"points": "20 °C\n80 °C 0.323 kΩ"}, "points"),
        ({"points": POINTS, "at": "250 °C"}, "at"),
        ({"points": POINTS, "measured": "2 Ω"}, "measured"),
        ({"points": POINTS, "tolerance": "5"}, "tolerance"),
    ],
)
def test_what_no_such_sensor_has_is_asked_about(texts, place):
    with pytest.raises(CalculationErrors) as refused:
        answer("temperature-sensor", **texts)
    assert [error.place for error in refused.value.errors] == [place]


# ---------------------------------------------------------------- springs and sag


def test_the_rate_of_a_spring_is_that_of_the_textbook():
    """Shigley, Mechanical Engineering Design, example 10-1 (from memory): 0.037 in wire, 7/16 in outside, 10.5 coils,
    11.85 Mpsi: 4.13 lbf/in."""  # fmt: skip
    psi = 0.006894757293168  # N/mm², NIST SP 811 B.8
    rate = spring_rate(0.037 * 25.4, (0.4375 - 0.037) * 25.4, 10.5, 11.85e6 * psi)
    assert rate * 25.4 / 4.4482216152605 == pytest.approx(4.13, rel=0.005)


@pytest.mark.parametrize(
    "pairs",
    ["200 N 10 mm\n400 N 20 mm", "10 mm 200 N\n20 mm 400 N", "200 10\n400 20", "20.394 kg 10 mm\n40.789 kg 20 mm",
     "44.96 lbf 0.3937 in\n44.96 lb 10 mm"],
)  # fmt: skip
def test_a_measured_rate_is_load_over_compression(pairs):
    """20 N/mm; a kilogram weighs 9.80665 N (CGPM 1901), a pound 4.448 N (NIST SP 811 B.8)."""
    if "lb" in pairs:
        pairs = pairs.partition("\n")[0]
    assert answer("spring-rate", pairs=pairs).said.startswith("20 N/mm")


def test_a_progressive_spring_is_told_so():
    found = answer("spring-rate", pairs="100 N 10 mm\n220 N 20 mm\n380 N 30 mm")
    assert any("progressive" in warning for warning in found.warnings)


@pytest.mark.parametrize(
    ("lengths", "said"),
    [
        (("620 mm", "605 mm", "570 mm"), "With the rider 50 mm, 33.3 % of the travel: within the range."),
        (("620 mm", "600 mm", "560 mm"), "With the rider 60 mm, 40 % of the travel: more than the range."),
        (("24.41 in", "24 in", "22.44 in"), "With the rider 50 mm, 33.4 % of the travel: within the range."),
    ],
)  # fmt: skip
def test_sag_is_a_share_of_the_travel(lengths, said):
    free, own, rider = lengths
    texts = {
        "free": free,
        "own": own,
        "rider": rider,
        "travel": "150 mm",
        "least": "30",
        "most": "35",
    }
    assert (
        answer("sag", **texts).said.replace("50.04 mm", "50 mm").replace("50.038 mm", "50 mm")
        == said
    )


def test_the_right_sag_of_the_wrong_spring_is_told():
    """Rider within, machine alone hardly sunk: a soft spring, preloaded (common practice, no source)."""
    texts = {"free": "620 mm", "own": "619 mm", "rider": "570 mm", "travel": "150 mm", "least": "30", "most": "35",
             "own_least": "5", "own_most": "15"}  # fmt: skip
    assert "softer than this rider needs" in answer("sag", **texts).warnings[0]


def test_the_collar_is_turned_by_its_thread():
    """7 mm at the wheel by a ratio of 2.8 are 2.5 mm at the shock: two turns of 1.25 mm."""
    found = answer("preload-collar", now="55 mm", wanted="48 mm", pitch="1.25 mm", ratio="2.8")
    assert found.said == "Tighten it 2 turns: 2.5 mm of preload."


# ---------------------------------------------------------------- load of a tyre


@pytest.mark.parametrize(
    ("index", "loads"),
    [
        (69, (215, 240, 270, 295, 325)),
        (75, (255, 285, 325, 350, 387)),
        (80, (300, 330, 375, 405, 450)),
        (87, (360, 400, 455, 490, 545)),
    ],
)
def test_a_load_by_pressure_is_that_of_the_table(index, loads):
    """Car tyres by load index, at 1.5, 1.7, 2.0, 2.2 and 2.5 bar, the last the full load: Automotive Engineering:
    Powertrain, Chassis System and Vehicle Body (2009), table of chapter 10.1, rounded there to 5 kg."""  # fmt: skip
    for kpa, kg in zip((150, 170, 200, 220, 250), loads, strict=True):
        assert load_at(LOAD_KG[index], 250, kpa) == pytest.approx(kg, abs=3)


@pytest.mark.parametrize("full", ["58", "58W", "(58W)", "236 kg", "MAX LOAD 520.3 lb"])
def test_a_full_load_is_read_as_it_stands_on_the_tyre(full):
    """Load index 58 is 236 kg (ISO 4000-1 / UN R75 Annex 4)."""
    found = answer(
        "tyre-load", full=full, reference="2.9 bar", pressure="2.5 bar", carried="240 kg"
    )
    assert found.said.startswith("About 210 kg at 2.5 bar. 240 kg on it is too much.")
    assert "sets no pressure" in found.warnings[0]


@pytest.mark.parametrize(
    ("change", "place"),
    [({"pressure": "3 bar"}, "pressure"), ({"pressure": "1.5 bar"}, "pressure"), ({"reference": "29 bar"}, "reference"),
     ({"full": "120/70 ZR 17"}, "full"), ({"full": "12"}, "full"), ({"full": "58 kg"}, "full"),
     ({"full": "75/73"}, "full"), ({"exponent": "2"}, "exponent")],
)  # fmt: skip
def test_no_load_is_told_outside_its_bounds(change, place):
    texts = {"full": "58", "reference": "2.9 bar", "pressure": "2.5 bar"} | change
    with pytest.raises(CalculationErrors) as refused:
        answer("tyre-load", **texts)
    assert [error.place for error in refused.value.errors] == [place]
