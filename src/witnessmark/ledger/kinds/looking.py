"""Looking again: second looks, the walk round, what is confirmed, doubted, corrected."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from witnessmark.ledger.body import Body, ItemId, Role, Subject, Text, Uuid
from witnessmark.ledger.phrases import items_words
from witnessmark.ledger.table import Figures, Table
from witnessmark.wrenches.words import per_cent


class Fallback(Body):
    """What a lone worker did in place of a second person (nearest published model: 14 CFR 135.429(d))."""

    apart: Literal["break", "other work"]
    # the least a kept entry may say: a longer wait is asked for by the form, LEAST_APART of `shop.work.hand_back`
    minutes: Annotated[int, Field(ge=15, le=100_000)]
    other_order: Literal[True]
    looked_again: Literal[True]  # leaks, stripes, levels
    not_ridden_because: Text = ""  # empty: the road test was ridden before


class Looked(Body):
    """A second look at items, by the author of this entry."""

    written_by: ClassVar[Role] = "helper"

    items: Annotated[list[ItemId], Field(min_length=1)]
    fallback: Fallback | None = None

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        return f"second look{', alone' if self.fallback else ''}: {items_words(self.items, table)}"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("look", item) for item in self.items]


class WalkedRound(Body):
    """The closing walk round the machine: nothing left in, on or under it; tools and rags counted."""

    written_by: ClassVar[Role] = "technician"

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return "walked round the machine, tools and rags counted"

    def events(self, _entry: str, _table: Table, _figures: Figures) -> Iterator[str]:
        """See `Body.events`."""
        yield "walked_round"


class Confirmed(Body):
    """Entries that had not seen each other were compared at the machine, and what they say stands."""

    written_by: ClassVar[Role] = "technician"

    items: Annotated[list[ItemId], Field(min_length=1)]
    text: Text = ""

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        return f"compared and confirmed: {items_words(self.items, table)}"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("confirmed", item) for item in self.items]


class WrenchDoubted(Body):
    """A check found a wrench wrong: the marks it made since its last good check are in doubt.

    Fasteners that these marks keep closed are open again.
    """

    written_by: ClassVar[Role] = "technician"

    wrench: Uuid
    check: Uuid
    marks: Annotated[list[Uuid], Field(min_length=1)]  # entries of this visit
    found: Annotated[float, Field(gt=-1, lt=10, allow_inf_nan=False)]  # worst deviation, as a share
    since: date | None = None  # its last good check before; None: never

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return (
            f"a wrench was found wrong, {per_cent(self.found, signed=True)} at most: "
            f"{len(self.marks)} fastener{'s' if len(self.marks) > 1 else ''} made tight with it in doubt"
        )


class Corrected(Body):
    """The named entry counts as though it had not been; it stays in the history."""

    written_by: ClassVar[Role] = "helper"

    entry: Uuid
    why: Text = ""

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return "taken back" + (f": {self.why}" if self.why else "")

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("entry", self.entry)]
