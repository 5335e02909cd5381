"""Inch and pipe threads, flange heads, wire inserts and stiffness against published tables and worked examples.

Each table names where it was read. What is said to be from memory was not.
"""

import math
from decimal import Decimal
from fractions import Fraction

import pytest

from witnessmark.fasteners import (
    HEAD_IN,
    InsertHole,
    across_flats_mm,
    bolt_class,
    drives_of,
    inch_grade,
    pipe_threads,
    read_inch_thread,
    read_pipe_thread,
    read_thread,
    turned,
)
from witnessmark.fasteners.inch import MPA_PER_KSI, N_PER_LBF, THREADS
from witnessmark.fasteners.inserts import WIRE
from witnessmark.fasteners.turning import CLAMPED, bolt_stiffness, clamped_stiffness

# ---------------------------------------------------------------- inch threads

# Tensile stress area in square inches, ASME B1.1 as a fastener dealer's reference and a table of UNF print it.
AREAS = {
    "#1-64": "0.00262", "#1-72": "0.00278", "#2-56": "0.00370", "#2-64": "0.00394", "#3-48": "0.00487",
    "#3-56": "0.00523", "#4-40": "0.00604", "#4-48": "0.00661", "#5-40": "0.00796", "#6-32": "0.00909",
    "#6-40": "0.01015", "#8-32": "0.0140", "#8-36": "0.0147", "#10-24": "0.0175", "#10-32": "0.0200",
    "#12-24": "0.0242", "#12-28": "0.0258", "1/4-20": "0.0318", "1/4-28": "0.0364", "5/16-18": "0.0524",
    "5/16-24": "0.0580", "3/8-16": "0.0775", "3/8-24": "0.0878", "7/16-14": "0.1063", "7/16-20": "0.1187",
    "1/2-13": "0.1419", "1/2-20": "0.1599", "9/16-12": "0.182", "9/16-18": "0.203", "5/8-11": "0.226",
    "5/8-18": "0.256", "3/4-10": "0.334", "3/4-16": "0.373", "7/8-9": "0.462", "7/8-14": "0.509", "1-8": "0.606",
    "1-12": "0.663",
}  # fmt: skip
OTHERWISE = {"#0-80": 0.0018, "#5-44": 0.0083}  # printed to two digits, and once as 0.00831
# UNF as that table prints it: pitch diameter, basic minor diameter of the nut, in inches.
UNF = {
    "#2-64": (0.0759, 0.0691), "#4-48": (0.0985, 0.0894), "#6-40": (0.1218, 0.1109), "#8-36": (0.1460, 0.1339),
    "#10-32": (0.1697, 0.1562), "#12-28": (0.1928, 0.1773), "1/4-28": (0.2268, 0.2113), "5/16-24": (0.2854, 0.2674),
    "3/8-24": (0.3479, 0.3299), "7/16-20": (0.4050, 0.3834), "1/2-20": (0.4675, 0.4459), "9/16-18": (0.5264, 0.5024),
    "5/8-18": (0.5889, 0.5649), "3/4-16": (0.7094, 0.6823), "7/8-14": (0.8286, 0.7977), "1-12": (0.9459, 0.9098),
}  # fmt: skip


@pytest.mark.parametrize(("size", "area"), AREAS.items(), ids=AREAS)
def test_a_stress_area_is_that_of_the_published_table(size, area):
    """Within one unit of the last digit: they are worked out from rounded diameters."""
    ours = read_inch_thread(size).stress_area_mm2 / 25.4**2
    assert abs(ours - float(area)) <= 10.0 ** Decimal(area).as_tuple().exponent


def test_every_thread_of_ours_stands_in_the_published_table():
    ours = {f"{size}-{n}" for size, pair in THREADS.items() for n in pair if n}
    assert ours == {*AREAS, *OTHERWISE}
    for size, area in OTHERWISE.items():
        assert read_inch_thread(size).stress_area_mm2 / 25.4**2 == pytest.approx(area, abs=5e-5)


@pytest.mark.parametrize(("size", "printed"), UNF.items(), ids=UNF)
def test_unf_diameters_are_those_of_the_published_table(size, printed):
    thread = read_inch_thread(size)
    assert thread.series == "UNF"
    ours = (thread.pitch_diameter_in, thread.minor_diameter_in)
    assert ours == pytest.approx(printed, abs=1.01e-4)


@pytest.mark.parametrize(
    ("grade", "inches", "proof", "yields", "tensile"),
    [
        ("2", 0.25, 55, 57, 74), ("2", 0.75, 55, 57, 74), ("2", 0.875, 33, 36, 60), ("2", 1.5, 33, 36, 60),
        ("5", 0.25, 85, 92, 120), ("5", 1.0, 85, 92, 120), ("5", 1.125, 74, 81, 105), ("8", 1.5, 120, 130, 150),
    ],
)  # fmt: skip
def test_a_grade_has_the_stresses_of_sae_j429(grade, inches, proof, yields, tensile):
    """SAE J429 Table 1 as a bolt maker's page prints it, ksi."""
    held = inch_grade(grade, inches)
    ours = (held.proof_mpa, held.yield_mpa, held.tensile_mpa)
    assert ours == pytest.approx([ksi * MPA_PER_KSI for ksi in (proof, yields, tensile)])


