"""Work at the bench: cards, waits, what was opened beyond the book."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from witnessmark.book.fields import Id
from witnessmark.ledger.body import (
    Body,
    BodyError,
    Index,
    Role,
    Said,
    ShortText,
    StepId,
    Subject,
    Text,
    Uuid,
    own_id,
)
from witnessmark.ledger.phrases import step_words
from witnessmark.ledger.table import Figures, Table
from witnessmark.units import QuantityError, read

OPEN = "open"  # the step that opens an added thing once more


class Drained(Body):
    """A fluid that came out, and the waste container it went into; None: the shop has none for it."""

    fluid: Id
    family: Said
    volume_ml: Annotated[float, Field(gt=0, le=250_000, allow_inf_nan=False)]
    container: Uuid | None = None
    into: Text = ""  # its name then, or in words where it went


class Poured(Body):
    """The bottle a fluid was taken from; one that was refused is used for a reason alone."""

    fluid: Id
    bottle: Said  # name and label, as the shelf had them
    pack: Uuid | None = None
    volume_ml: Annotated[float, Field(gt=0, le=250_000, allow_inf_nan=False)] | None = None
    refused: list[Said] = []  # why the machine does not allow it
    because: Text = ""

    @model_validator(mode="after")
    def _a_refused_bottle_has_a_reason(self) -> Self:
        if self.refused and not self.because:
            raise BodyError("a bottle that is refused is used for a reason alone", "give because")
        return self


def _fluids_in_words(drained: Iterable[Drained], poured: Iterable[Poured]) -> str:
    said = "".join(f"; {one.volume_ml:g} mL into {one.into or 'no container'}" for one in drained)
    for one in poured:
        why = f", refused ({'; '.join(one.refused)}) and used because: {one.because}"
        said += f"; from {one.bottle}" + (why if one.refused else "")
    return said


class Done(Body):
    """A card was confirmed; access steps without evidence of their own close along with it, before it."""

    written_by: ClassVar[Role] = "helper"

    step: StepId
    along: list[StepId] = []
    warned: list[Said] = []  # what the card warned of, as it was shown
    reused: list[Id] = []  # renewals used again in place of a new part
    began: Uuid | None = (
        None  # the entry that began the wait it ends, and opened what the step opens
    )
    short_wait: Text = ""  # why less than the time of its wait was enough
    drained: list[Drained] = []
    poured: list[Poured] = []
    not_tight: list[
        Said
    ] = []  # fasteners it was to make tight and did not, as the card showed them
    not_tight_because: Text = ""  # why it was gone on with one that concerns safety

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        if self.not_tight:
            left = "; ".join(self.not_tight)
            why = f", because: {self.not_tight_because}" if self.not_tight_because else ""
            return f"gone on, not tight: {left}{why} ({self.work_words(table)})"
        return f"done: {self.work_words(table)}"

    def work_words(self, table: Table) -> str:
        """The work that was done, and what came with it."""
        said = step_words(self.step, table)
        if self.along:
            said += f"; along with it: {', '.join(step_words(s, table) for s in self.along)}"
        said += _fluids_in_words(self.drained, self.poured)
        if self.short_wait:
            said += f"; waited less than its time: {self.short_wait}"
        return said

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("step", step) for step in (*self.along, self.step)]

    def confirms(self, _entry: str) -> tuple[str, ...]:
        """See `Body.confirms`."""
        return (*self.along, self.step)

    def events(self, entry: str, table: Table, figures: Figures) -> Iterator[str]:
        """See `Body.events`."""
        ended = f"ended:{self.step}"
        for event in super().events(entry, table, figures):
            of_the_wait = self.began and event == f"done:{self.step}" and ended in table.events
            yield ended if of_the_wait else event
        yield from (f"reused:{renewal}" for renewal in self.reused)


class WaitBegun(Body):
    """The attended part of a step is done, and what it opens is open; `done` ends the wait, and closes."""

    written_by: ClassVar[Role] = "helper"

    step: StepId
    minutes: Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]
    warned: list[Said] = []  # what the card warned of, as it was shown
    drained: list[Drained] = []
    poured: list[Poured] = []

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        said = f"wait of {self.minutes:g} min begun: {step_words(self.step, table)}"
        return said + _fluids_in_words(self.drained, self.poured)

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("step", self.step)]

    def events(self, _entry: str, table: Table, _figures: Figures) -> Iterator[str]:
        """See `Body.events`."""
        if (begun := f"begun:{self.step}") in table.events:
            yield begun


class WaitStopped(Body):
    """A wait was broken off: it shows nothing, and is begun anew or the step left out. What was opened is open."""

    written_by: ClassVar[Role] = "helper"

    step: StepId
    because: Said

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        return f"wait broken off: {step_words(self.step, table)}: {self.because}"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("step", self.step)]


class Added(Body):
    """Something was opened that no book lists: from this entry on it is open, until it is closed."""

    written_by: ClassVar[Role] = "helper"

    what: Literal["fastener", "pipe", "connector", "cover", "circuit"]
    words: ShortText
    where: Annotated[Text, Field(max_length=200)] = ""
    count: Index = 1
    grade: Literal["proven", "by table", "counted"] = "counted"  # of a fastener
    safety: bool = False
    torque: Annotated[Text, Field(max_length=60)] = (
        ""  # as written, with its unit; empty: not known
    )
    source: Annotated[Text, Field(max_length=300)] = ""
    bleed: bool = False  # a circuit that must be bled

    @model_validator(mode="after")
    def _only_a_fastener_has_a_torque(self) -> Self:
        if self.what != "fastener" and (self.torque or self.grade != "counted"):
            raise BodyError(
                "only a fastener has a grade and a torque", "leave grade and torque out"
            )
        if self.what != "circuit" and self.bleed:
            raise BodyError("only a circuit is bled", "leave bleed out")
        if self.torque:
            try:
                read(self.torque, "torque")
            except QuantityError as error:
                raise BodyError(f"torque: {error.problem}", error.expected) from error
        return self

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        count = f", {self.count}" if self.count > 1 else ""
        torque = f", {self.torque}" if self.torque else ""
        return f"opened, not in the service book: {self.words}{count}{torque}"

    def confirms(self, entry: str) -> tuple[str, ...]:
        """Open from this entry on: the same as its step that opens it again."""
        return (f"{own_id(entry)}/{OPEN}",)
