"""What was found, what would not go, what was left out; notes and pictures."""

from __future__ import annotations

from typing import ClassVar, Literal

from witnessmark.book.fields import Id
from witnessmark.ledger.body import Body, Hash, Role, Said, StepId, Subject, Text, Uuid
from witnessmark.ledger.phrases import step_words
from witnessmark.ledger.table import Table


class Found(Body):
    """Something found at the machine that nobody asked for."""

    written_by: ClassVar[Role] = "helper"

    text: Said
    step: StepId | None = None
    reading: Id | None = None  # the reading that showed it
    safety: bool = False
    line: Id | None = None  # the job that would put it right

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return f"found: {self.text}"


class Photo(Body):
    """A picture, kept beside the ledger under its hash."""

    written_by: ClassVar[Role] = "helper"

    sha256: Hash
    media_type: Literal["image/jpeg", "image/png", "image/webp"]
    step: StepId | None = None
    text: Text = ""

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return "picture" + (f": {self.text}" if self.text else "")


class Erased(Body):
    """A kept picture was erased; its hash stays."""

    written_by: ClassVar[Role] = "head"

    sha256: Hash
    why: Said

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return f"picture erased: {self.why}"


class Skipped(Body):
    """A step that will not be done on this visit. What it would have closed stays open."""

    written_by: ClassVar[Role] = "technician"

    step: StepId
    reason: Said

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        return f"not done: {step_words(self.step, table)}, {self.reason}"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("step", self.step)]


class Wont(Body):
    """The step fails, how, and what is safe now.

    ``jobs``: of an access step, those that stop with it; ``for_others``: others still have the step.
    """

    written_by: ClassVar[Role] = "helper"

    step: StepId
    what: Literal["stuck", "stripped", "broken", "wrong part", "part missing", "worse than thought"]
    safe_now: Said
    text: Text = ""
    jobs: list[Id] = []
    for_others: bool = False

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        return f"cannot be done: {step_words(self.step, table)}, {self.what}" + (
            f", {self.text}" if self.text else ""
        )

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("step", self.step)]


class Settled(Body):
    """A finding, or a step that failed, has its answer."""

    written_by: ClassVar[Role] = "technician"

    entry: Uuid
    how: Literal["put right", "nothing wrong", "told and declined"]
    text: Text = ""

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return f"answered: {self.how}" + (f", {self.text}" if self.text else "")

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("entry", self.entry)]


class Noted(Body):
    """A remark for whoever works on this next."""

    written_by: ClassVar[Role] = "helper"

    text: Said
    step: StepId | None = None

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return self.text
