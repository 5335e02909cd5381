"""Waits: the unattended part of a step, from the tap that begins it to the tap that ends it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from witnessmark.shop.store import EntryDraft
from witnessmark.shop.work.cards import Card, card_of
from witnessmark.shop.work.visit import Work
from witnessmark.shop.work.waits_now import Wait, waits_of


def wait_of(work: Work, card: Card) -> Wait | None:
    """The wait of a step that has begun; None for one that has not."""
    if card.status is None or card.status.status != "waiting":
        return None
    return next((wait for wait in waits_of(work) if wait.step == card.id), None)


def to_begin(card: Card) -> bool:
    """Whether a tap on Done begins a wait, and closes nothing yet."""
    waits = card.status is not None and card.status.status == "waiting"
    return bool(card.step.unattended) and not waits


def begun(card: Card, fluids: Mapping[str, object] | None = None) -> list[EntryDraft]:
    """The entries of a wait that begins: the access steps ahead of it are done, the step itself is not."""
    along = [before.id for before in card.along]
    acts: list[EntryDraft] = [("done", {"step": along[-1], "along": along[:-1]})] if along else []
    said = {"step": card.id, "minutes": card.step.unattended, "warned": list(card.warnings)}
    return [*acts, ("wait_begun", {**said, **(fluids or {})})]


def with_waits(work: Work, order: Sequence[Card]) -> list[Card]:
    """The cards of an order, and those of waits that it was made beside."""
    here = {card.id for card in order}
    return [*order, *(card_of(work, w.step) for w in waits_of(work) if w.step not in here)]


def next_of(order: Sequence[Card], tails: Mapping[str, float]) -> Card | None:
    """The card to take in hand: while one waits, what the plan does meanwhile, else what is over first.

    ``tails``: for waits that the order was made beside, the minute of it at which they are over.
    """
    waiting = [card for card in order if card.status and card.status.status == "waiting"]
    if not waiting:
        return order[0] if order else None

    def over(card: Card) -> float:
        return card.planned.tail_end if card.planned else tails.get(card.id, 0.0)

    first = min(waiting, key=over)
    beside = (
        card
        for card in order
        if card not in waiting and (card.planned is None or card.planned.start < over(first))
    )
    return next(beside, first)
