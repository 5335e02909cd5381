"""What is read and measured: readings, shims, figures of the manual."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from witnessmark.book.fields import Id
from witnessmark.ledger.body import (
    Body,
    BodyError,
    Hash,
    Number,
    Role,
    Said,
    StepId,
    Subject,
    Text,
    Uuid,
)
from witnessmark.ledger.table import FigureLimits, Figures, ReadingVerdict, Table, limits_of


class Read(Body):
    """A reading: a value in the base unit of its quantity, or the words chosen."""

    written_by: ClassVar[Role] = "helper"

    reading: Id
    step: StepId
    index: Annotated[int, Field(ge=1, le=8)] = 1
    value: Number | None = None
    text: Text = ""  # as written, with its unit
    words: Text | None = None
    instrument: Text = ""
    vouched: bool = False  # hard to believe, and typed twice

    @model_validator(mode="after")
    def _one_of_value_and_words(self) -> Self:
        if (self.value is None) == (not self.words):
            raise BodyError("a reading has a value or words, one of the two", "give value or words")
        return self

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        rule = table.readings.get(self.reading)
        what = rule.words if rule else "a reading that the book does not have"
        twice = ", typed twice" if self.vouched else ""
        return f"{what}: {self.words or self.text or format(self.value, 'g')}{twice}"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("reading", self.step, self.reading, self.index)]

    def events(self, _entry: str, table: Table, figures: Figures) -> Iterator[str]:
        """See `Body.events`."""
        yield f"read:{self.step}:{self.reading}"
        outside = self.verdict(table, figures) in ("low", "high", "bad")
        yield f"{'outside' if outside else 'within'}:{self.reading}:{self.index}"

    def verdict(self, table: Table, figures: Figures) -> ReadingVerdict:
        """Against the figures that bound it; equality with a limit is within it."""
        rule = table.readings.get(self.reading)
        if self.value is None:
            return "bad" if rule and self.words in rule.bad else "noted"
        if rule is None or not (rule.low or rule.high):
            return "noted"
        low, high = limits_of(rule.low, figures), limits_of(rule.high, figures)
        limits = FigureLimits(low=low.low if low else None, high=high.high if high else None)
        side = limits.side(self.value)
        unknown = (rule.low and limits.low is None) or (rule.high and limits.high is None)
        return "limits unknown" if unknown and side == "within" else side


class NotRead(Body):
    """A reading that cannot be taken, and why."""

    written_by: ClassVar[Role] = "helper"

    reading: Id
    step: StepId
    index: Annotated[int, Field(ge=1, le=8)] = 1
    because: Said
    taken_as: Annotated[dict[Said, bool], Field(max_length=8)] = {}  # what it decides, by unknown

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        what = (
            table.readings[self.reading].words if self.reading in table.readings else self.reading
        )
        ways = [("" if yes else "not ") + self._way(name) for name, yes in self.taken_as.items()]
        taken = f"; taken as {', '.join(ways)}" if ways else ""
        return f"{what}: not read, {self.because}{taken}"

    def _way(self, unknown: str) -> str:
        return unknown.removeprefix(f"{self.reading} ")

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("reading", self.step, self.reading, self.index)]

    def events(self, _entry: str, _table: Table, _figures: Figures) -> Iterator[str]:
        """See `Body.events`."""
        yield f"not_read:{self.step}:{self.reading}"


class LetBe(Body):
    """A reading at its limit is let be: somebody decided that nothing is done about it."""

    written_by: ClassVar[Role] = "technician"

    entry: Uuid  # of the reading
    reading: Id
    step: StepId
    index: Annotated[int, Field(ge=1, le=8)] = 1
    words: Said  # how it stood

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return f"let be: {self.words}"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("reading", self.step, self.reading, self.index)]


class ShimFitted(Body):
    """What one valve got: measured with the shim that was in, and the shim that is in now."""

    valve: Said
    measured_mm: Annotated[float, Field(ge=0, le=2)]
    was_mm: Annotated[float, Field(ge=0.5, le=6)]
    now_mm: Annotated[float, Field(ge=0.5, le=6)]
    source: Literal["stays", "came out", "box", "to buy"]


class ShimsFitted(Body):
    """Shims under the valves of a step, as worked out; what follows is measured again."""

    written_by: ClassVar[Role] = "helper"

    step: StepId
    valves: Annotated[list[ShimFitted], Field(min_length=1, max_length=64)]

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        changed = [v for v in self.valves if v.now_mm != v.was_mm]
        shims = ", ".join(f"{v.valve} {v.was_mm:.3f} to {v.now_mm:.3f} mm" for v in changed)
        return f"shims: {shims or 'all stay'}"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("shims", self.step)]


class FigureSet(Body):
    """A figure proven or corrected over the pinned book, as written, with its source."""

    written_by: ClassVar[Role] = "technician"

    figure: Id
    value: Said | None = None
    low: Said | None = None
    high: Said | None = None
    tolerance: Said | None = None
    source: Text = ""
    was: Text = ""  # as it was shown before
    vouched: Text = ""  # it looks wrong for what it is, and is right: why
    photo: Hash | None = None  # of the page

    @model_validator(mode="after")
    def _something_is_set(self) -> Self:
        if self.value is None and (self.low is None or self.high is None):
            raise BodyError("a figure needs a value, or both ends of a range", "give value")
        return self

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        rule = table.figures.get(self.figure)
        value = self.value or f"{self.low} to {self.high}"
        what = rule.words if rule else "a figure that the book does not have"
        return f"{what}: {value}, source {self.source or 'not given'}"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("figure", self.figure)]

    def events(self, _entry: str, _table: Table, _figures: Figures) -> Iterator[str]:
        """See `Body.events`."""
        yield f"figure_set:{self.figure}"


class FigureConfirmed(Body):
    """A second pair of eyes compared a figure with its source; whoever typed it does not count."""

    written_by: ClassVar[Role] = "helper"

    figure: Id
    of: Said  # the figure as it was written then: of another it says nothing
    source: Said

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        rule = table.figures.get(self.figure)
        what = rule.words if rule else "a figure that the book does not have"
        return f"{what}: {self.of} confirmed with {self.source}"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("figure", self.figure)]