@pytest.mark.parametrize(
    ("size", "pounds"),
    [
        ("1/4-20", 1312), ("1/4-28", 1502), ("5/16-18", 2162), ("5/16-24", 2397), ("3/8-16", 3197), ("3/8-24", 3622),
        ("7/16-14", 4385), ("7/16-20", 4896), ("1/2-13", 5853), ("1/2-20", 6600), ("5/8-11", 9323),
        ("3/4-10", 13778), ("7/8-9", 11435), ("1-8", 14999),
    ],
)  # fmt: skip
def test_three_quarters_of_the_proof_load_of_grade_2_are_the_published_clamping_forces(
    size, pounds
):
    """A dealer's table of grade 2: clamping force = 75 % × proof stress × stress area, its areas to three digits."""
    thread = read_inch_thread(size)
    proof = inch_grade("2", thread.diameter_in).proof_mpa * thread.stress_area_mm2 / N_PER_LBF
    assert 0.75 * proof == pytest.approx(pounds, rel=0.003)


def test_hexagon_heads_are_those_of_the_published_table():
    """ASME B18.2.1, width across flats in mm, as an open library of fasteners has it (it has no 9/16)."""
    published = {
        "1/4": 11.1125, "5/16": 12.7, "3/8": 14.2875, "7/16": 15.875, "1/2": 19.05, "5/8": 23.8125, "3/4": 28.575,
        "7/8": 33.3375, "1": 38.1,
    }  # fmt: skip
    for size, width in published.items():
        ours = float(sum(map(Fraction, HEAD_IN[size].split())))
        assert ours * 25.4 == pytest.approx(width)
    assert HEAD_IN.keys() - published.keys() == {"9/16"}


# ---------------------------------------------------------------- pipe threads

# Size: threads to the inch, major and minor diameter in mm; ISO 228-1 as an open table of pipe threads has it.
G = {
    "1/16": (28, 7.723, 6.561), "1/8": (28, 9.728, 8.566), "1/4": (19, 13.157, 11.445), "3/8": (19, 16.662, 14.950),
    "1/2": (14, 20.955, 18.632), "3/4": (14, 26.441, 24.118), "1": (11, 33.249, 30.292),
}  # fmt: skip
# Size: threads to the inch, outside diameter and pitch in mm; ASME B1.20.1 Table 2 as a reprint has it.
NPT = {
    "1/16": (27, 7.938, 0.941), "1/8": (27, 10.287, 0.941), "1/4": (18, 13.716, 1.411), "3/8": (18, 17.145, 1.411),
    "1/2": (14, 21.336, 1.814), "3/4": (14, 26.670, 1.814), "1": (11.5, 33.401, 2.209),
}  # fmt: skip


@pytest.mark.parametrize("size", G)
def test_pipe_threads_are_those_of_the_published_tables(size):
    """R is at its gauge plane as G is: ISO 7-1 as an engineers' pocket book prints it, 1/8 to 3/8."""
    turns, major, minor = G[size]
    for kind in ("G", "R"):
        thread = read_pipe_thread(f"{kind} {size}")
        assert (thread.per_inch, thread.diameter_mm) == (turns, major)
        assert thread.minor_diameter_mm == pytest.approx(minor, abs=1.1e-3)
    turns, outside, pitch = NPT[size]
    thread = read_pipe_thread(f"{size} NPT")
    assert thread.per_inch == turns
    assert thread.diameter_mm == pytest.approx(outside, abs=6e-4)
    assert thread.pitch_mm == pytest.approx(pitch, abs=6e-4)


def test_where_each_seals_is_what_its_standard_is_for():
    """ISO 228-1: joints that are not tight on the thread; ISO 7-1 and ASME B1.20.1: on the thread."""
    assert {thread.kind: thread.seals.split(",")[0] for thread in pipe_threads()} == {
        "G": "on its washer or ring",
        "R": "in the thread",
        "NPT": "in the thread",
    }


# ---------------------------------------------------------------- flange heads


def test_small_flange_heads_are_those_of_iso_15071():
    """ISO 15071, s max, as an open library of fasteners has it; EN 1662 before it had 16 mm for M12."""
    published = {5: 7, 6: 8, 8: 10, 10: 13, 12: 15, 14: 18, 16: 21}
    assert {d: across_flats_mm("ISO 15071", d) for d in published} == published
    assert across_flats_mm("ISO 15072", 8) == 10
    assert across_flats_mm("ISO 15071", 4) is None
    sizes = {drive.standard: drive.size for drive in drives_of(read_thread("M8"))}
    assert (sizes["ISO 15071"], sizes["ISO 4762"]) == ("10 mm across flats", "6 mm key")
    corners = {
        5: 7.59,
        6: 8.71,
        8: 10.95,
        10: 14.26,
        12: 16.5,
        14: 19.86,
        16: 23.15,
    }  # e min, there too
    for d, e in corners.items():
        assert e < 2 * published[d] / math.sqrt(3) < 1.07 * e


