"""The conditions of the machine, as found and as they are now."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from witnessmark.ledger.bodies import StatesFound
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.events import Happened
from witnessmark.ledger.ids import ItemId
from witnessmark.ledger.item_effects import ItemEffect, ItemStatus, standing
from witnessmark.ledger.story import Story
from witnessmark.ledger.table import Effect, Table

Acts = Mapping[str, Sequence[ItemEffect]]


@dataclass(frozen=True)
class ConditionsNow:
    """Per condition: the state it came in with, the state now, and how it stands."""

    found: dict[str, str]
    now: dict[str, str]
    standings: dict[str, ItemStatus]

    def words(self, name: str, table: Table) -> str:
        """Its state, and the state it must have. Example: ``is off, must be fitted``."""
        rule = table.conditions[name]
        wanted = self.found[name] if rule.finish == "as found" else rule.finish or ""
        now, must = (rule.state_words.get(s, s) for s in (self.now[name], wanted))
        return f"is {now}, must be {must}"


def conditions_now(story: Story, table: Table, happened: Happened, acts: Acts) -> ConditionsNow:
    """Read the conditions from a visit's entries; ``acts``: what was done to each item.

    The first entry that says how a condition was found defines "as found"; the book's start stands
    where nobody said. Different states set by entries that did not see each other: in conflict.
    A card gone on from with a fastener not tight sets nothing, until that fastener is tight.
    """
    found = _found(story, table)
    now, standings = {}, {}
    writes = _writes(story, table, happened, acts)
    for name, rule in table.conditions.items():
        newest = story.causal.newest(writes[name], lambda w: w[0])
        states = list(dict.fromkeys(state for _, state in newest)) or [found[name]]
        now[name] = states[-1]
        fine = rule.fine(now[name], found[name])
        stand = ItemStatus("closed" if fine else "open", tuple(e for e, _ in newest))
        standings[name] = stand if len(states) == 1 else ItemStatus("conflict", stand.by)
    return ConditionsNow(found, now, standings)


def _found(story: Story, table: Table) -> dict[str, str]:
    found: dict[str, str] = {}
    for _, said in story.of(StatesFound):
        found = {c: s for c, s in said.states.items() if c in table.conditions} | found
    return {name: rule.start for name, rule in table.conditions.items()} | found


def _writes(
    story: Story, table: Table, happened: Happened, acts: Acts
) -> dict[str, list[tuple[Entry, str]]]:
    """Per condition who set it to what, in causal order; in one entry the last set counts."""
    writes: dict[str, list[tuple[Entry, str]]] = defaultdict(list)
    for entry in story.live:
        last: dict[str, str] = {}
        if isinstance(entry.said, StatesFound):
            last = dict(entry.said.states)
        for effect in _sets(entry, story, table, happened, acts):
            last[ItemId(effect.item).name] = effect.state
        for name, state in last.items():
            writes[name].append((entry, state))
    return writes


def _sets(
    entry: Entry, story: Story, table: Table, happened: Happened, acts: Acts
) -> Iterator[Effect]:
    """The conditions an entry sets; none by a step whose fasteners were left loose."""
    for event in happened.events[entry.id]:
        effects = table.events.get(event, ())
        sets = [effect for effect in effects if effect.do == "set"]
        if sets and not any(_left_loose(effect, entry, story, acts) for effect in effects):
            yield from sets


def _left_loose(effect: Effect, entry: Entry, story: Story, acts: Acts) -> bool:
    """Whether a fastener that a confirmed card was to make tight was not made tight, then or since."""
    if effect.do != "want" or ItemId(effect.item).kind != "fastener":
        return False
    stood = standing(acts.get(effect.item, ()), story.causal)
    if stood is None or stood.stand not in ("want", "open", "snug"):
        return False
    return not any(story.causal.before(entry, by) for by in stood.by)
