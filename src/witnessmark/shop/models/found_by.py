"""What a row is found by: its codes and names as bare letters and digits, without case or accents; kept with it."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from typing import Any

from django.db import models

MOST = 300  # characters


def bare(text: str) -> str:
    """Letters and digits alone, without case and accents: ``"12-QX 81"`` is ``"12qx81"``."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(one for one in apart if one.isalnum())


class FoundBy(models.CharField):
    """The column, worked out whenever it is written: each code, then the words of all names.

    A field of a row it points at is named behind a dot: ``owner.name``.
    """

    def __init__(
        self, *args: Any, codes: Sequence[str] = (), names: Sequence[str] = (), **kwargs: Any
    ) -> None:
        self.codes, self.names = tuple(codes), tuple(names)
        super().__init__(*args, **{"max_length": MOST, "editable": False, "default": "", **kwargs})

    @property
    def sources(self) -> set[str]:
        """The fields of the row that it follows from."""
        return {name.partition(".")[0] for name in (*self.codes, *self.names)}

    def deconstruct(self) -> tuple[str, str, Sequence[Any], dict[str, Any]]:
        """As Django writes a field into a migration."""
        name, path, args, kwargs = super().deconstruct()
        return name, path, args, {**kwargs, "codes": self.codes, "names": self.names}

    def pre_save(self, model_instance: models.Model, add: bool) -> str:  # noqa: FBT001 - Django's signature
        """The value that is written."""
        value = self.of(model_instance)
        setattr(model_instance, self.attname, value)
        return value

    def of(self, row: models.Model) -> str:
        """What a row is found by. Example: ``12qx81|inv12qx81|brannock t9 ines calder``."""
        codes = [bare(_text(row, name)) for name in self.codes]
        words = [bare(word) for name in self.names for word in _text(row, name).split()]
        return "|".join([*codes, " ".join(filter(None, words))])[:MOST]


def _text(row: Any, name: str) -> str:
    for part in name.split("."):
        row = getattr(row, part) if row else ""
    return str(row)
