"""The order in which a group is made tight."""

from itertools import pairwise

import pytest

from witnessmark.fasteners import star


@pytest.mark.parametrize(
    ("count", "order"), [(5, (1, 3, 5, 2, 4)), (4, (1, 3, 2, 4)), (6, (1, 4, 2, 5, 3, 6))]
)
def test_star_crosses_the_circle(count: int, order: tuple[int, ...]) -> None:
    """Common practice, no source: each next bolt of a wheel lies across from the last."""
    assert star(count) == order


@pytest.mark.parametrize(
    ("count", "order"),
    [
        (8, (1, 5, 3, 7, 2, 6, 4, 8)),
        (12, (1, 7, 4, 10, 2, 8, 5, 11, 3, 9, 6, 12)),
        (16, (1, 9, 5, 13, 3, 11, 7, 15, 2, 10, 6, 14, 4, 12, 8, 16)),
    ],
)
def test_many_go_by_quarters_as_the_bolts_of_a_flange_do(
    count: int, order: tuple[int, ...]
) -> None:
    """ASME PCC-1, star pattern; from memory."""
    assert star(count) == order


@pytest.mark.parametrize("count", range(1, 61))
def test_star_visits_every_place_once_and_never_goes_to_a_neighbour(count: int) -> None:
    """From five on, no two that follow each other sit side by side on the circle."""
    order = star(count)
    assert sorted(order) == list(range(1, count + 1))
    steps = {(b - a) % count for a, b in pairwise(order)}
    assert count < 5 or not steps & {1, count - 1}
