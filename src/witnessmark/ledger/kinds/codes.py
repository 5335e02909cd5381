"""Trouble codes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, StringConstraints, model_validator

from witnessmark.decode import is_there
from witnessmark.ledger.body import Body, BodyError, Role, Text
from witnessmark.ledger.table import Figures, Table


class CodeSeen(Body):
    """One trouble code as a reader showed it: SAE J2012 text with its failure type, ISO 14229-1 status byte."""

    code: Annotated[str, StringConstraints(pattern=r"^[PCBU][0-3][0-9A-F]{3}(-[0-9A-F]{2})?$")]
    status: Annotated[int, Field(ge=0, le=255)] | None = None
    unit: Annotated[str, StringConstraints(strip_whitespace=True, max_length=120)] = ""


class CodesRead(Body):
    """Trouble codes read from the machine: as pasted, and as understood."""

    written_by: ClassVar[Role] = "helper"

    moment: Literal["before the work", "after the work"]
    pasted: Annotated[str, StringConstraints(min_length=1, max_length=20_000)]
    codes: Annotated[list[CodeSeen], Field(max_length=500)] = []
    none: bool = False  # the reader says that there is none
    adds: bool = False  # to the reading before it: another control unit

    @model_validator(mode="after")
    def _it_tells_what_is_there(self) -> Self:
        if not self.codes and not self.none:
            raise BodyError("a reading has codes, or says that there is none", "give codes or none")
        return self

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        codes = ", ".join(dict.fromkeys(one.code for one in self.codes)) or "none"
        return f"trouble codes {self.moment}{', another unit' if self.adds else ''}: {codes}"

    def events(self, _entry: str, _table: Table, _figures: Figures) -> Iterator[str]:
        """Codes found before the work must be read again after it; one only listed is not there."""
        if self.moment == "after the work":
            yield "codes read after"
        elif any(one.status is None or is_there(one.status) for one in self.codes):
            yield "codes there"


class CodesCleared(Body):
    """The trouble codes were cleared."""

    written_by: ClassVar[Role] = "helper"

    text: Text = ""  # in which control units
    copied: bool = True  # False: nothing had been copied to the visit before

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return (
            "trouble codes cleared"
            + (f": {self.text}" if self.text else "")
            + ("" if self.copied else ", without having copied them")
        )

    def events(self, _entry: str, _table: Table, _figures: Figures) -> Iterator[str]:
        """See `Body.events`."""
        yield "codes cleared"
