"""Which events of the table the entries are, and what these do."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass

from witnessmark.ledger.bodies import Done
from witnessmark.ledger.body import Body
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.table import Effect, Figures, StepRule, Table


@dataclass(frozen=True)
class Happened:
    """The events that each live entry is, and what they do to items; read once for all who ask."""

    events: Mapping[str, tuple[str, ...]]  # by entry
    effects: Mapping[str, tuple[Effect, ...]]


def happened(entries: Iterable[Entry], table: Table, figures: Figures) -> Happened:
    """Read the events of all entries against the table."""
    every = list(entries)
    known = {entry.id for entry in every}
    events = {
        entry.id: tuple(_said(entry, known).events(entry.id, table, figures)) for entry in every
    }
    return Happened(
        events,
        {
            entry: tuple(effect for event in of for effect in table.events.get(event, ()))
            for entry, of in events.items()
        },
    )


def _said(entry: Entry, known: Container[str]) -> Body:
    """What an entry says; where what it ends was taken back, the step was opened by nothing else than its end."""
    said = entry.said
    if isinstance(said, Done) and said.began and said.began not in known:
        return said.model_copy(update={"began": None})
    return said


def rules_of(entry: Entry, table: Table) -> list[StepRule]:
    """The rules of the steps that an entry confirms, or stands for; none for other entries."""
    return [table.steps[name] for name in entry.said.confirms(entry.id) if name in table.steps]
