"""Inch and pipe threads as people write them, what is alike, inserts, and angles in flats."""

import contextlib
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.fasteners import (
    CLASSES,
    LENGTHS_D,
    MATERIALS,
    FastenerError,
    InchThread,
    InsertHole,
    PipeThread,
    alike,
    bolt_class,
    holds_from_d,
    in_flats,
    inch_grade,
    material,
    pipe_threads,
    read_inch_thread,
    read_pipe_thread,
    read_thread,
    threads,
)
from witnessmark.fasteners.inch import THREADS, inches
from witnessmark.fasteners.pipe import KINDS, SIZES

UNIFIED = [InchThread(size, inches(size), n) for size, pair in THREADS.items() for n in pair if n]
PIPES = [PipeThread(kind, size) for kind in KINDS for size in SIZES]

# ---------------------------------------------------------------- as people write them


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("1/4-20", "1/4-20 UNC"), ("1/4 20", "1/4-20 UNC"), ('1/4"-28', "1/4-28 UNF"), ("1/4 UNC", "1/4-20 UNC"),
        ("1/4-20 UNC-2A", "1/4-20 UNC"), ("3/8 x 24", "3/8-24 UNF"), ("5/16unf", "5/16-24 UNF"),
        ("10-32", "#10-32 UNF"), ("#10-24", "#10-24 UNC"), ("No. 10 - 32 UNF", "#10-32 UNF"), ("#8 UNC", "#8-32 UNC"),
        ("1-8", "1-8 UNC"), ("1-64", "#1-64 UNC"), (".25-20", "1/4-20 UNC"), ("0.3125-18", "5/16-18 UNC"),
        ("7/16-20 LH", "7/16-20 UNF LH"), ("1/4 20 tpi", "1/4-20 UNC"), ("1/4–20", "1/4-20 UNC"),
    ],
)  # fmt: skip
def test_an_inch_thread_is_read_as_people_write_it(typed, name):
    assert read_inch_thread(typed).name == name


@pytest.mark.parametrize(
    ("typed", "problem", "expected"),
    [
        ("1/4", "no pitch", "1/4-20 or 1/4-28"),
        ("10", "no pitch", "#10-24 or #10-32"),
        ("1/4-24", "neither coarse nor fine", "1/4-20 or 1/4-28"),
        ("1/4-20 UNF", "neither coarse nor fine", "1/4-20 or 1/4-28"),
        ("#1-8", "neither coarse nor fine", "#1-64 or #1-72"),
        ("15/16-16", "no size known", '"5/16"'),
        ("1/0-20", "no size known", '"5/16"'),
        (".26-20", "no size known", '"5/16"'),
        ("M6", "metric thread", "Sizes of a thread"),
        ("1/4 BSF", "British thread", "1/4-20 UNC"),
        ("1/4 NPT", "pipe thread", "Pipe thread of a plug"),
        ("bolt", "no inch thread that can be read", "1/4-20 UNC"),
    ],
)
def test_what_is_no_inch_thread_is_told(typed, problem, expected):
    with pytest.raises(FastenerError) as refused:
        read_inch_thread(typed, place="here")
    assert refused.value.place == "here"
    assert problem in refused.value.problem
    assert expected in refused.value.expected


@pytest.mark.parametrize(
    ("typed", "name", "tapered"),
    [
        ("G1/4", "G 1/4", False), ("g 1/4 A", "G 1/4", False), ("R1/8", "R 1/8", True), ("Rc 1/4", "Rc 1/4", True),
        ("Rp1/4", "Rp 1/4", False), ("1/4 NPT", "1/4-18 NPT", True), ("NPT 1/8", "1/8-27 NPT", True),
        ("1/8-27 NPT", "1/8-27 NPT", True), ("PT 1/8", "R 1/8", True), ("1/4 BSPP", "G 1/4", False),
        ('1/8" BSPT', "R 1/8", True), ("PF1/4", "G 1/4", False), ("1-11.5 NPT", "1-11.5 NPT", True),
        ("1/8 NPTF", "1/8-27 NPT", True),
    ],
)  # fmt: skip
def test_a_pipe_thread_is_read_as_people_write_it(typed, name, tapered):
    thread = read_pipe_thread(typed)
    assert (thread.name, thread.tapered) == (name, tapered)


@pytest.mark.parametrize(
    ("typed", "problem", "expected"),
    [
        ("1/4", "parallel or a tapered", "G 1/4, R 1/4 or 1/4 NPT"),
        ("1/4-18", "parallel or a tapered", "G 1/4, R 1/4 or 1/4 NPT"),
        ("1/4 BSP", "parallel or tapered", "G 1/4 where it is parallel"),
        ("1/4 gas", "parallel or tapered", "G 1/4 where it is parallel"),
        ("1/4-19 NPT", "18 threads to the inch, not 19", "count them again"),
        ("G 1/3", "no pipe thread that can be read", '"1/4"'),
        ("M14x1.5", "no pipe thread that can be read", "Sizes of a thread"),
    ],
)
def test_what_is_no_pipe_thread_is_told(typed, problem, expected):
    with pytest.raises(FastenerError) as refused:
        read_pipe_thread(typed, place="here")
    assert refused.value.place == "here"
    assert problem in refused.value.problem
    assert expected in refused.value.expected


