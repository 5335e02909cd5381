"""Shims under valves, against trying every plan."""

from collections import Counter
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.shims import Shelf, ShimError, Valve, assign, needed, read_stamp, window

STEP = 25  # micrometres


def mm(um):
    return um / 1000


def plans(valves, shelf, every):
    """All plans there are, as (bought, off, from the box): each valve tries every piece and every size sold."""
    moved = [v for v in valves if every or not v.within]
    out = [round(v.fitted * 1000) for v in moved]
    sold = range(round(shelf.least * 1000), round(shelf.most * 1000) + 1, STEP)
    choices = [
        [("out", size) for size in set(out)]
        + [("box", round(size * 1000)) for size in shelf.box]
        + [("buy", size) for size in sold]
        for _ in moved
    ]
    there = {
        "out": Counter(out),
        "box": Counter({round(s * 1000): n for s, n in shelf.box.items()}),
    }
    for plan in product(*choices):
        used = Counter(plan)
        if any(n > there[kind][size] for (kind, size), n in used.items() if kind != "buy"):
            continue
        left = [
            round(v.measured * 1000) + round(v.fitted * 1000) - s
            for v, (_, s) in zip(moved, plan, strict=True)
        ]
        if all(
            round(v.least * 1000) <= c <= round(v.most * 1000)
            for v, c in zip(moved, left, strict=True)
        ):
            off = sum(
                abs(2 * c - round((v.least + v.most) * 1000))
                for v, c in zip(moved, left, strict=True)
            )
            kinds = Counter(kind for kind, _ in plan)
            yield kinds["buy"], off, kinds["box"]


VALVES = st.lists(
    st.tuples(st.integers(40, 320), st.integers(20, 26)), min_size=1, max_size=3
).map(lambda some: [
    Valve(f"valve {n}", mm(measured), mm(size * 100), 0.15, 0.21) for n, (measured, size) in enumerate(some, 1)
])  # fmt: skip
BOXES = st.dictionaries(
    st.integers(80, 104).map(lambda n: mm(n * STEP)), st.integers(0, 2), max_size=4
)


@given(VALVES, BOXES, st.booleans())
def test_no_plan_buys_fewer_nor_comes_closer_nor_takes_less_from_the_box(valves, box, every):
    """Against every plan: fewest bought, then least distance from the targets, then fewest from the box."""
    shelf = Shelf(box, least=2.0, most=2.6)
    best = min(plans(valves, shelf, every), default=None)
    if best is None:
        with pytest.raises(ShimError):
            assign(valves, shelf, all_valves=every)
        return
    work = assign(valves, shelf, all_valves=every)
    moved = [one for one in work.fittings if every or not one.valve.within]
    off = round(sum(one.off for one in moved) * 2000)
    boxed = sum(one.source == "box" for one in moved)
    assert (len(work.to_buy), off, boxed) == best
    assert all(
        one.valve.least - 1e-9 <= one.clearance <= one.valve.most + 1e-9 for one in work.fittings
    )


def test_a_shim_that_came_out_goes_under_another_valve_before_one_is_bought():
    valves = [
        Valve("inlet 1", 0.10, 2.350, 0.15, 0.20),  # wants 2.250 to 2.300
        Valve("inlet 2", 0.30, 2.275, 0.15, 0.20),  # wants 2.375 to 2.425
    ]
    work = assign(valves, Shelf(step=0.05))
    first, second = work.fittings
    assert (first.shim, first.source, first.came_from) == (2.275, "came out", "inlet 2")
    assert (second.source, work.to_buy, work.left_over) == ("to buy", (2.4,), (2.35,))


def test_a_valve_within_limits_keeps_its_shim_unless_all_are_to_be_set():
    """Equality with a limit is within."""
    valve = Valve("inlet", 0.15, 2.3, 0.15, 0.21)
    assert assign([valve], Shelf({2.275: 1})).fittings[0].source == "stays"
    assert assign([valve], Shelf({2.275: 1}), all_valves=True).fittings[0].shim == 2.275


def test_a_window_no_size_falls_into_is_named():
    """Sizes in steps of 0.05 mm can miss a window of 0.02 mm."""
    with pytest.raises(ShimError) as caught:
        assign([Valve("exhaust 3", 0.30, 2.32, 0.19, 0.21)], Shelf(step=0.05))
    assert caught.value.place == "exhaust 3"
    assert "needs a shim of 2.410 to 2.430 mm" in caught.value.problem


@given(st.text(max_size=12))
def test_a_stamp_is_read_or_refused(text):
    try:
        value = read_stamp(text)
    except ShimError as error:
        said = error.as_dict()
        assert all(said.values())
    else:
        assert text.strip().isdecimal()
        assert 0.5 <= value <= 6


@pytest.mark.parametrize(("stamp", "thick"), [("155", 1.55), ("2275", 2.275), (" 270 ", 2.7)])
def test_stamps(stamp, thick):
    assert read_stamp(stamp) == thick


@given(st.integers(500, 6000), st.integers(0, 2000), st.integers(0, 1000), st.integers(0, 1000))
def test_the_shim_needed_gives_the_clearance_wanted(fitted, measured, one, two):
    least, most = sorted((one, two))
    thin, thick = window(mm(fitted), mm(measured), mm(least), mm(most))
    assert round(thin * 1000) + most == fitted + measured == round(thick * 1000) + least
    assert needed(mm(fitted), mm(measured), mm(least)) == thick
