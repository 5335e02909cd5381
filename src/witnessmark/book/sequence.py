"""In which order the fasteners of a group are made tight (common practice, no source)."""

from __future__ import annotations

from math import gcd

from witnessmark.book.model import Fastener


def in_sequence(fastener: Fastener) -> tuple[int, ...]:
    """The places 1 … n of a group in its order: a star crosses the circle, alternate takes every other one first.

    Example: a star of five is 1 3 5 2 4, of four 1 3 2 4, of six 1 4 2 5 3 6.
    """
    places = range(1, fastener.count + 1)
    if fastener.sequence == "star":
        return star(fastener.count)
    if fastener.sequence in {"alternate", "alternate until still"}:
        return (*places[::2], *places[1::2])
    return tuple(places)


def rounds(fastener: Fastener) -> tuple[str, ...]:
    """The figures of the group's rounds, each gone through by every one of it: stages, torque, then turn.

    One round for most: its torque. The last one makes it tight.
    """
    named = (*fastener.stages, fastener.figure, fastener.turn)
    return tuple(figure for figure in named if figure is not None)


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
