"""What has been done: steps, fasteners made tight, readings, remarks, the history."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from witnessmark.ledger import ids
from witnessmark.ledger.bodies import (
    Done,
    Erased,
    LetBe,
    Noted,
    NotRead,
    Photo,
    Read,
    Skipped,
    Tightened,
    WaitBegun,
    WaitStopped,
    Wont,
)
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.figures import FiguresNow
from witnessmark.ledger.item_effects import OPENING, ItemEffect, ItemStatus, standing
from witnessmark.ledger.open_items import open_item
from witnessmark.ledger.state import Happening, OpenItem, Remark
from witnessmark.ledger.story import Story
from witnessmark.ledger.table import FastenerRule, Item, Table
from witnessmark.ledger.wording import describe
from witnessmark.ledger.worked import (
    Drain,
    FastenerMark,
    MarkStatus,
    ReadingState,
    StepState,
    StepStatus,
    Tally,
    Unread,
    UsedBottle,
)

# ---------------------------------------------------------------- steps


def steps_now(story: Story) -> dict[str, StepState]:
    """How every step stands that something was said of."""
    said: dict[str, list[tuple[Entry, StepStatus, str]]] = defaultdict(list)
    for entry in story.live:
        match entry.said:
            case Done() as done:
                for step in dict.fromkeys((*done.along, done.step)):
                    said[step].append((entry, "done", ""))
            case WaitBegun() as begun:
                said[begun.step].append((entry, "waiting", ""))
            case WaitStopped() as stopped:
                said[stopped.step].append((entry, "stopped", stopped.because))
            case Skipped() as skipped:
                said[skipped.step].append((entry, "skipped", skipped.reason))
            case Wont() as wont:
                said[wont.step].append((entry, "cannot be done", wont.what))
            case _:
                pass
    return {step: _step(every, story) for step, every in said.items()}


def without_broken_waits(
    steps: dict[str, StepState], acts: dict[str, list[ItemEffect]], story: Story, table: Table
) -> dict[str, StepState]:
    """The steps, less each wait during which what it was to show was opened again."""
    return {s: state for s, state in steps.items() if not _broken(s, state, acts, story, table)}


def _broken(
    step: str, state: StepState, acts: dict[str, list[ItemEffect]], story: Story, table: Table
) -> bool:
    if state.status != "waiting":
        return False
    begun = [story.by_id[key] for key in state.entries]
    return any(
        act.do in OPENING and act.entry.id != entry.id and not story.causal.before(act.entry, entry)
        for effect in table.events.get(f"done:{step}", ())
        if effect.do == "close"
        for act in acts.get(effect.item, ())
        for entry in begun
    )


def _step(every: list[tuple[Entry, StepStatus, str]], story: Story) -> StepState:
    newest = story.causal.newest(every, lambda x: x[0])
    entry, status, reason = newest[-1]
    return StepState(
        status=status if len({x[1] for x in newest}) == 1 else "in conflict",
        entries=tuple(x[0].id for x in newest),
        author=entry.author,
        at=entry.at,
        reason=reason,
        times=sum(1 for x in every if x[1] == "done"),
    )


def steps_in_conflict(
    steps: dict[str, StepState], story: Story, table: Table
) -> Iterator[OpenItem]:
    """Done for one, skipped or stuck for another, and neither knew."""
    for name, step in steps.items():
        if step.status == "in conflict":
            rule = table.steps.get(name)
            words = "entries that did not see each other differ: look, and say which it is"
            stood = ItemStatus("open", tuple(story.by_id[i] for i in step.entries))
            item = Item(
                text=rule.words if rule else "a step that the book does not have",
                closed_by=(name,),
            )
            yield open_item(ids.conflict("step", name), item, stood, words)


def waits_not_ended(steps: dict[str, StepState], story: Story, table: Table) -> Iterator[OpenItem]:
    """Waits that were begun: each is ended at its card, broken off, or its step left out."""
    for name, step in steps.items():
        if step.status == "waiting":
            rule = table.steps.get(name)
            words = rule.words if rule else "a step that the book does not have"
            stood = ItemStatus("open", tuple(story.by_id[i] for i in step.entries))
            yield open_item(ids.wait(name), Item(text=words, closed_by=(name,)), stood)


# ---------------------------------------------------------------- fasteners

_STATUS: dict[str, MarkStatus] = {
    "open": "loose",
    "snug": "seated snug",
    "turned": "kept turning",
    "void": "void",
    "doubt": "wrench found wrong",
    "conflict": "in conflict",
    "want": "not shown tight",
}


def tallies(acts: dict[str, list[ItemEffect]], story: Story, table: Table) -> dict[str, Tally]:
    """Per group of fasteners what is known of each one."""
    result = {}
    for name, rule in table.fasteners.items():
        marks = []
        for i in range(1, rule.count + 1):
            stood = standing(acts.get(ids.fastener(name, i), []), story.causal)
            if stood:
                marks.append(_mark(i, stood))
        if marks:
            tight = [m for m in marks if m.status.startswith("tight")]
            result[name] = Tally(
                fastener=name,
                words=rule.words,
                count=rule.count,
                figure=rule.figure,
                marks=tuple(marks),
                order=tuple(m.index for m in sorted(tight, key=lambda m: story.place[m.entry])),
                rounds=tuple(_through(name, k, rule, acts, story) for k in _early(rule)),
            )
    return result


def _early(rule: FastenerRule) -> range:
    """The rounds before the last."""
    return range(1, len(rule.rounds))


def _through(
    name: str, k: int, rule: FastenerRule, acts: dict[str, list[ItemEffect]], story: Story
) -> tuple[int, ...]:
    """Which of a group are through with a round."""
    stood = {
        i: standing(acts.get(ids.round(name, i, k), []), story.causal)
        for i in range(1, rule.count + 1)
    }
    return tuple(i for i, stand in stood.items() if stand is not None and not stand.open)


def _mark(index: int, stood: ItemStatus) -> FastenerMark:
    entry = stood.by[-1]
    base = {"index": index, "entry": entry.id, "author": entry.author, "at": entry.at}
    said = entry.said
    if not isinstance(said, Tightened):
        return FastenerMark(status="tight" if not stood.open else _STATUS[stood.stand], **base)
    shown = {"value_nm", "set_nm", "clicked", "wrench", "wrench_proven", "adapter", "angle_deg"}
    how = said.model_dump(include=shown)
    proven = said.wrench_proven or said.angle_deg is not None
    status: MarkStatus = "tight" if proven else "tight, wrench unproven"
    return FastenerMark(status=_STATUS[stood.stand] if stood.open else status, **base, **how)


# ---------------------------------------------------------------- readings, remarks, history


def readings(story: Story, table: Table, figures: FiguresNow) -> Iterator[ReadingState]:
    """Every reading in causal order, judged by the figures as they stand now."""
    let_be = {said.entry: entry.author for entry, said in story.of(LetBe)}
    for entry, said in story.of(Read):
        yield ReadingState(
            entry=entry.id,
            let_be=let_be.get(entry.id, ""),
            author=entry.author,
            at=entry.at,
            verdict=said.verdict(table, figures.rules),
            **said.model_dump(),
        )


def unread(story: Story) -> Iterator[Unread]:
    """What could not be read, and was not read since."""
    taken: dict[tuple[str, str, int], list[Entry]] = defaultdict(list)
    for entry, said in story.of(Read):
        taken[said.step, said.reading, said.index].append(entry)
    for entry, not_read in story.of(NotRead):
        later = taken[not_read.step, not_read.reading, not_read.index]
        if not any(story.causal.before(entry, one) for one in later):
            base = {"entry": entry.id, "author": entry.author, "at": entry.at}
            yield Unread(**base, **not_read.model_dump())


def _poured_or_drained(story: Story) -> list[tuple[Entry, Done | WaitBegun]]:
    every: list[tuple[Entry, Done | WaitBegun]] = [*story.of(Done), *story.of(WaitBegun)]
    return sorted(every, key=lambda pair: story.place[pair[0].id])


def drains(story: Story) -> Iterator[Drain]:
    """What came out, by every confirmation that stands: a card done twice drained twice."""
    for entry, said in _poured_or_drained(story):
        for one in said.drained:
            base = {"entry": entry.id, "step": said.step, "author": entry.author, "at": entry.at}
            yield Drain(**base, **one.model_dump())


def pours(story: Story) -> Iterator[UsedBottle]:
    """Which bottle went in."""
    for entry, said in _poured_or_drained(story):
        for one in said.poured:
            base = {"entry": entry.id, "step": said.step, "author": entry.author, "at": entry.at}
            yield UsedBottle(**base, **one.model_dump())


def remarks(story: Story) -> Iterator[Remark]:
    """Notes and pictures; of an erased picture the hash and the note stay."""
    erased = {said.sha256 for _, said in story.of(Erased)}
    for entry in story.live:
        said = entry.said
        if isinstance(said, Noted | Photo):
            gone = isinstance(said, Photo) and said.sha256 in erased
            base = {"entry": entry.id, "author": entry.author, "at": entry.at, "erased": gone}
            yield Remark(**base, **said.model_dump())


def history(story: Story, table: Table) -> Iterator[Happening]:
    """All entries in causal order, the corrected ones too."""
    for entry in story.causal.entries:
        yield Happening(
            entry=entry.id,
            kind=entry.kind,
            words=describe(entry, table, story.by_id),
            author=entry.author,
            at=entry.at,
            undone=story.undone.get(entry.id),
        )
