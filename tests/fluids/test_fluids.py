"""Packs, strokes and stages, against trying everything out."""

from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.fluids import FluidError, containers, stages, strokes


@pytest.mark.parametrize(
    ("volume", "sizes", "packs", "left"),
    [
        (4500, [1000, 4000], ((4000, 1), (1000, 1)), 500),
        (180, [500, 250], ((250, 1),), 70),
        (700, [500, 250], ((500, 1), (250, 1)), 50),
        (2000, [1000, 500], ((1000, 2),), 0),
        (6000, [4000, 3000, 1000], ((3000, 2),), 0),  # the largest first would take three
        (3600, [946.352946, 1000.0], ((946.352946, 4),), 185.411784),  # US quarts beside litres
        (0.3, [0.1], ((0.1, 3),), 0),  # no float dust
    ],
)
def test_packs_to_open(volume, sizes, packs, left):
    found = containers(volume, sizes)
    assert (found.packs, found.left_over_ml) == (packs, left)


def test_four_and_a_half_litres_from_one_and_four_litre_packs_in_words():
    """Common practice, no source: the worked example of an oil change."""
    assert containers(4500, [1000, 4000]).words == "1 × 4 L, 1 × 1 L (500 mL left over)"


SIZES = st.lists(st.integers(1, 12), min_size=1, max_size=3, unique=True)


@given(st.integers(1, 40), SIZES, st.none() | st.lists(st.integers(0, 4), min_size=3, max_size=3))
def test_no_other_choice_of_packs_leaves_less_over_or_takes_fewer(volume, sizes, numbers):
    """Against all choices: first the least left over, then the fewest packs."""
    most = dict(zip(sizes, numbers or [volume] * 3, strict=False))
    choices = [
        (sum(size * n for size, n in zip(sizes, choice, strict=True)) - volume, sum(choice))
        for choice in product(*(range(min(most[size], -(-volume // size)) + 1) for size in sizes))
    ]
    covering = [choice for choice in choices if choice[0] >= 0]
    at_hand = None if numbers is None else {float(size): n for size, n in most.items()}
    if not covering:
        with pytest.raises(FluidError):
            containers(volume, sizes, at_hand=at_hand)
        return
    found = containers(volume, sizes, at_hand=at_hand)
    assert (found.left_over_ml, found.count) == min(covering)
    assert found.total_ml == sum(size * n for size, n in found.packs)
    assert all(n <= most[size] for size, n in found.packs)


def test_the_largest_input_is_still_summed_up_exactly_and_beyond_it_refused():
    sizes = [997, 1000, 1003, 946, 4000]
    assert containers(99_999, sizes).left_over_ml == 0
    with pytest.raises(FluidError, match="too much to cover"):
        containers(100_001, sizes)


@pytest.mark.parametrize(
    ("volume", "sizes"),
    [(0, [1]), (-1, [1]), (float("nan"), [1]), (float("inf"), [1]), (1, []), (1, [0]), (1, range(1, 20)), (9, [1e-9])],
)  # fmt: skip
def test_volumes_and_packs_that_are_none_are_refused(volume, sizes):
    with pytest.raises(FluidError):
        containers(volume, sizes)


@given(st.decimals("0.1", "5000", places=1), st.decimals("1", "500", places=1))
def test_strokes_put_in_exactly_the_volume(volume, syringe):
    found = strokes(float(volume), float(syringe))
    each, last = (Fraction(repr(part)) for part in (found.each_ml, found.last_ml))
    assert (found.count - 1) * each + last == Fraction(volume)
    assert 0 < last <= each <= Fraction(syringe)


def test_about_180_mL_by_a_60_mL_syringe_is_three_strokes():
    """Common practice, no source: a final drive filled by syringe."""
    assert strokes(180, 60).words == "3 × 60 mL"
    assert strokes(200, 60).words == "3 × 60 mL, then 20 mL"
    assert strokes(50, 60).words == "50 mL"


def test_four_and_a_half_litres_go_in_as_three_and_a_half_then_one():
    """Common practice, no source: most first, run the engine, then to the mark."""
    assert (stages(4500, 1000).first_ml, stages(4500, 1000).top_up_ml) == (3500, 1000)
    assert stages(4.5, 0.2).first_ml == 4.3  # as the decimals say, not as floats subtract


def test_holding_back_the_whole_filling_is_refused():
    with pytest.raises(FluidError, match="leaves nothing to fill first"):
        stages(1000, 1000)
