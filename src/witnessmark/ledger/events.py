"""Which events of the table an entry is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from witnessmark.decode import is_there
from witnessmark.ledger.bodies import (
    OPEN,
    Added,
    CodesCleared,
    CodesRead,
    Done,
    FigureSet,
    Judged,
    NotRead,
    Read,
    Shown,
    Tightened,
    WalkedRound,
    own_id,
)
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.state import ReadingVerdict
from witnessmark.ledger.table import Effect, FigureRule, Span, StepRule, Table


def events_of(entry: Entry, table: Table, figures: Mapping[str, FigureRule]) -> tuple[str, ...]:
    """Event names in the order they happened; none for entries that open and close nothing."""
    return tuple(_events(entry, table, figures))


def _events(entry: Entry, table: Table, figures: Mapping[str, FigureRule]) -> Iterator[str]:
    match entry.said:
        case Done() | Added() as said:
            yield from _done(entry, said)
        case Tightened() as said:
            yield _mark(said, table, figures)
        case Shown() as said:
            yield f"{said.what}:{said.fastener}"
        case Judged() as said:
            yield f"judged:{said.fastener}:{said.index}"
        case Read() | NotRead() as said:
            yield from _reading(said, table, figures)
        case CodesRead() as said:
            yield from _codes(said)
        case CodesCleared():
            yield "codes cleared"
        case FigureSet() as said:
            yield f"figure_set:{said.figure}"
        case WalkedRound():
            yield "walked_round"
        case _:
            return


@dataclass(frozen=True)
class Happened:
    """The events that each live entry is, and what they do to items; read once for all who ask."""

    events: Mapping[str, tuple[str, ...]]  # by entry
    effects: Mapping[str, tuple[Effect, ...]]


def happened(entries: Iterable[Entry], table: Table, figures: Mapping[str, FigureRule]) -> Happened:
    """Read the events of all entries against the table."""
    events = {entry.id: events_of(entry, table, figures) for entry in entries}
    return Happened(
        events,
        {
            entry: tuple(effect for event in of for effect in table.events.get(event, ()))
            for entry, of in events.items()
        },
    )


def rules_of(entry: Entry, table: Table) -> list[StepRule]:
    """The rules of the steps that an entry confirms, or stands for; none for other entries."""
    said = entry.said
    names: tuple[str, ...] = ()
    if isinstance(said, Done):
        names = (*said.along, said.step)
    elif isinstance(said, Added):
        names = (f"{own_id(entry.id)}/{OPEN}",)
    return [table.steps[name] for name in names if name in table.steps]


def _reading(
    said: Read | NotRead, table: Table, figures: Mapping[str, FigureRule]
) -> Iterator[str]:
    if isinstance(said, NotRead):
        yield f"not_read:{said.step}:{said.reading}"
    else:
        yield f"read:{said.step}:{said.reading}"
        yield f"{_side(said, table, figures)}:{said.reading}:{said.index}"


def _done(entry: Entry, said: Done | Added) -> Iterator[str]:
    """What is added beyond the book is open from its entry on: the same as its step that opens it again."""
    if isinstance(said, Added):
        yield f"done:{own_id(entry.id)}/{OPEN}"
        return
    yield from (f"done:{step}" for step in (*said.along, said.step))
    yield from (f"reused:{renewal}" for renewal in said.reused)


def _codes(said: CodesRead) -> Iterator[str]:
    """Codes found before the work must be read again after it; one only listed is not there."""
    if said.moment == "after the work":
        yield "codes read after"
    elif any(one.status is None or is_there(one.status) for one in said.codes):
        yield "codes there"


def _mark(said: Tightened, table: Table, figures: Mapping[str, FigureRule]) -> str:
    """A value short of its figure leaves it open; one past it is for judgement, as is a turning one.

    A mark of a round before the last counts for that round alone. An angle is proven by the torque
    before it.
    """
    which = f"{said.fastener}:{said.index}"
    side = _reached(said, table, figures)
    if side != "within":
        return f"{'short' if side == 'low' else 'turned'}:{which}"
    rule = table.fasteners.get(said.fastener)
    early = rule is not None and 0 < said.round < len(rule.rounds)
    done = "round" if early else "tightened"
    unproven = said.angle_deg is None and not said.wrench_proven
    return f"{done}{' unproven' if unproven else ''}:{which}{f':{said.round}' if early else ''}"


def _reached(
    said: Tightened, table: Table, figures: Mapping[str, FigureRule]
) -> Literal["low", "within", "high"]:
    if said.outcome != "ok":
        return "high"
    reached = said.value_nm if said.value_nm is not None else said.set_nm
    if said.angle_deg is not None:
        reached = said.angle_deg
    limits = _span(_figure_of(said, table), figures)
    return "within" if reached is None or limits is None else limits.side(reached)


def _figure_of(said: Tightened, table: Table) -> str | None:
    rule = table.fasteners.get(said.fastener)
    if rule is None or not rule.rounds:
        return rule.figure if rule else None
    return rule.rounds[min(said.round or len(rule.rounds), len(rule.rounds)) - 1]


def _side(said: Read, table: Table, figures: Mapping[str, FigureRule]) -> str:
    verdict = reading_verdict(said, table, figures)
    return "outside" if verdict in ("low", "high", "bad") else "within"


def reading_verdict(said: Read, table: Table, figures: Mapping[str, FigureRule]) -> ReadingVerdict:
    """A reading against the figures that bound it; equality with a limit is within it."""
    rule = table.readings.get(said.reading)
    if said.value is None:
        return "bad" if rule and said.words in rule.bad else "noted"
    bounds = [b for b in (rule.low, rule.high) if b] if rule else []
    if not bounds:
        return "noted"
    assert rule is not None
    low, high = _span(rule.low, figures), _span(rule.high, figures)
    limits = Span(low=low.low if low else None, high=high.high if high else None)
    side = limits.side(said.value)
    unknown = (rule.low and limits.low is None) or (rule.high and limits.high is None)
    return "limits unknown" if unknown and side == "within" else side


def _span(figure: str | None, figures: Mapping[str, FigureRule]) -> Span | None:
    return figures[figure].span if figure is not None and figure in figures else None
