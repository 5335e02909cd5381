"""What happened since a page was shown that bears on what its form says, so that it is told before it is recorded."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

from witnessmark.ledger import bodies as b
from witnessmark.ledger import ids
from witnessmark.ledger.body import Body
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.ids import StepId
from witnessmark.ledger.story import Story
from witnessmark.ledger.table import Table

Key = tuple[object, ...]  # a thing that two entries can both speak of

_RETURNED, _OPENED = ("returned",), ("something opened",)
_SAID_LATE_TOO = (b.Corrected, b.Noted, b.Photo)  # after a hand-back as before it
# What an entry says something of: two that share one of these say it of the same thing.
_ABOUT: dict[type[Body], Callable[[Any], Iterable[Key]]] = {
    b.Done: lambda x: [("step", step) for step in (*x.along, x.step)],
    b.Skipped: lambda x: [("step", x.step)],
    b.Wont: lambda x: [("step", x.step)],
    b.Tightened: lambda x: [("fastener", x.fastener, x.index, x.round)],
    b.Shown: lambda x: [(x.what, x.fastener)],
    b.Judged: lambda x: [("thread", x.fastener, x.index)],
    b.Read: lambda x: [("reading", x.step, x.reading, x.index)],
    b.NotRead: lambda x: [("reading", x.step, x.reading, x.index)],
    b.WaitBegun: lambda x: [("step", x.step)],
    b.ShimsFitted: lambda x: [("shims", x.step)],
    b.Settled: lambda x: [("entry", x.entry)],
    b.FigureSet: lambda x: [("figure", x.figure)],
    b.JobTaken: lambda x: [("job", x.job)],
    b.JobLeft: lambda x: [("job", x.job)],
    b.Offered: lambda x: [("line", line) for line in x.lines],
    b.Answered: lambda x: [("line", x.line)],
    b.LimitGiven: lambda _x: [("limit",)],
    b.PlanTaken: lambda _x: [("plan",)],
    b.ComplaintAnswered: lambda _x: [("complaint",)],
    b.Looked: lambda x: [("look", item) for item in x.items],
    b.Confirmed: lambda x: [("confirmed", item) for item in x.items],
    b.Overridden: lambda x: [("override", x.item)],
    b.Returned: lambda _x: [_RETURNED],
    b.Corrected: lambda x: [("entry", x.entry)],
}


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
    asked = {key for act in acts for key in (*_about(act), *_rests_on(act))}
    return [
        entry
        for entry in Story(every).live
        if entry.id in new
        and not (isinstance(entry.said, b.Corrected) and entry.said.entry in new)
        and not asked.isdisjoint(_changes(entry.said, by_id, table))
    ]


def newest_of(keys: Iterable[Key], every: Sequence[Entry]) -> Entry | None:
    """The newest entry that counts and speaks of one of these."""
    wanted = set(keys)
    return next((e for e in reversed(Story(every).live) if wanted & {*_about(e.said)}), None)


def _about(said: Body) -> Iterable[Key]:
    about = _ABOUT.get(type(said))
    return about(said) if about else ()


def _changes(said: Body, every: Mapping[str, Entry], table: Table) -> Iterator[Key]:
    """What an entry speaks of, and what it takes away."""
    yield from _about(said)
    match said:
        case b.Done():
            for step in (*said.along, said.step):
                opened = [e.item for e in table.events.get(f"done:{step}", ()) if e.do == "open"]
                yield from (("opened", item) for item in opened)
                yield from [_OPENED] if opened else []
        case b.Added():
            yield _OPENED
        case b.JobLeft():
            yield "left", said.job
        case b.Corrected() if said.entry in every:
            taken_back = every[said.entry].said
            yield from _about(taken_back)
            yield "taken back on", getattr(taken_back, "step", None)
        case _:
            pass


def _rests_on(said: Body) -> Iterator[Key]:
    """What else an act would be wrong after."""
    match said:
        case b.Done():
            yield "taken back on", said.step
            yield from (("left", StepId(step).job) for step in (*said.along, said.step))
        case b.Tightened():
            yield "opened", ids.fastener(said.fastener, said.index)
            yield "figure", said.figure
        case b.Looked() | b.WalkedRound() | b.Confirmed() | b.Overridden():
            yield _OPENED
        case _:
            pass
    if not isinstance(said, _SAID_LATE_TOO):
        yield _RETURNED
