"""What all bodies of entries have in common: their strictness, and the types of what they say."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

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
Paper = Literal["printed in the record", "not to be ridden", "defect told and declined"]


class Body(BaseModel):
    """Common strictness of all bodies."""

    model_config = ConfigDict(extra="forbid", frozen=True)
