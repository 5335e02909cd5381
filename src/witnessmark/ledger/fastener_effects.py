"""What making fasteners tight does besides: rounds, who is tight before whom, what shows that it lasts."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.book.model import Book, Fastener
from witnessmark.book.select import steps
from witnessmark.book.sequence import rounds
from witnessmark.ledger import ids
from witnessmark.ledger.ids import ItemId
from witnessmark.ledger.table import Effect, Item

SECURED_WORDS = {
    "stripe": "paint stripe across it",
    "wire": "wired",
    "pin": "pin in, and bent",
    "tab": "tab bent up",
    "compound": "thread-locking compound on it",
}
STILL = "alternate until still"

Events = dict[str, tuple[Effect, ...]]


def group_of(book: Book, name: str) -> list[ItemId]:
    """The items of a group, one each."""
    return [ids.fastener(name, i) for i in range(1, book.fasteners[name].count + 1)]


def rounds_of(book: Book, name: str) -> list[ItemId]:
    """The items of a group's rounds before the last."""
    fastener = book.fasteners[name]
    return [
        ids.round(name, i, k)
        for i in range(1, fastener.count + 1)
        for k in range(1, len(rounds(fastener)))
    ]


def shown_of(fastener: Fastener, name: str) -> list[ItemId]:
    """The items that are shown for the group whole: still, secured."""
    still = [ids.still(name)] if fastener.sequence == STILL else []
    return still + ([ids.secured(name)] if fastener.secured_by else [])


def opened_too(book: Book, name: str) -> list[ItemId]:
    """What is open again when the group is loosened."""
    return [*rounds_of(book, name), *shown_of(book.fasteners[name], name)]


def items(book: Book, name: str, item: Item) -> Iterator[tuple[str, Item]]:
    """The items of a group besides its fasteners; ``item``: what is true of them."""
    fastener = book.fasteners[name]
    for i in range(1, fastener.count + 1):
        one = one_of(fastener, i, item)
        for k in range(1, len(rounds(fastener))):
            figure = book.figures[rounds(fastener)[k - 1]].text
            yield ids.round(name, i, k), one.model_copy(update={"detail": f"round {k}: {figure}"})
    text = f"{fastener.text}: the last round"
    for shown in shown_of(fastener, name):
        if shown.kind == "secured":
            text = f"{fastener.text}: {SECURED_WORDS[fastener.secured_by or 'stripe']}"
        yield shown, item.model_copy(update={"text": text})


def one_of(fastener: Fastener, place: int, item: Item) -> Item:
    """One of a group; ``item``: what is true of them all."""
    if fastener.count == 1:
        return item
    return item.model_copy(update={"places": (place,), "count": fastener.count})


def tightening(book: Book, name: str) -> tuple[Effect, ...]:
    """What comes with the last round of one of the group, besides its closing."""
    fastener = book.fasteners[name]
    effects = [Effect(do="want", item=i) for i in rounds_of(book, name)]
    still, secured = ids.still(name), ids.secured(name)
    if fastener.sequence == STILL:
        effects.append(Effect(do="open", item=still))
    if fastener.secured_by:
        effects.append(Effect(do="want", item=secured))
    return (*effects, *behind(book, name), *read_again(book, name))


def behind(book: Book, name: str, beside: tuple[str, ...] = ()) -> Iterator[Effect]:
    """Fasteners that must come after this one, made tight before it: they are open again."""
    for follower, fastener in book.fasteners.items():
        if fastener.behind == name and follower not in beside:
            yield from (Effect(do="void", item=i) for i in group_of(book, follower))


def read_again(book: Book, name: str) -> Iterator[Effect]:
    """Readings that are taken once more after this one."""
    for step_id, step in steps(book).items():
        for reading in step.readings:
            if name in book.readings[reading].again_after:
                yield Effect(do="open", item=ids.reading(step_id, reading))


def events(book: Book, name: str, *, refused: bool) -> Events:
    """The marks of rounds before the last, and what is shown of the whole group.

    ``refused``: a wrench that proves nothing does not close a round.
    """
    fastener = book.fasteners[name]
    made: Events = {}
    for i in range(1, fastener.count + 1):
        for k, figure in enumerate(rounds(fastener)[:-1], 1):
            seated = Effect(do="snug", item=ids.fastener(name, i))
            used = Effect(do="use", item=ids.figure(figure))
            closed = Effect(do="close", item=ids.round(name, i, k))
            made[f"round:{name}:{i}:{k}"] = (seated, closed, used)
            made[f"round unproven:{name}:{i}:{k}"] = (
                (seated, used) if refused else (seated, closed, used)
            )
    for shown in shown_of(fastener, name):
        made[shown.replace("/", ":")] = (Effect(do="close", item=shown),)
    return made


def rests_on(book: Book, figure: str) -> Iterator[str]:
    """What was closed by a figure of some round, and what came after it in its group."""
    for name, fastener in book.fasteners.items():
        if figure in rounds(fastener):
            yield from group_of(book, name)
            first = rounds(fastener).index(figure) + 1
            yield from (i for i in rounds_of(book, name) if i.round >= first)