# ---------------------------------------------------------------- wire inserts


def test_a_blind_hole_is_drilled_as_deep_as_the_handbook_says():
    """Machinery's Handbook, 31st ed., p. 1746, example 3: M8 × 1.25, insert 12.0 mm long, "23.5 deep"."""
    hole = InsertHole(read_thread("M8"))
    assert hole.drilled_mm(12.0, bottoming=False) == 23.5
    assert hole.drilled_mm(12.0, bottoming=True) == 17.0  # ASME B18.29.2M: + 2·P + P + P
    assert (
        InsertHole(read_thread("M10")).drilled_mm(15.0, bottoming=False) == 24.0
    )  # no point: + 6·P


@pytest.mark.parametrize(
    ("size", "bored"),
    [("M3", 3.18), ("M4", 4.24), ("M5", 5.27), ("M6", 6.33), ("M8", 8.40), ("M10", 10.47), ("M10x1.25", 10.40),
     ("M12", 12.54)],
)  # fmt: skip
def test_a_hole_as_a_tap_maker_expects_it_lies_in_the_tolerance_above_our_least(size, bored):
    """A tap maker's table of minor diameters in holes for wire inserts: D1 + about 0.1·P."""
    thread = read_thread(size)
    assert 0 < bored - InsertHole(thread).drill_mm < 0.15 * thread.pitch_mm + 0.005


def test_the_wire_is_as_strong_as_the_handbook_says():
    """Machinery's Handbook, 31st ed., p. 1746: "tensile strength not lower than 1035 MPa"."""
    assert WIRE.tensile_mpa == 1035


def test_the_tapped_hole_is_that_of_the_standard():
    """ASME B18.29.2M, basic sizes of M8 × 1.25 STI, from memory: 9.624, 8.812 and 8.271 mm."""
    tapped = InsertHole(read_thread("M8")).tapped
    ours = (tapped.diameter_mm, tapped.pitch_diameter_mm, tapped.minor_diameter_mm)
    assert ours == pytest.approx((9.624, 8.812, 8.271), abs=6e-4)


# ---------------------------------------------------------------- stiffness

MLBF_PER_IN = 1e6 * N_PER_LBF / 25.4  # N/mm


def test_the_bolt_of_a_worked_example_is_as_stiff():
    """Shigley's Mechanical Engineering Design, solution 8-20: M12, 30 mm plain and 15 mm thread, 466.8 MN/m."""
    assert bolt_stiffness(read_thread("M12"), 30, 15) / 1000 == pytest.approx(466.8, rel=0.001)


@pytest.mark.parametrize(
    ("material", "modulus_mpsi", "published"), [("steel", 30.0, 19.18), ("cast iron", 14.5, 9.12)]
)
def test_the_parts_of_a_worked_example_are_as_stiff(material, modulus_mpsi, published):
    """The same, solution 8-19: 5/8 in bolt, grip 1.5 in, in Mlbf/in; the book's moduli are in Mpsi."""
    parts = CLAMPED[material]
    ours = clamped_stiffness(0.625 * 25.4, 1.5 * 25.4, parts) / MLBF_PER_IN
    assert ours * modulus_mpsi * 1e3 * MPA_PER_KSI / parts.modulus_mpa == pytest.approx(
        published, abs=6e-3
    )
    assert parts.modulus_mpa == pytest.approx(modulus_mpsi * 1e3 * MPA_PER_KSI, rel=0.003)


def test_turning_a_bolt_on_something_that_does_not_give_stretches_it_by_all_the_way():
    """By Hooke's law: stretch = F·l/(E·A); whatever the parts give is missing from it."""
    thread = read_thread("M10x1.25")
    for least_or_most in turned(thread, 90, 60, CLAMPED["aluminium"]):
        parts = clamped_stiffness(10, 60, CLAMPED["aluminium"])
        given = least_or_most.added_n / parts
        assert least_or_most.way_mm == pytest.approx(1.25 / 4)
        assert least_or_most.stretch_mm + given == pytest.approx(least_or_most.way_mm)
    stiff = turned(thread, 90, 60, CLAMPED["steel"])[1]
    assert stiff.added_n == pytest.approx(
        stiff.stretch_mm * 207_000 * math.pi * 25 / 60
    )  # a plain shank of 10 mm
    assert (
        bolt_class("10.9").yield_mpa * thread.stress_area_mm2 < stiff.added_n
    )  # a quarter turn is much
