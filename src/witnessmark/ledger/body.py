"""What all bodies of entries have in common: strictness, words, who may write them; and the types of what they say."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from pydantic import Field, StringConstraints

from witnessmark.frozen import FrozenModel

if TYPE_CHECKING:
    from witnessmark.ledger.table import Figures, Table

Uuid = Annotated[
    str,
    StringConstraints(pattern=r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$"),
]
Hash = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
StepId = Annotated[
    str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*(/[a-z][a-z0-9_]*)?$", max_length=121)
]
ItemId = Annotated[str, StringConstraints(min_length=1, max_length=240)]
Text = Annotated[str, StringConstraints(strip_whitespace=True, max_length=4000)]
Said = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=4000)]
Number = Annotated[float, Field(allow_inf_nan=False)]
Torque = Annotated[float, Field(gt=0, lt=10_000, allow_inf_nan=False)]  # N·m
Index = Annotated[int, Field(ge=1, le=60)]
Count = Annotated[int, Field(ge=0, le=100)]
How = Literal["in person", "by telephone", "by message", "in writing"]
ShortText = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=300)]
Role = Literal["helper", "technician", "head"]  # each may do what the one before it may
Subject = tuple[object, ...]  # a thing that two entries can both speak of
RETURNED: Subject = ("returned",)
Paper = Literal["printed in the record", "not to be ridden", "defect told and declined"]


class BodyError(ValueError):
    """Parts of a body that do not fit together: what is wrong, what would be right."""

    def __init__(self, problem: str, expected: str) -> None:
        self.problem, self.expected = problem, expected


class Body(FrozenModel):
    """Common strictness of all bodies.

    What they do not say of themselves is the head's, is told plainly, and opens and closes nothing.
    """

    written_by: ClassVar[Role] = "head"  # from which role on
    can_be_corrected: ClassVar[bool] = True  # whether `corrected` may name it

    def in_words(self, _table: Table) -> str:
        """What it says, by itself, to people who do not see the book."""
        name = re.sub(r"(?<!^)(?=[A-Z])", " ", type(self).__name__).lower()
        text = str(getattr(self, "text", "") or getattr(self, "reason", ""))
        return f"{name}: {text}" if text else name

    def about(self) -> list[Subject]:
        """What it says something of: two entries that share one of these say it of the same thing."""
        return []

    def confirms(self, _entry: str) -> tuple[str, ...]:
        """The steps that it confirms or stands for, by the id of its entry."""
        return ()

    def events(self, entry: str, _table: Table, _figures: Figures) -> Iterator[str]:
        """The events of the table that it is, in the order they happened; ``entry``: the id of its entry."""
        yield from (f"done:{step}" for step in self.confirms(entry))


def own_id(entry_id: str) -> str:
    """The id that what an entry adds beyond the book has, in the book of the visit."""
    return f"own_{entry_id[-12:]}"
