"""Sweeps over many like things: a share of them in `make test`, all of them in `make test-long`."""

from collections.abc import Iterable, Sequence
from typing import TypeVar

import pytest

Thing = TypeVar("Thing")


def swept(one_of: int) -> pytest.MarkDecorator:
    """Runs a test with ``step``: once to look at one thing of so many, and as a long test to look at each."""
    return pytest.mark.parametrize(
        "step",
        [
            pytest.param(one_of, id=f"one of {one_of}"),
            pytest.param(1, id="all", marks=pytest.mark.long),
        ],
    )


def share(things: Iterable[Thing], step: int) -> Sequence[Thing]:
    """Each step-th of the things, the same ones every time."""
    return list(things)[::step]


# The phone is the narrower one; what fits there seldom fails on the tablet.
either_size = pytest.mark.parametrize(
    "size", ["phone", pytest.param("tablet", marks=pytest.mark.long)]
)
