"""Arrival: what came in, how far it has run, by which book it is worked on, and how it was found."""

from __future__ import annotations

from datetime import date
from typing import Annotated, ClassVar

from pydantic import Field

from witnessmark.book.fields import Id, State
from witnessmark.ledger.body import Body, Count, Hash, Role, Said, Text, Uuid
from witnessmark.ledger.phrases import state_words
from witnessmark.ledger.table import Table


class Arrived(Body):
    """The machine is in: what came with it, and what its owner says and wants.

    The store adds what the visit's own row says, so that the row can be held against it.
    """

    written_by: ClassVar[Role] = "technician"

    machine: Uuid
    owner: Uuid
    number: Annotated[int, Field(ge=1)] | None = None  # of the visit
    refuse_unproven_wrench: bool | None = None  # the shop's rule when the visit began
    complaint: Text = ""
    owner_said: Text = ""  # what the owner says was done before
    keys: Count = 0
    fobs: Count = 0
    luggage: Text = ""
    fuel: Text = ""
    alarm: bool | None = None  # None: not asked
    old_parts_back: bool | None = None
    may_ride: bool | None = None
    wanted_by: date | None = None
    look: dict[Id, Text] = {}  # the two-minute look before the ride

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return "arrived"


class OdometerRead(Body):
    """The distance on the clock."""

    written_by: ClassVar[Role] = "technician"

    km: Annotated[float, Field(ge=0, le=10_000_000, allow_inf_nan=False)]
    text: Said  # as written, with its unit

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return f"odometer: {self.text}"


class BookPinned(Body):
    """The revision of the service book that this visit works by."""

    written_by: ClassVar[Role] = "technician"

    revision: Hash

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        return "service book pinned" + (f": {table.title}" if table.title else "")


class StatesFound(Body):
    """The states that conditions were found in; the first arrival's are what "as found" means."""

    written_by: ClassVar[Role] = "technician"

    states: Annotated[dict[Id, State], Field(min_length=1)]

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        return "found: " + ", ".join(state_words(c, s, table) for c, s in self.states.items())
