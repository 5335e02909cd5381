"""The order in which a group is made tight."""

from itertools import pairwise

import pytest

from witnessmark.book.sequence import star


@pytest.mark.parametrize(
    ("count", "order"), [(5, (1, 3, 5, 2, 4)), (4, (1, 3, 2, 4)), (6, (1, 4, 2, 5, 3, 6))]
)
def test_star_crosses_the_circle(count: int, order: tuple[int, ...]) -> None:
    """Common practice, no source: each next bolt of a wheel lies across from the last."""
    assert star(count) == order


@pytest.mark.parametrize("count", range(1, 61))
def test_star_visits_every_place_once_and_never_goes_to_a_neighbour(count: int) -> None:
    """From five on, no two that follow each other sit side by side on the circle."""
    order = star(count)
    assert sorted(order) == list(range(1, count + 1))
    steps = {(b - a) % count for a, b in pairwise(order)}
    assert count < 5 or not steps & {1, count - 1}
