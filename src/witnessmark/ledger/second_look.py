"""Which second looks count: those of somebody who did not do it, or a lone worker's whole fallback."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from witnessmark.ledger.bodies import Looked
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.events import rules_of
from witnessmark.ledger.ids import ItemId
from witnessmark.ledger.item_effects import ItemEffect
from witnessmark.ledger.state import FallbackLook
from witnessmark.ledger.story import Story
from witnessmark.ledger.table import Table

WORK = ("open", "void")  # what is done under a look: opened, or closed again after it


def looks_that_count(
    acts: Mapping[str, list[ItemEffect]], story: Story, table: Table
) -> dict[str, list[Entry]]:
    """Per item the looks that close it. Whoever only watched the doer may look; the doer may not."""
    counted: dict[str, list[Entry]] = {}
    for entry, looked in story.of(Looked):
        for item in looked.items:
            if ItemId(item).kind != "second look":
                continue
            earlier = counted.setdefault(item, [])
            work = _work_looked_at(entry, acts.get(item, []), earlier, story)
            if not work:
                continue
            to_ride = [w for w in work if not _shown_by_the_ride(w, item, acts, table)]
            if _by_another(entry, work) or _alone(entry, looked, to_ride, story, table):
                earlier.append(entry)
    return counted


def _shown_by_the_ride(
    entry: Entry, look: str, acts: Mapping[str, list[ItemEffect]], table: Table
) -> bool:
    """Whether an entry only closes what nothing but a ride shows: it comes after the ride, and wants no other."""
    if any(act.entry is entry and act.do == "open" for act in acts[look]):
        return False
    circuit = [item for item in acts if item.startswith(f"circuit/{ItemId(look).name}/")]
    closed = [
        item for item in circuit for act in acts[item] if act.entry is entry and act.do == "close"
    ]
    return bool(closed) and all(table.items[item].ride for item in closed)


def work_to_look_at(
    acts: Mapping[str, list[ItemEffect]], story: Story, table: Table
) -> dict[str, tuple[str, ...]]:
    """Per second look the entries of the work that no look has seen yet: who made them may not look alone."""
    looks = looks_that_count(acts, story, table)
    before = story.causal.before
    return {
        item: tuple(
            act.entry.id
            for act in every
            if act.do in WORK and not any(before(act.entry, e) for e in looks.get(item, ()))
        )
        for item, every in acts.items()
        if ItemId(item).kind == "second look"
    }


def work_to_ride(
    acts: Mapping[str, list[ItemEffect]],
    to_look: Mapping[str, Collection[str]],
    table: Table,
) -> dict[str, tuple[str, ...]]:
    """Of the work that no look has seen, by second look, what a ride must come after."""
    return {
        item: tuple(
            act.entry.id
            for act in acts[item]
            if act.entry.id in work and not _shown_by_the_ride(act.entry, item, acts, table)
        )
        for item, work in to_look.items()
    }


def fallbacks(
    acts: Mapping[str, list[ItemEffect]], story: Story, table: Table
) -> Iterator[FallbackLook]:
    """The looks that closed an item by a lone worker's fallback, to be printed as that."""
    for item, looks in looks_that_count(acts, story, table).items():
        for n, entry in enumerate(looks):
            said = entry.said
            assert isinstance(said, Looked)
            work = _work_looked_at(entry, acts[item], looks[:n], story)
            if not _by_another(entry, work):
                assert said.fallback is not None  # else it would not count
                yield FallbackLook(
                    entry=entry.id, item=item, author=entry.author, at=entry.at, how=said.fallback
                )


def _work_looked_at(
    look: Entry, acts: list[ItemEffect], earlier: list[Entry], story: Story
) -> list[Entry]:
    """The work since the last look that counted, as far as this look knew of it."""
    before = story.causal.before
    looks = [e for e in earlier if before(e, look)]
    work = [a.entry for a in acts if a.do in WORK and before(a.entry, look)]
    return [w for w in work if not any(before(w, e) for e in looks)]


def _by_another(look: Entry, work: list[Entry]) -> bool:
    return look.author not in {entry.author for entry in work}


def _alone(look: Entry, looked: Looked, work: list[Entry], story: Story, table: Table) -> bool:
    """The fallback counts after a ride that came after the work, or with the reason for none."""
    if looked.fallback is None:
        return False
    before = story.causal.before
    rides = [e for e in story.live if any(rule.ride for rule in rules_of(e, table))]
    ridden = any(before(ride, look) and all(before(w, ride) for w in work) for ride in rides)
    return ridden or bool(looked.fallback.not_ridden_because)
