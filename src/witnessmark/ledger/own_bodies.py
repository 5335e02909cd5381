"""What the entries say that go beyond the book: things opened that no book lists, own lines, the complaint's answer."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, StringConstraints, model_validator

from witnessmark.book.model import Id
from witnessmark.ledger.body import Body, Index, Said, Text
from witnessmark.units import QuantityError, read

Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=300)]
Minor = Annotated[int, Field(ge=0, le=10**12)]
OPEN = "open"  # the step that opens an added thing once more


def own_id(entry_id: str) -> str:
    """The id that what this entry adds has, in the book of the visit."""
    return f"own_{entry_id[-12:]}"


class Added(Body):
    """Something was opened that no book lists: from this entry on it is open, until it is closed."""

    what: Literal["fastener", "pipe", "connector", "cover", "circuit"]
    words: Name
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
            raise ValueError("only a fastener has a grade and a torque; leave grade and torque out")
        if self.what != "circuit" and self.bleed:
            raise ValueError("only a circuit is bled; leave bleed out")
        if self.torque:
            try:
                read(self.torque, "torque")
            except QuantityError as error:
                raise ValueError(f"torque: {error.wrong}; {error.right}") from error
        return self


class LinePart(Body):
    """A part of an own line: what, how many, the price of each without tax, in minor units."""

    text: Name
    quantity: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] = 1.0
    each_minor: Minor


class LineWritten(Body):
    """A line for the owner in the technician's words. Agreed, it is work like a job of the book."""

    words: Name
    why: Annotated[Text, Field(max_length=1000)] = ""
    where: Annotated[Text, Field(max_length=200)] = ""
    minutes: Annotated[float, Field(ge=0, le=10_000, allow_inf_nan=False)] = 0.0
    fixed_minor: Minor | None = None  # a price for the work; None: its minutes at the labour rate
    parts: Annotated[list[LinePart], Field(max_length=50)] = []
    safety: bool = False


ComplaintEnd = Literal["put right", "nothing found", "told and declined", "left for later"]


class ComplaintAnswered(Body):
    """What became of the complaint, in the owner's words it answers; by lines: once these are done."""

    complaint: Said
    how: ComplaintEnd
    lines: list[Id] = []
    text: Text = ""

    @model_validator(mode="after")
    def _it_says_how(self) -> Self:
        if self.lines and self.how != "put right":
            raise ValueError('lines put a complaint right; give how "put right", or no lines')
        if not self.lines and not self.text:
            raise ValueError(
                "an answer names the lines that put it right, or says it in words; give lines or text"
            )
        return self
