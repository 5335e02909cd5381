"""In which order the fasteners of a group are made tight (common practice, no source)."""

from __future__ import annotations

from witnessmark.book.model import Fastener
from witnessmark.fasteners import star


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
