"""Repairs that no book lists: what was tested, what the cause is, and the job that puts it right."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import Field, model_validator

from witnessmark.book.fields import Id
from witnessmark.book.own_job import OwnId, OwnJob
from witnessmark.ledger.body import Body, BodyError, Role, ShortText, Subject, Text
from witnessmark.ledger.kinds.agreed import Minor
from witnessmark.ledger.table import Table
from witnessmark.units import Quantity, QuantityError, read


class Measured(Body):
    """Something measured, or looked at (quantity "words"), and whether it is as it should be."""

    text: ShortText
    quantity: Quantity = "words"
    found: ShortText  # as written, with its unit
    low: Annotated[Text, Field(max_length=60)] = ""  # the limits, as written; empty: none
    high: Annotated[Text, Field(max_length=60)] = ""
    source: Annotated[Text, Field(max_length=300)] = ""  # of the limits
    right: bool | None = None  # of words, and where no limit is known: as the technician judges

    @model_validator(mode="after")
    def _it_can_be_judged(self) -> Self:
        for key in ("found", "low", "high"):
            text = getattr(self, key)
            if text and self.quantity != "words":
                try:
                    read(text, self.quantity)
                except QuantityError as error:
                    raise BodyError(f"{key}: {error.problem}", error.expected) from error
        if self.quantity == "words" and (self.low or self.high):
            raise BodyError("words have no limits", "leave low and high out, or say the quantity")
        return self

    @property
    def verdict(self) -> Literal["within", "outside", "not judged"]:
        """Within its limits or outside them; where there are none, as it was judged."""
        if self.low or self.high:
            value = read(self.found, self.quantity).value
            low, high = (read(x, self.quantity).value if x else None for x in (self.low, self.high))
            fine = (low is None or value >= low - 1e-9) and (high is None or value <= high + 1e-9)
            return "within" if fine else "outside"
        if self.right is None:
            return "not judged"
        return "within" if self.right else "outside"


class RepairWritten(Body):
    """A job of one's own for this visit, or another form of one written before; the newest counts.

    It stands beside the pinned book under the id that its first entry gives it (`own_id`).
    """

    written_by: ClassVar[Role] = "technician"

    repair: Id | None = None  # which one it changes; None: a new one
    job: OwnJob
    prices: dict[OwnId, Minor] = {}  # of its own parts: each without tax, in minor units
    tests: Annotated[list[Measured], Field(max_length=40)] = []
    cause: Text = ""

    @model_validator(mode="after")
    def _prices_are_of_its_parts(self) -> Self:
        if unknown := self.prices.keys() - self.job.parts.keys():
            raise BodyError(f"a price of {min(unknown)}, which is none of its parts", "drop it")
        return self

    @property
    def agreed_on(self) -> dict[str, Any]:
        """What an owner agrees to: a change of any of it is asked again."""
        job = self.job
        figures = {use.figure for step in job.steps for use in step.fluids.values()}
        return {
            "words": (job.text, job.why),
            "minutes": job.minutes,
            "parts": [(step.parts, step.renews) for step in job.steps if step.parts or step.renews],
            "named": (job.parts, job.renewals, self.prices),
            "fluids": [step.fluids for step in job.steps if step.fluids],
            "volumes": {name: job.figures.get(name) for name in sorted(figures)},
            "with it": (job.brings, job.disposal),
        }

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        how = "repair changed" if self.repair else "repair written"
        cause = f"; cause: {self.cause}" if self.cause else ""
        return f"{how}: {self.job.text}, {len(self.job.steps)} steps{cause}"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("job", self.repair)] if self.repair else []
