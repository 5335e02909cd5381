"""What was changed of prices, rules, people, wrenches and books: who, when, from what to what, kept for good.

Rows of a `Recorded` table tell their changes themselves when they are saved or deleted, whatever page does it.
Values stand in words, in the language of the ledgers: no ids, and no password.
"""

from __future__ import annotations

from contextvars import ContextVar
from datetime import date, datetime
from decimal import Decimal
from typing import Any, ClassVar

from django.conf import settings
from django.db import models, transaction
from django.utils import translation

from witnessmark.shop.dates import day_text, moment_text
from witnessmark.shop.models.base import KeptRow

# Who is at work: set for a request and by commands. Without somebody (a migration, a test's rows) nothing is told.
changing: ContextVar[Any] = ContextVar("changing", default=None)

NOTHING = "nothing"


class ChangeKept(KeptRow):
    """One thing that was changed: of what, which part of it, before and after, in words."""

    by = models.ForeignKey("shop.Member", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    about = models.CharField(max_length=200)
    what = models.CharField(max_length=120)
    before = models.TextField()
    after = models.TextField()

    class Meta:
        ordering = ["-at", "-id"]

    def __str__(self) -> str:
        return f"{self.about}, {self.what}: {self.before} → {self.after}"


def note(about: str, what: str, before: str, after: str) -> None:
    """Keep one change by whoever is at work."""
    by = changing.get()
    if by is not None and before != after:
        ChangeKept(
            shop_id=by.shop_id, by=by, about=about[:200], what=what[:120],
            before=before or NOTHING, after=after or NOTHING,
        ).save(force_insert=True)  # fmt: skip


class Recorded(models.Model):
    """A row whose changes are kept. `about` names it; `words_of` says a value that the usual way says badly."""

    untold: ClassVar[tuple[str, ...]] = ("id", "shop", "user")  # fields that tell nobody anything

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save, and keep what it changed."""
        if changing.get() is None:
            super().save(*args, **kwargs)
            return
        with transaction.atomic(), translation.override(settings.LANGUAGE_CODE):
            rows = type(self)._default_manager.select_for_update()
            before = None if self._state.adding else rows.filter(pk=self.pk).first()
            super().save(*args, **kwargs)
            if before is None:
                note(self.about(), "added", "", self._whole())
                return
            written = kwargs.get("update_fields")
            for field in self._told():
                if written is None or field.name in written:
                    note(
                        before.about(),
                        str(field.verbose_name),
                        before.said_of(field),
                        self.said_of(field),
                    )

    def delete(self, *args: Any, **kwargs: Any) -> Any:
        """Delete, and keep what it was."""
        with transaction.atomic(), translation.override(settings.LANGUAGE_CODE):
            note(self.about(), "taken away", self._whole(), "")
            return super().delete(*args, **kwargs)

    def about(self) -> str:
        """What the row is, in words."""
        name = str(self._meta.verbose_name)
        return f"{name[:1].upper()}{name[1:]}: {self}"

    def words_of(self, name: str) -> str | None:
        """The value of a field in words; None: as values are said usually."""
        return None

    def _told(self) -> list[models.Field]:
        return [one for one in self._meta.concrete_fields if one.name not in self.untold]

    def _whole(self) -> str:
        said = ((field.verbose_name, self.said_of(field)) for field in self._told())
        return "; ".join(f"{name}: {words}" for name, words in said if words)

    def said_of(self, field: models.Field) -> str:
        """The value of a field in words; empty for none."""
        own = self.words_of(field.name)
        if own is not None:
            return own
        value = getattr(self, field.name)
        if field.choices:
            return str(dict(field.flatchoices).get(value, value))
        return said(value)


def said(value: Any) -> str:
    """A value as people read it; empty for none."""
    words = str(value)
    if isinstance(value, bool):
        words = "yes" if value else "no"
    elif value is None:
        words = ""
    elif isinstance(value, dict):
        words = ", ".join(f"{name} {said(one)}" for name, one in value.items())
    elif isinstance(value, list | tuple):
        words = ", ".join(map(said, value))
    elif isinstance(value, datetime):
        words = moment_text(value)
    elif isinstance(value, date):
        words = day_text(value)
    elif isinstance(value, float):
        words = f"{value:g}"
    elif isinstance(value, Decimal):
        words = f"{value.normalize():f}"
    return words
