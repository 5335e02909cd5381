"""What another model of the shop says of the same figure: taken over it is unproven until somebody looked it up."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from typing import Any, NamedTuple

from witnessmark.book.figures import SAME_AS, figure_state
from witnessmark.book.model import Book, Fastener, Figure
from witnessmark.book.sequence import rounds
from witnessmark.book.vocabulary import block, slots


class SameAs(NamedTuple):
    """A figure of another model, and the source it has once it is taken over."""

    book: Book
    figure: Figure
    source: str  # "same as Orlo 80, Workshop manual, page 9"


def same_as(book: Book, name: str, others: Iterable[Book]) -> list[SameAs]:
    """The proven figures of siblings that may be taken over for that figure, those of the same maker first.

    A sibling has the same maker, or is built of the same block in what the figure belongs to. Its figure has the
    same id and quantity, and is of the same fasteners: never of others.
    """
    found = [
        (not _same_maker(book, other), other.title, SameAs(other, figure, _source(other, figure)))
        for other in others
        if other.name != book.name
        and (figure := other.figures.get(name)) is not None
        and figure.quantity == book.figures[name].quantity
        and figure_state(figure) == "proven"
        and _related(book, other, name)
        and _same_fasteners(book, other, name)
    ]
    return [one for _, _, one in sorted(found, key=lambda row: row[:2])]


def _source(other: Book, figure: Figure) -> str:
    return f"{SAME_AS} {other.title}, {figure.source}"


def _same_maker(one: Book, other: Book) -> bool:
    if one.machine is None or other.machine is None:
        return False
    return one.machine.maker.casefold() == other.machine.maker.casefold()


def _related(book: Book, other: Book, name: str) -> bool:
    return _same_maker(book, other) or any(
        other.build.get(slot) == choice
        for slot, choice in book.build.items()
        if name in _figures_of_block(slot, choice.get("is", ""))
    )


@cache
def _figures_of_block(slot: str, name: str) -> frozenset[str]:
    """The figures that a block speaks of, whatever is chosen inside it."""
    if slot not in slots() or name not in slots()[slot].blocks:
        return frozenset()
    return frozenset(_declared(block(slot, name).data))


def _declared(data: Mapping[str, Any]) -> Iterator[str]:
    yield from data.get("figures", {})
    for kind in ("when", "with"):
        for ways in data.get(kind, {}).values():
            for more in ways.values():
                yield from _declared(more)


def _same_fasteners(book: Book, other: Book, name: str) -> bool:
    """Whether both tighten the same to it; of another maker's only where every thread is named."""
    ours, theirs = _fasteners(book, name), _fasteners(other, name)
    if ours.keys() != theirs.keys() or any(_what(ours[f]) != _what(theirs[f]) for f in ours):
        return False
    return _same_maker(book, other) or all(one.thread for one in ours.values())


def _fasteners(book: Book, figure: str) -> dict[str, Fastener]:
    return {name: one for name, one in book.fasteners.items() if figure in rounds(one)}


def _what(one: Fastener) -> tuple[object, ...]:
    """What tells one fastener from another, and how it is made tight."""
    return (
        one.kind, one.thread, one.property_class, one.screwed_into, one.engagement, one.treatment,
        one.count, one.stages, one.turn,
    )  # fmt: skip
