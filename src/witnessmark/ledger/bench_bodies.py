"""What the bench's entries say: cards, fasteners, readings, findings, codes. `bodies` has the rest, and the kinds."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, StringConstraints, model_validator

from witnessmark.book.model import Id
from witnessmark.ledger.body import Body, Hash, Index, Number, Said, StepId, Text, Torque, Uuid


class CodeSeen(Body):
    """One trouble code as a reader showed it: SAE J2012 text with its failure type, ISO 14229-1 status byte."""

    code: Annotated[str, StringConstraints(pattern=r"^[PCBU][0-3][0-9A-F]{3}(-[0-9A-F]{2})?$")]
    status: Annotated[int, Field(ge=0, le=255)] | None = None
    unit: Annotated[str, StringConstraints(strip_whitespace=True, max_length=120)] = ""


class CodesRead(Body):
    """Trouble codes read from the machine: as pasted, and as understood."""

    moment: Literal["before the work", "after the work"]
    pasted: Annotated[str, StringConstraints(min_length=1, max_length=20_000)]
    codes: Annotated[list[CodeSeen], Field(max_length=500)] = []
    none: bool = False  # the reader says that there is none
    adds: bool = False  # to the reading before it: another control unit

    @model_validator(mode="after")
    def _it_tells_what_is_there(self) -> Self:
        if not self.codes and not self.none:
            raise ValueError("a reading has codes, or says that there is none; give codes or none")
        return self


class CodesCleared(Body):
    """The trouble codes were cleared."""

    text: Text = ""  # in which control units
    copied: bool = True  # False: nothing had been copied to the visit before


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

    step: StepId
    along: list[StepId] = []
    warned: list[Said] = []  # what the card warned of, as it was shown
    reused: list[Id] = []  # renewals used again in place of a new part
    short_wait: Text = ""  # of a step shown by waiting: why less than its time was enough
    drained: list[Drained] = []
    poured: list[Poured] = []


class WaitBegun(Body):
    """What only waiting shows has begun to wait; the step is done when the wait is over."""

    step: StepId
    minutes: Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]
    warned: list[Said] = []  # what the card warned of, as it was shown


class Adapter(Body):
    """A crow-foot or extension between wrench and fastener; see `witnessmark.wrenches.Adapter`."""

    reach_mm: Annotated[float, Field(ge=0, le=2_000, allow_inf_nan=False)]
    angle_deg: Annotated[float, Field(ge=-360, le=360, allow_inf_nan=False)]
    arm_mm: Annotated[float, Field(gt=0, le=5_000, allow_inf_nan=False)]


class Tightened(Body):
    """One fastener of a group made tight: by value where the wrench says one, else by setting and click.

    With an adapter `set_nm` is what the wrench was set to or showed, `value_nm` the torque at the fastener.
    """

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
    def _an_adapter_is_reckoned(self) -> Self:
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


class Shown(Body):
    """A group is closed for good: none moved on the last way round, or what secures it is there."""

    fastener: Id
    what: Literal["still", "secured"]
    step: StepId | None = None
    how: Text = ""  # stripe, wire, pin, tab, compound


class Judged(Body):
    """A thread or bolt that kept turning or went past its value was judged, and what was done about it."""

    fastener: Id
    index: Index = 1
    verdict: Literal["sound", "repaired", "replaced"]
    text: Said


class Read(Body):
    """A reading: a value in the base unit of its quantity, or the words chosen."""

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


class NotRead(Body):
    """A reading that cannot be taken, and why."""

    reading: Id
    step: StepId
    index: Annotated[int, Field(ge=1, le=8)] = 1
    because: Said


class ShimFitted(Body):
    """What one valve got: measured with the shim that was in, and the shim that is in now."""

    valve: Said
    measured_mm: Annotated[float, Field(ge=0, le=2)]
    was_mm: Annotated[float, Field(ge=0.5, le=6)]
    now_mm: Annotated[float, Field(ge=0.5, le=6)]
    source: Literal["stays", "came out", "box", "to buy"]


class ShimsFitted(Body):
    """Shims under the valves of a step, as worked out; what follows is measured again."""

    step: StepId
    valves: Annotated[list[ShimFitted], Field(min_length=1, max_length=64)]


class Found(Body):
    """Something found at the machine that nobody asked for."""

    text: Said
    step: StepId | None = None
    reading: Id | None = None  # the reading that showed it
    safety: bool = False
    line: Id | None = None  # the job that would put it right


class Photo(Body):
    """A picture, kept beside the ledger under its hash."""

    sha256: Hash
    media_type: Literal["image/jpeg", "image/png", "image/webp"]
    step: StepId | None = None
    text: Text = ""


class Erased(Body):
    """A kept picture was erased; its hash stays."""

    sha256: Hash
    why: Said


class Skipped(Body):
    """A step that will not be done on this visit. What it would have closed stays open."""

    step: StepId
    reason: Said


class Wont(Body):
    """The step fails, how, and what is safe now."""

    step: StepId
    what: Literal["stuck", "stripped", "broken", "wrong part", "worse than thought"]
    safe_now: Said
    text: Text = ""


class Settled(Body):
    """A finding, or a step that failed, has its answer."""

    entry: Uuid
    how: Literal["put right", "nothing wrong", "told and declined"]
    text: Text = ""


class Noted(Body):
    """A remark for whoever works on this next."""

    text: Said
    step: StepId | None = None
