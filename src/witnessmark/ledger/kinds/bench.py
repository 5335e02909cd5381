"""Work at the bench: cards, fasteners, readings, findings, what was opened beyond the book."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from witnessmark.book.fields import Id
from witnessmark.ledger import ids
from witnessmark.ledger.body import (
    Body,
    Index,
    Name,
    Number,
    Role,
    Said,
    StepId,
    Text,
    Torque,
    Uuid,
)
from witnessmark.ledger.phrases import items_words, step_words
from witnessmark.ledger.table import Table
from witnessmark.units import QuantityError, read

OPEN = "open"  # the step that opens an added thing once more


class Drained(Body):
    """A fluid that came out, and the waste container it went into; None: the shop has none for it."""

    fluid: Id
    family: Said
    volume_ml: Annotated[float, Field(gt=0, le=250_000, allow_inf_nan=False)]
    container: Uuid | None = None
    into: Text = ""  # its name then, or in words where it went


class Poured(Body):
    """The bottle a fluid was taken from; one that was refused is used for a reason alone."""

    fluid: Id
    bottle: Said  # name and label, as the shelf had them
    pack: Uuid | None = None
    volume_ml: Annotated[float, Field(gt=0, le=250_000, allow_inf_nan=False)] | None = None
    refused: list[Said] = []  # why the machine does not allow it
    because: Text = ""

    @model_validator(mode="after")
    def _a_refused_bottle_has_a_reason(self) -> Self:
        if self.refused and not self.because:
            raise ValueError("a bottle that is refused is used for a reason alone; give because")
        return self


class Done(Body):
    """A card was confirmed; access steps without evidence of their own close along with it, before it."""

    written_by: ClassVar[Role] = "helper"

    step: StepId
    along: list[StepId] = []
    warned: list[Said] = []  # what the card warned of, as it was shown
    reused: list[Id] = []  # renewals used again in place of a new part
    short_wait: Text = ""  # of a step shown by waiting: why less than its time was enough
    drained: list[Drained] = []
    poured: list[Poured] = []

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        said = f"done: {step_words(self.step, table)}"
        if self.along:
            said += f"; along with it: {', '.join(step_words(s, table) for s in self.along)}"
        said += "".join(
            f"; {one.volume_ml:g} mL into {one.into or 'no container'}" for one in self.drained
        )
        for one in self.poured:
            why = f", refused ({'; '.join(one.refused)}) and used because: {one.because}"
            said += f"; from {one.bottle}" + (why if one.refused else "")
        if self.short_wait:
            said += f"; waited less than its time: {self.short_wait}"
        return said


class WaitBegun(Body):
    """What only waiting shows has begun to wait; the step is done when the wait is over."""

    written_by: ClassVar[Role] = "helper"

    step: StepId
    minutes: Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]
    warned: list[Said] = []  # what the card warned of, as it was shown

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        return f"wait of {self.minutes:g} min begun: {step_words(self.step, table)}"


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
            raise ValueError(
                "with an adapter the torque is told at the wrench and at the fastener; give set_nm and value_nm"
            )
        return self

    @model_validator(mode="after")
    def _a_proven_wrench_is_named(self) -> Self:
        if self.wrench_proven and self.wrench is None:
            raise ValueError("the wrench is called proven but not named; give wrench")
        if self.clicked and self.set_nm is None:
            raise ValueError("a click is told with its setting; give set_nm")
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


class Shown(Body):
    """A group is closed for good: none moved on the last way round, or what secures it is there."""

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


class Read(Body):
    """A reading: a value in the base unit of its quantity, or the words chosen."""

    written_by: ClassVar[Role] = "helper"

    reading: Id
    step: StepId
    index: Annotated[int, Field(ge=1, le=8)] = 1
    value: Number | None = None
    text: Text = ""  # as written, with its unit
    words: Text | None = None
    instrument: Text = ""
    vouched: bool = False  # hard to believe, and typed twice

    @model_validator(mode="after")
    def _one_of_value_and_words(self) -> Self:
        if (self.value is None) == (not self.words):
            raise ValueError("a reading has a value or words, one of the two; give value or words")
        return self

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        rule = table.readings.get(self.reading)
        what = rule.words if rule else "a reading that the book does not have"
        twice = ", typed twice" if self.vouched else ""
        return f"{what}: {self.words or self.text or format(self.value, 'g')}{twice}"


class NotRead(Body):
    """A reading that cannot be taken, and why."""

    written_by: ClassVar[Role] = "helper"

    reading: Id
    step: StepId
    index: Annotated[int, Field(ge=1, le=8)] = 1
    because: Said

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        return (
            f"{table.readings[self.reading].words if self.reading in table.readings else self.reading}"
            f": not read, {self.because}"
        )


class ShimFitted(Body):
    """What one valve got: measured with the shim that was in, and the shim that is in now."""

    valve: Said
    measured_mm: Annotated[float, Field(ge=0, le=2)]
    was_mm: Annotated[float, Field(ge=0.5, le=6)]
    now_mm: Annotated[float, Field(ge=0.5, le=6)]
    source: Literal["stays", "came out", "box", "to buy"]


class ShimsFitted(Body):
    """Shims under the valves of a step, as worked out; what follows is measured again."""

    written_by: ClassVar[Role] = "helper"

    step: StepId
    valves: Annotated[list[ShimFitted], Field(min_length=1, max_length=64)]

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        changed = [v for v in self.valves if v.now_mm != v.was_mm]
        shims = ", ".join(f"{v.valve} {v.was_mm:.3f} to {v.now_mm:.3f} mm" for v in changed)
        return f"shims: {shims or 'all stay'}"


class FigureSet(Body):
    """A figure proven or corrected over the pinned book, as written, with its source."""

    written_by: ClassVar[Role] = "technician"

    figure: Id
    value: Said | None = None
    low: Said | None = None
    high: Said | None = None
    tolerance: Said | None = None
    source: Text = ""
    was: Text = ""  # as it was shown before
    vouched: Text = ""  # it looks wrong for what it is, and is right: why

    @model_validator(mode="after")
    def _something_is_set(self) -> Self:
        if self.value is None and (self.low is None or self.high is None):
            raise ValueError("a figure needs a value, or both ends of a range; give value")
        return self

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        rule = table.figures.get(self.figure)
        value = self.value or f"{self.low} to {self.high}"
        what = rule.words if rule else "a figure that the book does not have"
        return f"{what}: {value}, source {self.source or 'not given'}"


class Added(Body):
    """Something was opened that no book lists: from this entry on it is open, until it is closed."""

    written_by: ClassVar[Role] = "helper"

    what: Literal["fastener", "pipe", "connector", "cover", "circuit"]
    words: Name
    where: Annotated[Text, Field(max_length=200)] = ""
    count: Index = 1
    grade: Literal["proven", "by table", "counted"] = "counted"  # of a fastener
    safety: bool = False
    torque: Annotated[Text, Field(max_length=60)] = (
        ""  # as written, with its unit; empty: not known
    )
    source: Annotated[Text, Field(max_length=300)] = ""
    bleed: bool = False  # a circuit that must be bled

    @model_validator(mode="after")
    def _only_a_fastener_has_a_torque(self) -> Self:
        if self.what != "fastener" and (self.torque or self.grade != "counted"):
            raise ValueError("only a fastener has a grade and a torque; leave grade and torque out")
        if self.what != "circuit" and self.bleed:
            raise ValueError("only a circuit is bled; leave bleed out")
        if self.torque:
            try:
                read(self.torque, "torque")
            except QuantityError as error:
                raise ValueError(f"torque: {error.problem}; {error.expected}") from error
        return self

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        count = f", {self.count}" if self.count > 1 else ""
        torque = f", {self.torque}" if self.torque else ""
        return f"opened, not in the service book: {self.words}{count}{torque}"
