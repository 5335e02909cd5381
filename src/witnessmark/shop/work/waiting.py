"""Waits that show something: a lever held under pressure proves nothing when the holding begins."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from math import ceil

from django.utils import timezone
from django.utils.translation import gettext as _

from witnessmark.ledger.bodies import WaitBegun
from witnessmark.planner import lasting
from witnessmark.shop.store import EntryDraft
from witnessmark.shop.work.cards import Card
from witnessmark.shop.work.visit import Work


@dataclass(frozen=True)
class Wait:
    """A wait that has begun and is not over."""

    step: str
    minutes: float
    left: int  # whole minutes still to wait, by the clock of the store; 0: long enough
    waits_for: str
    reads: bool  # something is read when it is over

    @property
    def words(self) -> str:
        """What the tap says. Example: ``Wait over: lever held under pressure, 15 min``."""
        said = _("Wait over: {what}, {minutes}")
        return said.format(what=self.waits_for, minutes=lasting(self.minutes))


def wait_of(work: Work, card: Card) -> Wait | None:
    """The wait of a step that has begun; None for one that has not, or waits for nothing that it shows."""
    if card.status is None or card.status.status != "waiting":
        return None
    begun = [entry for entry in work.entries if entry.id in card.status.entries]
    said = begun[-1].said
    assert isinstance(said, WaitBegun)
    over = begun[-1].instant + timedelta(minutes=said.minutes)
    left = ceil((over - timezone.now()).total_seconds() / 60)
    what = card.step.waits_for or card.step.text
    return Wait(card.id, said.minutes, max(left, 0), what, bool(card.readings))


def to_begin(card: Card) -> bool:
    """Whether a tap on Done begins a wait, and closes nothing yet."""
    waits = card.status is not None and card.status.status == "waiting"
    return card.step.shown_by_waiting and not waits


def begun(card: Card) -> list[EntryDraft]:
    """The entries of a wait that begins: the access steps ahead of it are done, the step itself is not."""
    along = [before.id for before in card.along]
    acts: list[EntryDraft] = [("done", {"step": along[-1], "along": along[:-1]})] if along else []
    said = {"step": card.id, "minutes": card.step.unattended, "warned": list(card.warnings)}
    return [*acts, ("wait_begun", said)]


def next_of(order: Sequence[Card]) -> Card | None:
    """The card to take in hand: while one waits, what the plan does meanwhile, else what waits."""
    waiting = [card for card in order if card.status and card.status.status == "waiting"]
    rest = [card for card in order if card not in waiting]
    if not waiting:
        return order[0] if order else None
    first = waiting[0]
    until = first.planned.tail_end if first.planned else 0
    meanwhile = bool(rest) and rest[0].planned is not None and rest[0].planned.start < until
    return rest[0] if meanwhile else first
