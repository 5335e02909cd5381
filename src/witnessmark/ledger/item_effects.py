"""What entries do to items, and how an item stands after all of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from witnessmark.ledger.bodies import Done, Shown, Tightened, WaitBegun
from witnessmark.ledger.causal import Causal
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.table import Do

Stand = Literal["closed", "open", "snug", "turned", "want", "void", "doubt", "conflict"]
OPENING = frozenset({"open", "snug", "turned", "doubt", "again"})


@dataclass(frozen=True)
class ItemEffect:
    """One entry's doing to one item; "confirm": somebody compared what did not see each other; "doubt":
    the wrench that closed it was found wrong; "again": confirmed once more, on marks of the first time.
    """

    entry: Entry
    do: Do | Literal["confirm", "doubt", "again"]


@dataclass(frozen=True)
class ItemStatus:
    """How an item stands, and the newest acts that say so."""

    stand: Stand
    by: tuple[Entry, ...] = ()

    @property
    def open(self) -> bool:
        """Whether it must not leave the shop like this."""
        return self.stand != "closed"


def standing(acts: Iterable[ItemEffect], causal: Causal) -> ItemStatus | None:
    """How an item stands after all acts on it; None when nothing was ever said of it.

    The newest acts decide. Several that did not see each other leave it open: until somebody
    confirms, where all of them close it; until it is made again, where one of them opens it.
    """
    every = list(acts)
    strong = [a for a in every if a.do in OPENING or a.do == "close"]
    strong += [a for a in every if a.do == "void" and _had_been_made(a, every, causal)]
    if not strong:
        wanted = [a.entry for a in every if a.do == "want"]
        return ItemStatus("want", tuple(wanted)) if wanted else None
    newest = causal.newest(strong, lambda a: a.entry)
    by = tuple(a.entry for a in newest)
    if len(newest) == 1:
        return ItemStatus(_stand(newest[0]), by)
    still_open = [a for a in newest if a.do != "close"]
    if len(still_open) == len(newest):
        return ItemStatus(_stand(still_open[-1]), by)
    if not _confirmed(newest, every, causal):
        return ItemStatus("conflict", by)
    return ItemStatus(_stand(still_open[-1]), by) if still_open else ItemStatus("closed", by)


def _stand(act: ItemEffect) -> Stand:
    match act.do:
        case "close":
            return "closed"
        case "again":
            return "want"
        case "open" | "snug" | "turned" | "void" | "doubt":
            return act.do
        case _:
            raise AssertionError(act.do)  # filtered before


def _had_been_made(void: ItemEffect, acts: list[ItemEffect], causal: Causal) -> bool:
    """Whether there is a closing, or a mark of its own, that the void did not come before."""
    marks = (a for a in acts if a.do != "void" and isinstance(a.entry.said, Tightened))
    made = [*marks, *(a for a in acts if a.do == "close")]
    return any(not causal.before(void.entry, a.entry) for a in made)


def _confirmed(newest: list[ItemEffect], acts: list[ItemEffect], causal: Causal) -> bool:
    confirms = [a.entry for a in acts if a.do == "confirm"]
    return any(all(causal.before(a.entry, c) for a in newest) for c in confirms)


def marks_on_the_card_stand(
    acts: list[ItemEffect], dones: Mapping[str, list[Entry]], causal: Causal
) -> list[ItemEffect]:
    """What a confirmed card opened before the marks that were made on it is left out.

    A card that loosens and tightens is confirmed after its marks are tapped in; the loosening came
    first at the machine. Marks of an earlier confirmation of the same card do not count: what is
    confirmed once more without new ones was done once more, and nothing shows it. ``dones``: the
    confirmations of cards, by step.
    """
    marks: dict[str | None, list[Entry]] = defaultdict(list)
    for act in acts:
        if isinstance(act.entry.said, Tightened | Shown):
            marks[act.entry.said.step].append(act.entry)
    return [kept for act in acts if (kept := _by_its_marks(act, marks, dones, causal))]


def _by_its_marks(
    act: ItemEffect,
    marks: Mapping[str | None, list[Entry]],
    dones: Mapping[str, list[Entry]],
    causal: Causal,
) -> ItemEffect | None:
    said = act.entry.said
    if act.do not in OPENING | {"want"} or not isinstance(said, Done | WaitBegun):
        return act
    # the marks of a step are made in its attended part, so the end of its wait comes after the same ones
    earlier = [
        d
        for d in dones.get(said.step, ())
        if causal.before(d, act.entry) and (d.kind == "done" or isinstance(said, WaitBegun))
    ]
    marked = any(
        causal.before(mark, act.entry)
        and not any(causal.before(mark, d) for d in reversed(earlier))
        for mark in reversed(marks.get(said.step, []))
    )
    if act.do == "want":
        return replace(act, do="again") if earlier and not marked else act
    return None if marked else act
