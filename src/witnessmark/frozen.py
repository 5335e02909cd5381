"""The base of what is kept or handed on as plain data."""

from __future__ import annotations

import hashlib
from typing import Self

import rfc8785
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


class KeptModel(FrozenModel):
    """What is kept under the hash of its canonical form, and never changed."""

    def canonical(self) -> bytes:
        """RFC 8785 JSON: what is kept, and hashed. Decimals are texts in it."""
        return rfc8785.dumps(self.model_dump(mode="json"))

    @property
    def hash(self) -> str:
        """SHA-256 of the canonical form, 64 hexadecimal digits."""
        return hashlib.sha256(self.canonical()).hexdigest()
