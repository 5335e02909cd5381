"""Fasteners: made tight, shown for good, judged."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from witnessmark.book.fields import Id
from witnessmark.ledger import ids
from witnessmark.ledger.body import (
    Body,
    BodyError,
    Index,
    Role,
    Said,
    StepId,
    Subject,
    Text,
    Torque,
    Uuid,
)
from witnessmark.ledger.phrases import items_words
from witnessmark.ledger.table import Figures, Table, limits_of


class Adapter(Body):
    """A crow-foot or extension between wrench and fastener; see `witnessmark.wrenches.Adapter`."""

    reach_mm: Annotated[float, Field(ge=0, le=2_000, allow_inf_nan=False)]
    angle_deg: Annotated[float, Field(ge=-360, le=360, allow_inf_nan=False)]
    arm_mm: Annotated[float, Field(gt=0, le=5_000, allow_inf_nan=False)]


class Tightened(Body):
    """One fastener of a group made tight: by value where the wrench says one, else by setting and click.

    With an adapter `set_nm` is what the wrench was set to or showed, `value_nm` the torque at the fastener.
    """

    written_by: ClassVar[Role] = "helper"

    fastener: Id
    index: Index = 1
    step: StepId | None = None
    figure: Id | None = None
    value_nm: Torque | None = None
    set_nm: Torque | None = None
    clicked: bool = False
    wrench: Uuid | None = None
    wrench_proven: bool = False  # in calibration at server time; unsure is no
    outcome: Literal["ok", "kept turning", "overshot"] = "ok"
    adapter: Adapter | None = None
    round: Annotated[int, Field(ge=0, le=12)] = 0  # of its stages, torque and turn; 0: the last
    angle_deg: Annotated[float, Field(gt=0, le=36_000, allow_inf_nan=False)] | None = None
    treatment: Text = ""  # of the thread, as it was shown

    @model_validator(mode="after")
    def _an_adapter_is_calculated(self) -> Self:
        if self.adapter is not None and (self.set_nm is None or self.value_nm is None):
            raise BodyError(
                "with an adapter the torque is told at the wrench and at the fastener",
                "give set_nm and value_nm",
            )
        return self

    @model_validator(mode="after")
    def _a_proven_wrench_is_named(self) -> Self:
        if self.wrench_proven and self.wrench is None:
            raise BodyError("the wrench is called proven but not named", "give wrench")
        if self.clicked and self.set_nm is None:
            raise BodyError("a click is told with its setting", "give set_nm")
        return self

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        rule = table.fasteners.get(self.fastener)
        name = rule.words if rule else "a fastener that the book does not have"
        which = f"{name}, {self.index} of {rule.count}" if rule and rule.count > 1 else name
        if self.outcome != "ok":
            return f"{which}: {self.outcome}"
        how = f"tight, round {self.round}" if self.round else "tight"
        if self.angle_deg is not None:
            return f"{which}: turned on by {self.angle_deg:g}°"
        if self.adapter is not None:
            how += f", {self.set_nm:.4g} N·m on the wrench, {self.value_nm:.4g} N·m at the fastener"
        elif self.value_nm is not None:
            how += f", {self.value_nm:g} N·m reached"
        elif self.set_nm is not None:
            how += f", {'clicked at' if self.clicked else 'set to'} {self.set_nm:g} N·m"
        return f"{which}: {how}" + ("" if self.wrench_proven else ", wrench unproven")

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("fastener", self.fastener, self.index, self.round)]

    def events(self, _entry: str, table: Table, figures: Figures) -> Iterator[str]:
        """A value short of its figure leaves it open; one past it is for judgement, as is a turning one.

        A mark of a round before the last counts for that round alone. An angle is proven by the
        torque before it.
        """
        which = f"{self.fastener}:{self.index}"
        side = self._reached(table, figures)
        if side != "within":
            yield f"{'short' if side == 'low' else 'turned'}:{which}"
            return
        rule = table.fasteners.get(self.fastener)
        early = rule is not None and 0 < self.round < len(rule.rounds)
        done = "round" if early else "tightened"
        unproven = self.angle_deg is None and not self.wrench_proven
        yield f"{done}{' unproven' if unproven else ''}:{which}{f':{self.round}' if early else ''}"

    def _reached(self, table: Table, figures: Figures) -> Literal["low", "within", "high"]:
        if self.outcome != "ok":
            return "high"
        reached = self.value_nm if self.value_nm is not None else self.set_nm
        if self.angle_deg is not None:
            reached = self.angle_deg
        limits = limits_of(self._figure(table), figures)
        return "within" if reached is None or limits is None else limits.side(reached)

    def _figure(self, table: Table) -> str | None:
        rule = table.fasteners.get(self.fastener)
        if rule is None or not rule.rounds:
            return rule.figure if rule else None
        return rule.rounds[min(self.round or len(rule.rounds), len(rule.rounds)) - 1]


class Shown(Body):
    """A group is closed for good: none moved on the last round, or what secures it is there."""

    written_by: ClassVar[Role] = "helper"

    fastener: Id
    what: Literal["still", "secured"]
    step: StepId | None = None
    how: Text = ""  # stripe, wire, pin, tab, compound

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        return items_words(
            [ids.still(self.fastener) if self.what == "still" else ids.secured(self.fastener)],
            table,
        ) + (": none moves any more" if self.what == "still" else ": seen")

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [(self.what, self.fastener)]

    def events(self, _entry: str, _table: Table, _figures: Figures) -> Iterator[str]:
        """See `Body.events`."""
        yield f"{self.what}:{self.fastener}"


class Judged(Body):
    """A thread or bolt that kept turning or went past its value was judged, and what was done about it."""

    written_by: ClassVar[Role] = "technician"

    fastener: Id
    index: Index = 1
    verdict: Literal["sound", "repaired", "replaced"]
    text: Said

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        return f"{items_words([ids.thread(self.fastener, self.index)], table)}: {self.verdict}, {self.text}"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("thread", self.fastener, self.index)]

    def events(self, _entry: str, _table: Table, _figures: Figures) -> Iterator[str]:
        """See `Body.events`."""
        yield f"judged:{self.fastener}:{self.index}"
