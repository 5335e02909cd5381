"""Bolts of a circle, in the order in which they are made tight (common practice, no source)."""

from __future__ import annotations

from math import gcd


def star(count: int) -> tuple[int, ...]:
    """A star of `count` fasteners on a circle: each next one as far across as goes; every place once.

    An even number goes by pairs that stand opposite, each next pair as far from the last as goes. Of 8, 12 and 16
    that is the order ASME PCC-1 gives for the bolts of a flange (from memory).
    """
    if count % 2 == 0:
        half = count // 2
        return tuple(place for first in star(half) for place in (first, first + half))
    across = next((n for n in range(count // 2, 0, -1) if gcd(n, count) == 1), 1)
    return tuple(across * turn % count + 1 for turn in range(count))
