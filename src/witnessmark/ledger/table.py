"""The table a book compiles to: which event opens, closes or voids which item. Plain data, for store and tablet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, Self

from pydantic import model_validator

from witnessmark.book.model import Gate
from witnessmark.frozen import FrozenModel
from witnessmark.units import Quantity

ReadingVerdict = Literal["within", "low", "high", "bad", "noted", "limits unknown"]
Do = Literal["open", "snug", "turned", "close", "want", "void", "use", "set"]


class Effect(FrozenModel):
    """What an event does to one item.

    open: it is open now. snug: seated, open still. turned: kept turning or went past its figure.
    close: closed. want: open if nothing else was ever said of it. void: open again if it had been
    closed. use: a figure was worked by. set: a condition is now in ``state``.
    """

    do: Do
    item: str
    state: str = ""


class Item(FrozenModel):
    """What is always true of an item."""

    text: str  # what it is; of one of a group, what they all are
    places: tuple[int, ...] = ()  # which of a group
    count: int = 1  # how many the group has
    detail: str = ""  # more of what it is, behind which one it is
    where: str = ""
    gate: Gate = "hand-back"  # the first gate it must be closed for
    own_gate: bool = False  # the book says which: no earlier gate waits for it
    safety: bool = False
    ride: bool = False  # only a ride can close it
    closed_by: tuple[str, ...] = ()  # steps whose cards close it

    @property
    def words(self) -> str:
        """What it is. Example: ``rear wheel bolt, 3 of 5``."""
        which = f"{', '.join(map(str, self.places))} of {self.count}" if self.places else ""
        return ", ".join(part for part in (self.text, which, self.detail) if part)


class FigureLimits(FrozenModel):
    """A quantity with its limits in the base unit; None: no such limit."""

    low: float | None = None
    value: float | None = None
    high: float | None = None

    def side(self, reached: float) -> Literal["low", "within", "high"]:
        """On which side of the limits a value lies; equality is within."""
        if self.low is not None and reached < self.low - 1e-9:
            return "low"
        return "high" if self.high is not None and reached > self.high + 1e-9 else "within"


class FigureRule(FrozenModel):
    """A figure as the pinned book has it."""

    words: str
    quantity: Quantity
    state: Literal["missing", "unproven", "proven"]
    span: FigureLimits | None  # None: missing, or words
    written: str


Figures = Mapping[str, FigureRule]


def limits_of(figure: str | None, figures: Figures) -> FigureLimits | None:
    """The limits of the figure of that id; None where there is none, or it has none."""
    return figures[figure].span if figure is not None and figure in figures else None


class ConditionRule(FrozenModel):
    """Where a condition starts, where it must end, and which states get there by themselves."""

    words: str
    start: str
    finish: str | None  # a state, "as found", or nothing required
    lapses: dict[str, str]
    state_words: dict[str, str]

    def fine(self, state: str | None, found: str) -> bool:
        """Whether the machine may leave in this state."""
        wanted = found if self.finish == "as found" else self.finish
        if wanted is None:
            return True
        while state is not None and state != wanted:  # lapses never lead round: `book.refer`
            state = self.lapses.get(state)
        return state is not None


class FastenerRule(FrozenModel):
    """How many, by which figure, by what evidence."""

    words: str
    count: int
    figure: str | None
    grade: Literal["proven", "by table", "counted"]
    look_again: str
    safety: bool
    rounds: tuple[str, ...]  # figures gone through one after the other; the last makes it tight


class ReadingRule(FrozenModel):
    """The figures that bound a reading, and the words that make a finding."""

    words: str
    low: str | None
    high: str | None
    bad: tuple[str, ...]
    safety: bool


class UnknownRule(FrozenModel):
    """What a reading decides: outside its limits, below or above one figure."""

    reading: str
    way: Literal["outside", "below", "above"]
    figure: str | None
    places: int  # how often it is read
    readers: tuple[str, ...]  # the steps that tell it


class StepRule(FrozenModel):
    """A step as people know it; ``job`` is None for an access step."""

    words: str
    where: str
    job: str | None
    safety: bool  # it loosens, moves or opens something safety-critical
    ride: bool  # the machine is ridden in it
    proves_work: bool  # a ride that comes after the work, not before it
    asks_for_ride: bool  # it opens what a ride has to prove
    looks_back: tuple[str, ...]  # the rides that prove work it comes after
    only_if: str = ""  # what must be answered yes for it; with "!" before, no; "a|b": one will do
    always_with: tuple[str, ...] = ()  # jobs with which no answer makes it needless


class Table(FrozenModel):
    """A book, compiled for one visit."""

    format: Literal[1] = 1
    items: dict[str, Item]
    events: dict[str, tuple[Effect, ...]]
    conditions: dict[str, ConditionRule]
    figures: dict[str, FigureRule]
    fasteners: dict[str, FastenerRule]
    readings: dict[str, ReadingRule]
    steps: dict[str, StepRule]
    unknowns: dict[str, UnknownRule] = {}
    title: str  # of the book
    lines: dict[str, str]  # jobs, and lines of estimates, by id: their words
    brought: dict[str, tuple[str, ...]]  # by job: the jobs that it brings, agreed with it
    refuse_unproven_wrench: bool  # as it was compiled

    @model_validator(mode="after")
    def _every_item_is_listed(self) -> Self:
        """What an event opens would else be open without words, gate or card."""
        for event, effects in self.events.items():
            for effect in effects:
                if effect.item not in self.items:
                    raise ValueError(f"{event} names the item {effect.item}; list it under items")
        return self

    def operations(self, job: str) -> tuple[str, ...]:
        """The operations of a job, in the book's order."""
        return tuple(step for step, rule in self.steps.items() if rule.job == job)
