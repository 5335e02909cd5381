"""The complaint that a machine came in with: open until it is answered."""

from __future__ import annotations

from collections.abc import Collection

from witnessmark.ledger.bodies import Arrived, ComplaintAnswered, Confirmed
from witnessmark.ledger.ids import COMPLAINT
from witnessmark.ledger.item_effects import ItemEffect, ItemStatus, standing
from witnessmark.ledger.open_items import open_item
from witnessmark.ledger.state import Complaint, OpenItem
from witnessmark.ledger.story import Story
from witnessmark.ledger.table import Item, Table


def complaint_now(
    story: Story, table: Table, done: Collection[str]
) -> tuple[Complaint | None, OpenItem | None]:
    """The complaint with its newest answer, and its open item, None once it is closed.

    An answer speaks for the words it names: a complaint corrected later wants another one. One that names lines
    counts once every operation of these is ``done``.
    """
    arrived = story.last(Arrived)
    words = arrived[1].complaint if arrived else ""
    if not words:
        return None, None
    first = (
        next(  # who wrote these words first: a later change of something else opens nothing anew
            e
            for e in story.causal.entries
            if isinstance(e.said, Arrived) and e.said.complaint == words
        )
    )
    answers = [(e, said) for e, said in story.of(ComplaintAnswered) if said.complaint == words]
    last = answers[-1] if answers else None
    waits = _not_done(last[1], table, done) if last else []
    acts = [ItemEffect(first, "open"), *(ItemEffect(e, "close") for e, _ in answers)]
    acts += [ItemEffect(e, "confirm") for e, said in story.of(Confirmed) if COMPLAINT in said.items]
    stood = standing(acts, story.causal)
    assert stood is not None
    closed = not stood.open and not waits
    complaint = Complaint(
        words=words,
        closed=closed,
        answer=last[1] if last else None,
        entry=last[0].id if last else "",
        author=last[0].author if last else "",
        at=last[0].at if last else "",
    )
    if closed:
        return complaint, None
    how = f"to be put right by {', '.join(waits)}, which is not done" if waits else ""
    stood = stood if stood.open else ItemStatus("open", stood.by)
    return complaint, open_item(COMPLAINT, Item(text=f"complaint “{words}”"), stood, how)


def _not_done(said: ComplaintAnswered, table: Table, done: Collection[str]) -> list[str]:
    """The lines named that are not done whole, in words."""
    return [
        table.lines.get(line, "a line that is no longer there")
        for line in said.lines
        if not table.operations(line) or set(table.operations(line)) - {*done}
    ]
