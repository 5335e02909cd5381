"""The base of what is kept or handed on as plain data."""

from __future__ import annotations

from typing import Self

from pydantic import BaseModel, ConfigDict


class FrozenModel(BaseModel):
    """Frozen, and refuses keys it does not know."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    def __copy__(self) -> Self:
        """A copy (`model_copy` too) works out its cached properties anew: they hang on fields that may change."""
        copied = super().__copy__()
        for name in copied.__dict__.keys() - type(self).model_fields.keys():
            del copied.__dict__[name]
        return copied
