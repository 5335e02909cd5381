"""Work agreed: jobs, estimates, the owner's answers, own lines, the complaint, the order of work."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, StringConstraints, model_validator

from witnessmark.book.fields import Id
from witnessmark.ledger.body import (
    Body,
    BodyError,
    Hash,
    How,
    Role,
    Said,
    ShortText,
    Subject,
    Text,
    Uuid,
)
from witnessmark.ledger.phrases import line_words, with_reason
from witnessmark.ledger.table import Table
from witnessmark.money import amount_text

Minor = Annotated[int, Field(ge=0, le=10**12)]


class JobTaken(Body):
    """A job is part of this visit's work."""

    written_by: ClassVar[Role] = "helper"

    job: Id
    because: Text = ""
    finding: Uuid | None = None  # the entry (found, wont) that it answers

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        return f"job taken on: {line_words(self.job, table)}" + with_reason(self.because)

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("job", self.job)]


class JobLeft(Body):
    """A job is not part of this visit's work, or no longer."""

    written_by: ClassVar[Role] = "technician"

    job: Id
    because: Text = ""

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        return f"job left: {line_words(self.job, table)}" + with_reason(self.because)

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("job", self.job)]


class Offered(Body):
    """An estimate was shown or sent to the owner."""

    written_by: ClassVar[Role] = "helper"

    estimate: Hash
    lines: Annotated[list[Id], Field(min_length=1)]  # job ids, in the estimate's order

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        return f"offered: {', '.join(line_words(line, table) for line in self.lines)}"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("line", line) for line in self.lines]


class Answered(Body):
    """The owner's yes or no to one line."""

    written_by: ClassVar[Role] = "technician"

    estimate: Hash
    line: Id
    verdict: Literal["yes", "no"]
    by: Uuid
    how: How
    finding: Uuid | None = None

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        return f"owner says {self.verdict} to {line_words(self.line, table)}, {self.how}"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("line", self.line)]


class LimitGiven(Body):
    """Up to how much may be done without asking: in minor units of the currency."""

    written_by: ClassVar[Role] = "technician"

    minor: Annotated[int, Field(ge=0, le=10**12)]
    currency: Annotated[str, StringConstraints(pattern=r"^[A-Z]{3}$")]
    by: Uuid
    how: How

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return f"limit without asking: {amount_text(self.minor, self.currency)}"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("limit",)]


class PlanTaken(Body):
    """The order of work now followed."""

    written_by: ClassVar[Role] = "helper"

    plan: Hash

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return "order of work taken"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("plan",)]


class LinePart(Body):
    """A part of an own line: what, how many, the price of each without tax, in minor units."""

    text: ShortText
    quantity: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] = 1.0
    each_minor: Minor


class LineWritten(Body):
    """A line for the owner in the technician's words. Agreed, it is work like a job of the book."""

    written_by: ClassVar[Role] = "helper"

    words: ShortText
    why: Annotated[Text, Field(max_length=1000)] = ""
    where: Annotated[Text, Field(max_length=200)] = ""
    minutes: Annotated[float, Field(ge=0, le=10_000, allow_inf_nan=False)] = 0.0
    fixed_minor: Minor | None = None  # a price for the work; None: its minutes at the labour rate
    parts: Annotated[list[LinePart], Field(max_length=50)] = []
    safety: bool = False

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return f"line written for the owner: {self.words}"


ComplaintEnd = Literal["put right", "nothing found", "told and declined", "left for later"]


class ComplaintAnswered(Body):
    """What became of the complaint, in the owner's words it answers; by lines: once these are done."""

    written_by: ClassVar[Role] = "technician"

    complaint: Said
    how: ComplaintEnd
    lines: list[Id] = []
    text: Text = ""

    @model_validator(mode="after")
    def _it_says_how(self) -> Self:
        if self.lines and self.how != "put right":
            raise BodyError("lines put a complaint right", 'give how "put right", or no lines')
        if not self.lines and not self.text:
            raise BodyError(
                "an answer names the lines that put it right, or says it in words",
                "give lines or text",
            )
        return self

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        by = ", ".join(line_words(line, table) for line in self.lines)
        said = f"{self.how} by {by}" if by else self.how
        return f"complaint “{self.complaint}”: {said}" + (f", {self.text}" if self.text else "")

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("complaint",)]
