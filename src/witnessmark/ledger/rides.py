"""Rides: what a ride proves, what makes it void, and what was only looked at without one.

What only a ride can close is closed by a ride that came after all that opened it, or by a look that came after such
a ride. Work on what a ride has to prove, done after it, makes the ride void: it is to be ridden again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from witnessmark.ledger.bodies import Done, WaitBegun
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.events import Happened, rules_of
from witnessmark.ledger.ids import RIDE, ItemId
from witnessmark.ledger.item_effects import OPENING, ItemEffect, ItemStatus
from witnessmark.ledger.open_items import open_item
from witnessmark.ledger.state import OpenItem
from witnessmark.ledger.story import Story
from witnessmark.ledger.table import Item, Table
from witnessmark.ledger.wording import describe
from witnessmark.ledger.worked import StepState

_PROVEN_BY_RIDE = ("fastener", "circuit", "renewal")


@dataclass(frozen=True)
class Rides:
    """The rides of a visit, and the work that asks for one; in causal order, with the table to read them by."""

    story: Story
    table: Table
    ridden: list[Entry] = field(default_factory=list)
    work: list[Entry] = field(default_factory=list)

    def since(self, entry: Entry) -> list[Entry]:
        """The work that an entry did not come after: later, or not known to it."""
        before = self.story.causal.before
        return [w for w in self.work if w.id != entry.id and not before(w, entry)]

    @cached_property
    def standing(self) -> list[Entry]:
        """The rides that came after all the work."""
        return [ride for ride in self.ridden if not self.since(ride)]

    @cached_property
    def void(self) -> bool:
        """Whether the machine was ridden to prove its work, and worked on since."""
        proving = [r for r in self.ridden if self._is(r, "proves_work")]
        return bool(proving) and not self.standing

    def proven(self, acts: list[ItemEffect]) -> list[ItemEffect]:
        """The acts on what only a ride can close, without closings that no ride stands behind."""
        return [act for act in acts if act.do != "close" or self._ridden_before(act, acts)]

    def steps(
        self, steps: Mapping[str, StepState], items: Iterable[OpenItem]
    ) -> dict[str, StepState]:
        """The steps, each marked "again" that was done before work which only a later ride can prove."""
        unproven = {step for item in items if item.ride for step in item.closed_by}
        return {s: self._step(s, state, steps, unproven) for s, state in steps.items()}

    def ridden_first(self, item: OpenItem) -> OpenItem:
        """An open item; where nothing was ridden since it was opened, with the card of the ride, not of the look."""
        before, rules = self.story.causal.before, self.table.steps
        if not item.ride:
            return item
        opened = [self.story.by_id[key] for key in item.opened_by]
        if any(all(before(o, r) for o in opened) for r in self.ridden):
            return item
        every = [step for step, rule in rules.items() if rule.proves_work]
        cards = [
            card
            for step in item.closed_by
            for card in ([step] if rules[step].ride else rules[step].looks_back or every or [step])
        ]
        return item.model_copy(update={"closed_by": tuple(dict.fromkeys(cards))})

    def item(self) -> Iterator[OpenItem]:
        """The ride that is to be ridden again."""
        if self.void:
            rides = dict.fromkeys(
                e.said.step for e in self.ridden if isinstance(e.said, Done) and self._is(e, "proves_work")
            )  # fmt: skip
            newest = self.since(self.ridden[-1])
            item = Item(
                text="road test",
                gate="hand-back",
                safety=True,
                ride=True,
                closed_by=tuple(rides),
            )
            last = newest[-1].said
            what = (
                last.work_words(self.table)
                if isinstance(last, Done)
                else describe(newest[-1], self.table)
            )
            words = f"worked on since it was ridden ({what}): ride it again"
            yield open_item(RIDE, item, ItemStatus("open", tuple(newest)), words)

    # ------------------------------------------------------------ parts

    def _step(
        self,
        name: str,
        state: StepState,
        steps: Mapping[str, StepState],
        unproven: set[str],
    ) -> StepState:
        rule = self.table.steps.get(name)
        if rule is None or state.status != "done":
            return state
        ridden = [r for r in rule.looks_back if r in steps and steps[r].status == "done"]
        if rule.proves_work:
            again = self.void
        else:
            own = any(self.table.steps[r].job == rule.job for r in ridden)
            again = bool(ridden) and (own or name in unproven) and not self._looked_after(state)
        return state.model_copy(update={"status": "again"}) if again else state

    def _looked_after(self, state: StepState) -> bool:
        """Whether a step was done after a ride that stands."""
        before = self.story.causal.before
        done = [self.story.by_id[key] for key in state.entries]
        return any(before(ride, e) for e in done for ride in self.standing)

    def _ridden_before(self, act: ItemEffect, acts: list[ItemEffect]) -> bool:
        before = self.story.causal.before
        if self._is(act.entry, "ride"):
            return True
        opened = [  # the newest first: that is the one which as a rule no ride came after
            other.entry
            for other in reversed(acts)
            if (other.do in OPENING or other.do == "void") and before(other.entry, act.entry)
        ]
        return any(
            before(ride, act.entry) and all(before(o, ride) for o in opened)
            for ride in reversed(self.ridden)
        )

    def _is(self, entry: Entry, what: str) -> bool:
        return any(getattr(rule, what) for rule in rules_of(entry, self.table))


def rides_of(story: Story, table: Table, happened: Happened) -> Rides:
    """Read the rides, and the work that asks for one, from a visit's entries."""
    rides = Rides(story, table)
    for entry in story.live:
        said = entry.said
        begun = table.steps.get(said.step) if isinstance(said, WaitBegun) else None
        rules = rules_of(entry, table)
        if begun:  # what it opens asks for a ride as its end does
            if begun.asks_for_ride:
                rides.work.append(entry)
        elif rules:
            if any(rule.ride for rule in rules):
                rides.ridden.append(entry)
            if any(rule.asks_for_ride for rule in rules):
                rides.work.append(entry)
        elif _opens(entry, table, happened):
            rides.work.append(entry)
    return rides


def _opens(entry: Entry, table: Table, happened: Happened) -> bool:
    """Whether an entry other than a card opens what a ride proves: a thread past its figure, codes cleared."""
    return any(
        effect.do in OPENING
        and ItemId(effect.item).kind in _PROVEN_BY_RIDE
        and (table.items[effect.item].safety or table.items[effect.item].ride)
        for effect in happened.effects[entry.id]
    )
