"""Our threads and drives against the tables of a general library, bd_warehouse (`remake_threads.py`)."""

import pytest

from tests.outside.tables import rows_of
from witnessmark.fasteners import FastenerError, across_flats_mm, read_thread, threads
from witnessmark.fasteners.drives import HEX_HEAD, HEX_SOCKET, STAR_FOR, STAR_MM
from witnessmark.fasteners.tightening import _HOLE_MM

ROWS = [tuple(row.values()) for row in rows_of("threads")]
NOT_IN_ISO_261 = {  # pitches of before ISO, still sold as taps
    "M1.5-0.35", "M2-0.45", "M3-0.6", "M4-0.75", "M5-1", "M5-0.9", "M5.5-0.9", "M19-2.5", "M21-2",
}  # fmt: skip
WRONG_THERE = ("M22-2.5", 18.5)  # a slip of the library: 22 − 2.5 is 19.5
WHOLE_MM = {12.0: 14.0, 14.0: 16.0, 16.0: 18.0}  # it rounds ISO 273's 13.5, 15.5 and 17.5 up


def of(kind: str) -> list[tuple[str, float]]:
    return [(size, float(value)) for name, size, value in ROWS if name == kind]


def diameter_of(size: str) -> float:
    return read_thread(size.replace("-", "x")).diameter_mm


@pytest.mark.parametrize(("size", "drill"), of("tap drill"))
def test_a_tap_drill_is_diameter_less_pitch_and_its_thread_is_ours(size, drill):
    """ISO 2306: d − P, to the next drill; a pitch that ISO 261 does not have is refused."""
    written = size.replace("-", "x")
    if size in NOT_IN_ISO_261:
        with pytest.raises(FastenerError):
            read_thread(written)
        return
    thread = read_thread(written)
    if (size, drill) == WRONG_THERE:
        drill = 19.5
    assert drill == pytest.approx(thread.diameter_mm - thread.pitch_mm, abs=0.1 + 1e-9)
    assert thread.minor_diameter_mm < drill < thread.pitch_diameter_mm


THEIRS_ALONE = {  # sizes of the library that ours leave out: not found at motorcycles
    "ISO 4762": {36, 42, 48, 56, 64}, "ISO 4014": set(), "DIN 931": {1.6, 2, 2.5, 3, 3.5, 36},
    "ISO 7380-1": set(), "ISO 10642": {18, 22, 24},
}  # fmt: skip
TOLERANCE_MM = 0.22  # of the two last it lists the greatest width that a key may meet


@pytest.mark.parametrize("kind", THEIRS_ALONE)
def test_widths_are_those_of_the_library(kind):
    ours = HEX_SOCKET.get(kind) or HEX_HEAD[kind]
    theirs = {diameter_of(size): value for size, value in of(kind)}
    assert ours.keys() == theirs.keys() - THEIRS_ALONE[kind]
    most = TOLERANCE_MM if kind in ("ISO 7380-1", "ISO 10642") else 0
    for diameter in ours:
        width = across_flats_mm(kind, diameter)
        assert width is not None
        assert 0 <= theirs[diameter] - width <= most + 1e-9
    assert across_flats_mm(kind, 5.5) is None


def test_stars_are_those_of_the_library():
    """Heads of ISO 14580 are lower and take the same up to M10 (from memory); M8 stands in drive_sizes.csv."""
    for kind, ours in (("star of ISO 14580", "ISO 14579"), ("star of ISO 14583", "pan head")):
        theirs = {diameter_of(size): star for name, size, star in ROWS if name == kind}
        shared = {d: star for d, star in STAR_FOR[ours].items() if d <= 10 and d != 8}
        assert shared == {d: theirs[d] for d in theirs if d in shared}
        assert theirs.keys() - STAR_FOR[ours].keys() <= {3.5, 10}
        assert [*STAR_FOR[ours].values()] == [s for s in STAR_MM if s in STAR_FOR[ours].values()]
    larger = {12: "T55", 14: "T60", 16: "T70", 18: "T80", 20: "T90"}  # ISO 14579, from memory
    assert {d: star for d, star in STAR_FOR["ISO 14579"].items() if d > 10} == larger


def test_coarse_pitches_are_those_of_the_library():
    """Every head of theirs is on a coarse thread."""
    sizes = {size for kind in ("ISO 4762", "ISO 4014") for size, _ in of(kind)}
    ours = {f"M{t.diameter_mm:g}-{t.pitch_mm:g}" for t in threads() if t.coarse}
    assert len(sizes) > 20
    assert sizes <= ours


def test_clearance_holes_and_stars_are_those_of_the_library():
    holes = {float(size[1:]): value for size, value in of("clearance hole")}
    assert {d: WHOLE_MM.get(d, hole) for d, hole in _HOLE_MM.items()} == {
        d: holes[d] for d in _HOLE_MM
    }
    assert {size: pair[0] for size, pair in STAR_MM.items()} == dict(of("star A"))
    assert {size: pair[1] for size, pair in STAR_MM.items()} == dict(of("star B"))
