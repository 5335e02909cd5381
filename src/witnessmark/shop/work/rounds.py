"""The rounds of a group of fasteners, and what is shown of it whole when it is tight: still, secured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from witnessmark.book.model import Fastener, Step
from witnessmark.book.sequence import rounds
from witnessmark.ledger.fastener_effects import SECURED_WORDS, shown_of
from witnessmark.ledger.ids import ItemId
from witnessmark.ledger.worked import Tally
from witnessmark.shop.store import EntryDraft
from witnessmark.shop.work.visit import Work


@dataclass(frozen=True)
class InHand:
    """The round that is in hand: its figure, and who is through with it. ``round`` 0: there is but one."""

    figure: str | None
    through: tuple[int, ...]
    round: int
    rounds: int


@dataclass(frozen=True)
class Proof:
    """Something shown of a group whole; ``id`` is ``still/<fastener>`` or ``secured/<fastener>``."""

    id: str
    words: str  # as they are kept
    label: str  # what the button says
    asked: str
    seen: bool

    @property
    def fastener(self) -> str:
        """The group."""
        return ItemId(self.id).name


def in_hand(fastener: Fastener, tally: Tally | None) -> InHand:
    """The first round that not all are through with; the last when they are."""
    figures = rounds(fastener)
    if len(figures) < 2:
        return InHand(fastener.figure, tally.tight if tally else (), 0, 1)
    for k, figure in enumerate(figures[:-1], 1):
        through = tally.rounds[k - 1] if tally else ()
        if len(through) < fastener.count:
            return InHand(figure, through, k, len(figures))
    tight = tally.tight if tally else ()
    return InHand(figures[-1], tight, len(figures), len(figures))


def proofs(work: Work, step: Step) -> tuple[Proof, ...]:
    """What this step shows of its groups; seen where the ledger has it closed."""
    return tuple(
        _proof(work, fastener, item)
        for name in step.tightens
        if (fastener := work.book.fasteners[name]).grade == "proven"
        for item in shown_of(fastener, name)
    )


def posted(asked: Sequence[Proof], step: str, said: Mapping[str, str]) -> list[EntryDraft]:
    """The entry of a tap on what is shown: the button's value is the proof's id."""
    return [shown(proof, step) for proof in asked if proof.id == said.get("shown")]


def shown(proof: Proof, step: str) -> EntryDraft:
    """What is shown, as an entry."""
    what = ItemId(proof.id).kind
    return "shown", {"fastener": proof.fastener, "what": what, "step": step, "how": proof.words}


def turned(group: Any, place: int, step: str) -> EntryDraft:
    """One fastener turned on by its angle."""
    return "tightened", {
        "fastener": group.id,
        "index": place,
        "step": step,
        "figure": group.turn.id,
        "angle_deg": group.turn.aim,
        "round": group.round,
        "treatment": group.fastener.treatment,
    }


def _proof(work: Work, fastener: Fastener, item: ItemId) -> Proof:
    tally = work.state.tallies.get(item.name)
    made = tally is not None and bool(tally.marks)
    seen = made and item not in work.state.items and _was_shown(work, item)
    if item.kind == "still":
        asked = _("{fastener}: go round until none moves any more").format(fastener=fastener.text)
        words = noop("None moves any more")
        return Proof(item, words, _(words), asked, seen)
    words = SECURED_WORDS[fastener.secured_by or "stripe"]
    asked = _("{fastener}: what secures it").format(fastener=fastener.text)
    return Proof(item, capfirst(words), capfirst(_(words)), asked, seen)


def _was_shown(work: Work, item: str) -> bool:
    """Whether somebody said so, and it counts still: the ledger opens it again when it does not."""
    return item in work.state.shown
