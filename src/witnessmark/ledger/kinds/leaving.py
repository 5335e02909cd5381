"""Leaving: gates, what is let through, the hand-back."""

from __future__ import annotations

from typing import ClassVar, Self

from pydantic import model_validator

from witnessmark.book.model import Gate
from witnessmark.ledger.body import (
    RETURNED,
    Body,
    BodyError,
    Count,
    Hash,
    ItemId,
    Paper,
    Role,
    Said,
    Subject,
    Text,
    Uuid,
)
from witnessmark.ledger.phrases import items_words
from witnessmark.ledger.table import Table


class GatePassed(Body):
    """A gate was passed, with what was still open then: let through by name, or passed by for a reason.

    Only the starter and the wheels on the ground can be passed by, and ``because`` says why.
    """

    written_by: ClassVar[Role] = "helper"

    gate: Gate
    open: list[ItemId] = []
    because: Text = ""

    @model_validator(mode="after")
    def _only_two_gates_are_passed_by(self) -> Self:
        by = self.gate in ("starter", "wheels on the ground")
        if by and bool(self.open) != bool(self.because):
            raise BodyError(
                "a gate with something open is passed by for a reason", "give open and because"
            )
        if self.because and not by:
            raise BodyError(f"{self.gate} is never passed by", "leave because out")
        return self

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return (
            f"passed by: {self.gate}, with {len(self.open)} open, because: {self.because}"
            if self.because
            else f"passed: {self.gate}" + (f", with {len(self.open)} open" if self.open else "")
        )


class Overridden(Body):
    """One open item is let through hand-back by a named person, for a reason, printed in plain words."""

    written_by: ClassVar[Role] = "technician"

    item: ItemId
    reason: Said
    person: Uuid
    paper: Paper = "printed in the record"
    signature: Hash | None = None  # of the picture or file that holds it

    @model_validator(mode="after")
    def _a_paper_is_signed(self) -> Self:
        if self.paper != "printed in the record" and self.signature is None:
            raise BodyError(f'"{self.paper}" is signed by the owner', "give signature")
        return self

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        return f"signed off as is: {items_words([self.item], table)}, {self.reason} ({self.paper})"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("override", self.item)]


class Returned(Body):
    """The machine was handed back."""

    written_by: ClassVar[Role] = "technician"

    keys: Count = 0
    fobs: Count = 0
    old_parts_given: bool | None = None
    ridden_away: bool = True  # False: left on a trailer
    text: Text = ""

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return "handed back" + ("" if self.ridden_away else ", on a trailer")

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [RETURNED]
