"""What the ledger says to people: how an item stands, and what happened, in the trade's words."""

from __future__ import annotations

from collections import ChainMap
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from witnessmark.ledger import bodies as b
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.ids import ItemId
from witnessmark.ledger.item_effects import Stand
from witnessmark.ledger.table import Item, Table

_STANDS: dict[str, dict[Stand, str]] = {
    "fastener": {
        "open": "loosened, not made tight",
        "snug": "seated, not made tight to its figure",
        "turned": "kept turning or went past its figure",
        "want": "not shown tight",
        "void": "its figure was corrected, or it was made tight out of turn: make it tight again",
        "doubt": "the wrench was found wrong: make it tight again",
    },
    "round": {
        "open": "not shown",
        "want": "not shown",
        "void": "its figure was corrected: go through it again",
        "doubt": "the wrench was found wrong: loosen it, and go through it again",
    },
    "still": {"open": "go round until none moves any more", "want": "not shown"},
    "secured": {"open": "not shown", "want": "not shown"},
    "thread": {"open": "kept turning or went past its figure: judge it, and put it right"},
    "circuit": {
        "open": "not yet shown",
        "void": "done by a figure that was corrected: do it again",
    },
    "renewal": {"open": "disturbed, no new one fitted"},
    "ride": {"open": "to be ridden again"},
    "reading": {"want": "not read"},
    "outside": {"open": "outside its limits: write a finding, or put it right and read it again"},
    "second look": {"open": "somebody who did not do it has to look"},
    "codes": {"open": "found or cleared: read them again after the work"},
    "walk round": {"open": "not done since something was last opened"},
    "wait": {"open": "its wait was begun, and is not ended"},
    "wont": {"open": "no answer yet"},
    "finding": {"open": "no answer yet"},
    "complaint": {"open": "no answer yet"},
}
_NO_OTHERS: Mapping[str, Entry] = MappingProxyType({})
_CONFLICT = "two entries that did not see each other: compare them at the machine and confirm"


def stands_in_words(item: str, stand: Stand) -> str:
    """How an open item stands, without what it is."""
    if stand == "conflict":
        return _CONFLICT
    return _STANDS.get(ItemId(item).kind, {}).get(stand, "open")


def describe(entry: Entry, table: Table, others: Mapping[str, Entry] = _NO_OTHERS) -> str:
    """One entry as a line of the history; ``others``: the visit's entries by id, for those that name one."""
    match said := entry.said:
        case b.Corrected() if named := others.get(said.entry):
            what = f"taken back: {describe(named, table, others)}"
            return what + (f" ({said.why})" if said.why else "")
        case b.Settled() if named := others.get(said.entry):
            return f"{named.said.in_words(table)}: {said.in_words(table)}"
        case b.Overridden() | b.Looked() | b.Confirmed():
            names = {said.item} if isinstance(said, b.Overridden) else set(said.items)
            return said.in_words(_with_items_of(names, table, others))
        case _:
            return said.in_words(table)


def _with_items_of(names: Iterable[str], table: Table, others: Mapping[str, Entry]) -> Table:
    """The table with those of the named items that only an entry knows."""
    found = {name: others.get(ItemId(name).name) for name in names if name not in table.items}
    known = {name: Item(text=entry.said.in_words(table)) for name, entry in found.items() if entry}
    return table.model_copy(update={"items": ChainMap(known, table.items)}) if known else table