@pytest.mark.parametrize("thread", [*UNIFIED, *PIPES], ids=lambda thread: thread.name)
def test_every_thread_is_read_by_its_own_name(thread):
    read = read_inch_thread if isinstance(thread, InchThread) else read_pipe_thread
    assert read(thread.name) == thread


@given(st.text(st.sampled_from("0123456789/.-x #\"″'GRcpNPTBSUFLHinAoM"), max_size=14))
def test_whatever_is_typed_is_one_thread_of_one_system_or_refused(typed):
    """No text is an inch thread and a pipe thread, nor either of them and a metric one that has its M."""
    found = []
    for read in (read_inch_thread, read_pipe_thread, read_thread):
        with contextlib.suppress(FastenerError):
            found.append(read(typed))
    assert len(found) <= 1
    for thread in found:
        assert re.sub(r"\D", "", thread.name)[:1] in typed


# ---------------------------------------------------------------- what is alike


def test_what_a_thread_is_mixed_up_with_is_found_from_either_side():
    """5/16-18 and M8, #10-32 and M5, G 1/8 and M10x1: common practice, no source."""

    def names(thread):
        return [other.name for other in alike(thread)]

    assert names(read_inch_thread("5/16-18"))[0] == "M8"
    assert "M5" in names(read_inch_thread("10-32"))
    assert names(read_pipe_thread("G 1/8"))[0] == "M10x1"
    assert "5/16-18 UNC" in names(read_thread("M8"))
    assert "G 1/8" in names(read_thread("M10x1"))
    assert "M8x1" not in names(read_inch_thread("5/16-18"))  # a pitch far finer does not start


@pytest.mark.parametrize("thread", [*UNIFIED, *pipe_threads()], ids=lambda thread: thread.name)
def test_what_is_alike_is_of_another_system_and_near(thread):
    for other in alike(thread):
        assert type(other) is not type(thread)
        assert abs(other.diameter_mm - thread.diameter_mm) <= 0.5
        assert 0.88 <= other.pitch_mm / thread.pitch_mm <= 1 / 0.88


# ---------------------------------------------------------------- grades, inserts, flats


def test_a_grade_that_is_none_is_told():
    with pytest.raises(FastenerError) as refused:
        inch_grade("7", 0.5)
    assert "“7” is no grade" in refused.value.problem
    assert "2, 5 and 8" in refused.value.expected
    with pytest.raises(FastenerError):
        inch_grade("8", 1.6)


@given(
    st.sampled_from([t for t in threads() if 4 <= t.diameter_mm <= 16]),
    st.sampled_from(sorted(MATERIALS)),
)
def test_a_longer_insert_holds_more_and_the_one_named_is_the_first_that_outlasts_the_bolt(
    thread, into
):
    hole, metal = InsertHole(thread), material(into)
    holds = [hole.torn_out_at_n(n * thread.diameter_mm, metal) for n in LENGTHS_D]
    assert holds == sorted(holds)
    for name in CLASSES:
        with contextlib.suppress(FastenerError):
            bolt = bolt_class(name, thread.diameter_mm)
            breaks = thread.stress_area_mm2 * bolt.tensile_mpa
            first = next(
                (n for n, force in zip(LENGTHS_D, holds, strict=True) if force >= breaks), None
            )
            assert holds_from_d(thread, bolt, metal) == first


def test_the_usual_length_of_an_insert_comes_out():
    """One and a half to two and a half diameters for 8.8 in cast aluminium: common practice, no source."""
    bolt, cast = bolt_class("8.8"), material("aluminium casting")
    assert {
        holds_from_d(read_thread(size), bolt, cast) for size in ("M5", "M6", "M8", "M10", "M12")
    } <= {1.5, 2.0, 2.5}
    assert (
        holds_from_d(read_thread("M10x1"), bolt_class("12.9"), material("magnesium casting"))
        is None
    )
    assert holds_from_d(read_thread("M8"), bolt, material("steel")) == 1.0


@pytest.mark.parametrize(
    ("angle", "flats"),
    [(60, "1 flat"), (90, "1 1/2 flats"), (120, "2 flats"), (45, "3/4 flat"), (30, "1/2 flat"), (15, "1/4 flat"),
     (180, "3 flats"), (75, "1 1/4 flats"), (100, "1 flat and 40°"), (160, "2 flats and 40°"), (50, "50°"),
     (360, "6 flats")],
)  # fmt: skip
def test_an_angle_is_told_in_flats_of_sixty_degrees(angle, flats):
    """Plain arithmetic: six flats to the turn."""
    assert in_flats(angle) == flats
