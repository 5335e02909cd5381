"""Findings and steps that would not: open until they have an answer."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

from witnessmark.ledger import ids
from witnessmark.ledger.bodies import (
    Answered,
    Confirmed,
    Done,
    Found,
    JobTaken,
    Settled,
    Skipped,
    Wont,
)
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.ids import ItemId
from witnessmark.ledger.item_effects import ItemEffect, ItemStatus, standing
from witnessmark.ledger.open_items import open_item
from witnessmark.ledger.phrases import line_words
from witnessmark.ledger.state import Finding, OpenItem
from witnessmark.ledger.story import Story
from witnessmark.ledger.table import Item, Table


def findings(story: Story, table: Table) -> Iterator[tuple[Finding, OpenItem | None]]:
    """Each finding with its open item, None once it is answered."""
    speak_of = _by_what_they_speak_of(story)
    for entry in story.live:
        said = entry.said
        if isinstance(said, Found | Wont):
            finding = _finding(entry, said, table)
            stood, how = _answered(entry, finding, speak_of, story, table)
            item = _item(finding, said, stood, table) if stood.open else None
            yield finding.model_copy(update={"settled": "" if item else how}), item


def _finding(entry: Entry, said: Found | Wont, table: Table) -> Finding:
    common = {"entry": entry.id, "author": entry.author, "at": entry.at, "step": said.step}
    if isinstance(said, Found):
        own = said.model_dump(include={"text", "reading", "line", "safety"})
        return Finding(kind="found", **common, **own)
    text = f"{said.what}" + (f": {said.text}" if said.text else "")
    rule = table.steps.get(said.step)
    stops = {
        "jobs": tuple(said.jobs),
        "for_others": said.for_others,
        "safety": bool(rule and rule.safety),
    }
    return Finding(kind="cannot be done", text=text, **stops, **common)


def _item(finding: Finding, said: Found | Wont, stood: ItemStatus, table: Table) -> OpenItem:
    rule = table.steps.get(said.step) if said.step else None
    words = finding.text
    if isinstance(said, Wont):
        what = rule.words if rule else "a step that the book does not have"
        words = f"{what}, {finding.text} (safe now: {said.safe_now})"
    item = Item(
        text=words,
        where=rule.where if rule else "",
        gate="road test" if finding.safety else "hand-back",
        safety=finding.safety,
        closed_by=(said.step,) if isinstance(said, Wont) else (),
    )
    return open_item(item_id(finding), item, stood)


def item_id(finding: Finding) -> ItemId:
    """The id of a finding's open item."""
    return ids.finding(finding.entry) if finding.kind == "found" else ids.wont(finding.entry)


def _by_what_they_speak_of(story: Story) -> dict[str, list[Entry]]:
    """The entries that may answer something, by step, by entry named, by item."""
    every: dict[str, list[Entry]] = defaultdict(list)
    for entry in story.live:
        names: Iterable[str | None] = ()
        match entry.said:
            case Done() as said:
                names = (said.step, *said.along)
            case Skipped() as said:
                names = (said.step,)
            case Settled() as said:
                names = (said.entry,)
            case JobTaken() | Answered() as said:
                names = (said.finding,)
            case Confirmed() as said:
                names = said.items
            case _:
                pass
        for name in dict.fromkeys(name for name in names if name):
            every[name].append(entry)
    return every


def _answered(
    entry: Entry,
    finding: Finding,
    speak_of: Mapping[str, list[Entry]],
    story: Story,
    table: Table,
) -> tuple[ItemStatus, str]:
    """How it stands, and the newest answer in words."""
    acts, how = [ItemEffect(entry, "open")], ""
    names = {entry.id, item_id(finding), finding.step or ""}
    others = {other.id: other for name in names for other in speak_of.get(name, ())}
    for other in sorted(others.values(), key=lambda other: story.place[other.id]):
        if not story.causal.before(entry, other):
            continue
        if said := _answer(other, finding, table):
            acts.append(ItemEffect(other, "close"))
            how = said
        elif isinstance(other.said, Confirmed) and item_id(finding) in other.said.items:
            acts.append(ItemEffect(other, "confirm"))
    stood = standing(acts, story.causal)
    assert stood is not None
    return stood, how


def _answer(other: Entry, finding: Finding, table: Table) -> str:
    """What the other entry, which speaks of the finding or its step, answers, in words; empty for nothing.

    A safety-critical defect told and declined stays open: only a signed paper lets it through.
    """
    told = "" if finding.safety else "told and declined"
    match other.said:
        case Done() if finding.kind == "cannot be done":
            return "done after all"
        case Skipped() as said if finding.kind == "cannot be done":
            return f"not done: {said.reason}"
        case Settled() as said if said.entry == finding.entry:
            return told if said.how == "told and declined" else said.how
        case JobTaken() as said if said.finding == finding.entry:
            return f"booked as {line_words(said.job, table)}"
        case Answered() as said if said.finding == finding.entry:
            yes = f"owner says yes to {line_words(said.line, table)}"
            return yes if said.verdict == "yes" else told
        case _:
            return ""
