"""The items of a visit that are open, each with the entries that say so."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from witnessmark.ledger.bodies import Confirmed, Done, Found, WaitBegun, WrenchDoubted
from witnessmark.ledger.conditions import ConditionsNow
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.events import Happened
from witnessmark.ledger.figures import FiguresNow
from witnessmark.ledger.ids import ItemId, condition
from witnessmark.ledger.item_effects import (
    OPENING,
    ItemEffect,
    ItemStatus,
    marks_on_the_card_stand,
    standing,
)
from witnessmark.ledger.second_look import looks_that_count
from witnessmark.ledger.state import OpenItem
from witnessmark.ledger.story import Story
from witnessmark.ledger.table import Do, Item, Table
from witnessmark.ledger.wording import stands_in_words

Acts = dict[str, list[ItemEffect]]
# What is tapped on a card before it is confirmed.
_MARKED = {"fastener", "round", "still", "secured"}


def acts_by_item(story: Story, table: Table, figures: FiguresNow, happened: Happened) -> Acts:
    """Everything said of each item of the table, in causal order; in one entry the last word counts."""
    acts: Acts = defaultdict(list)  # the table's items and, from confirmations, any other
    changed = {entry.id for entry, _ in figures.changes}
    for entry in story.live:
        for item, do in _effects(entry, happened, voids=entry.id in changed).items():
            acts[item].append(ItemEffect(entry, do))
    for entry, confirmed in story.of(Confirmed):
        for item in confirmed.items:
            acts[item].append(ItemEffect(entry, "confirm"))
    dones: dict[str, list[Entry]] = defaultdict(list)
    for entry, done in story.of(Done):
        if (
            not done.not_tight
        ):  # gone on from, a card is confirmed by the next time, with the marks it has
            dones[done.step].append(entry)
    for entry, begun in story.of(WaitBegun):
        dones[begun.step].append(entry)
    for item in [i for i in acts if ItemId(i).kind in _MARKED]:
        acts[item] = marks_on_the_card_stand(acts[item], dones, story.causal)
    _doubts(acts, story, table, figures)
    for item, looks in looks_that_count(acts, story, table).items():
        acts[item] += [ItemEffect(entry, "close") for entry in looks]
    _findings_answer_readings(acts, story, table)
    return acts


def _effects(entry: Entry, happened: Happened, *, voids: bool) -> dict[str, Do]:
    """The entry's last effect on each item. A figure set again to the same value voids nothing."""
    last: dict[str, Do] = {}
    rests = voids or entry.kind in ("done", "tightened")
    for effect in happened.effects[entry.id]:
        # what one entry opens and closes is made anew by it: its void takes back nothing it opened
        opened = last.get(effect.item) in OPENING
        void_of_nothing = effect.do == "void" and (opened or not rests)
        second_want = effect.do == "want" and effect.item in last
        if effect.do not in ("use", "set") and not void_of_nothing and not second_want:
            last[effect.item] = effect.do
    return last


def _doubts(acts: Acts, story: Story, table: Table, figures: FiguresNow) -> None:
    """Open again what marks of a wrench found wrong keep closed; what was made anew since is left alone."""
    doubted = story.of(WrenchDoubted)
    every = map(ItemId, acts if doubted else ())
    doubtful = [i for i in every if i.kind == "fastener" or _turn_rests_on(i, table, figures)]
    for entry, said in doubted:
        for item in doubtful:
            known = [act for act in acts[item] if story.causal.before(act.entry, entry)]
            stood = standing(known, story.causal)
            if (
                stood is not None
                and stood.stand in ("closed", "conflict")
                and any(by.id in said.marks for by in stood.by)
            ):
                acts[item].append(ItemEffect(entry, "doubt"))


def _turn_rests_on(item: ItemId, table: Table, figures: FiguresNow) -> bool:
    """Whether it is the torque before a turn by an angle: the last round then tells nothing of it."""
    if item.kind != "round":
        return False
    rule = table.fasteners.get(item.name)
    after = rule.rounds[item.round :] if rule else ()
    return bool(after) and figures.rules[after[0]].quantity == "angle"


def _findings_answer_readings(acts: Acts, story: Story, table: Table) -> None:
    """A finding that names the reading speaks for it from then on; of a safety-critical one only a better reading."""
    for entry, found in story.of(Found):
        rule = table.readings.get(found.reading or "")
        if rule is not None and not rule.safety:
            of_it = [i for i in map(ItemId, acts) if (i.kind, i.name) == ("outside", found.reading)]
            for item in of_it:
                acts[item].append(ItemEffect(entry, "close"))


def open_items(
    acts: Acts,
    story: Story,
    table: Table,
    figures: FiguresNow,
    conditions: ConditionsNow,
    happened: Happened,
) -> Iterator[OpenItem]:
    """Every open item of the table."""
    for item, said in acts.items():
        stood = standing(said, story.causal)
        if stood and stood.open:
            yield open_item(item, table.items[item], stood, _of_safety(item, table.items[item]))
    for name, stood in conditions.standings.items():
        if stood.open:
            words = conditions.words(name, table)
            yield open_item(condition(name), table.items[condition(name)], stood, words)
    yield from _figures_used(story, table, figures, happened)


def _of_safety(name: str, item: Item) -> str:
    """A safety-critical reading outside its limits is not closed by a finding."""
    grave = item.safety and ItemId(name).kind == "outside"
    return "outside its limits: put it right and read it again" if grave else ""


def _figures_used(
    story: Story, table: Table, figures: FiguresNow, happened: Happened
) -> Iterator[OpenItem]:
    """Figures that work rests on, and that have no value or no source."""
    used: dict[str, dict[str, Entry]] = defaultdict(dict)
    for entry in story.live:
        for effect in happened.effects[entry.id]:
            if effect.do == "use":
                used[effect.item][entry.id] = entry
    for item, entries in used.items():
        name = ItemId(item).name
        rule = figures.rules[name]
        if name in figures.unmet:
            yield open_item(item, table.items[item], ItemStatus("conflict", figures.unmet[name]))
        elif rule.state != "proven":
            words = "worked by without a source: give it"
            if rule.state == "missing":
                words = "worked without it: give its value and source"
            yield open_item(
                item, table.items[item], ItemStatus("open", tuple(entries.values())), words
            )


def open_item(name: str, item: Item, stood: ItemStatus, words: str = "") -> OpenItem:
    """An item of the table as it stands; ``words`` in place of the usual ones."""
    how = words if words and stood.stand != "conflict" else stands_in_words(name, stood.stand)
    opened_by = tuple(entry.id for entry in stood.by)
    return OpenItem(id=name, how=how, stands=stood.stand, opened_by=opened_by, **dict(item))
