"""What happened since a page was shown that bears on what its form says, so that it is told before it is recorded."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from witnessmark.ledger import bodies as b
from witnessmark.ledger import ids
from witnessmark.ledger.body import RETURNED, Body, Subject
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.ids import StepId
from witnessmark.ledger.story import Story
from witnessmark.ledger.table import Table

_OPENED = ("something opened",)
_SAID_LATE_TOO = (  # after a hand-back as before it
    b.Corrected, b.Noted, b.Photo, b.LineCharged, b.ExtraCharged, b.Issued, b.Paid, b.WrittenOff,
)  # fmt: skip


def unseen(every: Iterable[Entry], seen: Mapping[str, int]) -> list[Entry]:
    """The entries that a page had not seen, by the newest sequence number it had of each device."""
    return [entry for entry in every if entry.seq > seen.get(entry.device, 0)]


def bearing(
    acts: Sequence[Body], every: Sequence[Entry], seen: Mapping[str, int], table: Table
) -> list[Entry]:
    """The unseen entries, in causal order, that speak of what the acts speak of or take away what they rest on."""
    new = {entry.id for entry in unseen(every, seen)}
    if not new:
        return []
    by_id = {entry.id: entry for entry in every}
    asked = {key for act in acts for key in (*act.about(), *_rests_on(act))}
    return [
        entry
        for entry in Story(every).live
        if entry.id in new
        and not (isinstance(entry.said, b.Corrected) and entry.said.entry in new)
        and not asked.isdisjoint(_changes(entry.said, by_id, table))
    ]


def newest_of(keys: Iterable[Subject], every: Sequence[Entry]) -> Entry | None:
    """The newest entry that counts and speaks of one of these."""
    wanted = set(keys)
    return next((e for e in reversed(Story(every).live) if wanted & {*e.said.about()}), None)


def _changes(said: Body, every: Mapping[str, Entry], table: Table) -> Iterator[Subject]:
    """What an entry speaks of, and what it takes away."""
    yield from said.about()
    match said:
        case b.Done() | b.WaitBegun():
            for step in (*said.confirms(""), said.step):
                opened = [e.item for e in table.events.get(f"done:{step}", ()) if e.do == "open"]
                yield from (("opened", item) for item in opened)
                yield from [_OPENED] if opened else []
        case b.Added():
            yield _OPENED
        case b.JobLeft():
            yield "left", said.job
        case b.Corrected() if said.entry in every:
            taken_back = every[said.entry].said
            yield from taken_back.about()
            yield "taken back on", getattr(taken_back, "step", None)
        case _:
            pass


def _rests_on(said: Body) -> Iterator[Subject]:
    """What else an act would be wrong after."""
    match said:
        case b.Done():
            yield "taken back on", said.step
            yield from (("left", StepId(step).job) for step in (*said.along, said.step))
        case b.WaitBegun():
            yield "left", StepId(said.step).job
        case b.Tightened():
            yield "opened", ids.fastener(said.fastener, said.index)
            yield "figure", said.figure
        case b.Looked() | b.WalkedRound() | b.Confirmed() | b.Overridden():
            yield _OPENED
        case _:
            pass
    if not isinstance(said, _SAID_LATE_TOO):
        yield RETURNED
