"""Repairs of a visit: which stand, in their newest form, and since when each is what it is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from witnessmark.ledger.bodies import RepairWritten, own_id
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.story import Story


@dataclass(frozen=True)
class Standing:
    """A repair in its newest form, and the entry since which it is what an owner has agreed to."""

    said: RepairWritten
    entry: Entry
    asked: Entry


def repairs_now(story: Story) -> dict[str, Standing]:
    """The repairs of a visit by their id, as they were first written; those taken back are gone."""
    found: dict[str, Standing] = {}
    for entry, said in story.of(RepairWritten):
        name = said.repair or own_id(entry.id)
        before = found.get(name)
        same = before is not None and before.said.agreed_on == said.agreed_on
        found[name] = Standing(said, entry, before.asked if before and same else entry)
    return found


def repairs_in(entries: Iterable[Entry]) -> dict[str, Standing]:
    """The same of entries in any order; where there is none, nothing is put in order."""
    every = list(entries)
    return repairs_now(Story(every)) if any(e.kind == "repair_written" for e in every) else {}
