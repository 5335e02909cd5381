"""What each kind of entry says. Ids only where people are meant, so that a person can be erased later.

Every body is strict: unknown keys are refused, nothing changes after reading. Steps are named by id (an access
step, or ``job/operation``), never by a place in a plan. Free text is the technician's, about the machine.
"""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

from witnessmark.book.model import Gate, Id, State

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


class Arrived(Body):
    """The machine is in: what came with it, and what its owner says and wants."""

    machine: Uuid
    owner: Uuid
    complaint: Text = ""
    owner_said: Text = ""  # what the owner says was done before
    keys: Count = 0
    fobs: Count = 0
    luggage: Text = ""
    fuel: Text = ""
    alarm: bool | None = None  # None: not asked
    old_parts_back: bool | None = None
    may_ride: bool | None = None
    wanted_by: date | None = None
    look: dict[Id, Text] = {}  # the two-minute look before the ride


class OdometerRead(Body):
    """The distance on the clock."""

    km: Annotated[float, Field(ge=0, le=10_000_000, allow_inf_nan=False)]
    text: Said  # as written, with its unit


class BookPinned(Body):
    """The revision of the service book that this visit works by."""

    revision: Hash


class StatesFound(Body):
    """The states that conditions were found in; the first arrival's are what "as found" means."""

    states: Annotated[dict[Id, State], Field(min_length=1)]


class JobTaken(Body):
    """A job is part of this visit's work."""

    job: Id
    because: Text = ""
    finding: Uuid | None = None  # the entry (found, wont) that it answers


class JobLeft(Body):
    """A job is not part of this visit's work, or no longer."""

    job: Id
    because: Text = ""


class Offered(Body):
    """An estimate was shown or sent to the owner."""

    estimate: Hash
    lines: Annotated[list[Id], Field(min_length=1)]  # job ids, in the estimate's order


class Answered(Body):
    """The owner's yes or no to one line."""

    estimate: Hash
    line: Id
    verdict: Literal["yes", "no"]
    by: Uuid
    how: How
    finding: Uuid | None = None


class LimitGiven(Body):
    """Up to how much may be done without asking: in minor units of the currency."""

    minor: Annotated[int, Field(ge=0, le=10**12)]
    currency: Annotated[str, StringConstraints(pattern=r"^[A-Z]{3}$")]
    by: Uuid
    how: How


class PlanTaken(Body):
    """The order of work now followed."""

    plan: Hash


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
    drained: list[Drained] = []
    poured: list[Poured] = []


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

    @model_validator(mode="after")
    def _one_of_value_and_words(self) -> Self:
        if (self.value is None) == (not self.words):
            raise ValueError("a reading has a value or words, one of the two; give value or words")
        return self


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


class FigureSet(Body):
    """A figure proven or corrected over the pinned book, as written, with its source."""

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


class Fallback(Body):
    """What a lone worker did in place of a second person (nearest published model: 14 CFR 135.429(d))."""

    apart: Literal["break", "other work"]
    minutes: Annotated[int, Field(ge=15, le=100_000)]
    other_order: Literal[True]
    looked_again: Literal[True]  # leaks, stripes, levels
    not_ridden_because: Text = ""  # empty: the road test was ridden before


class Looked(Body):
    """A second look at items, by the author of this entry."""

    items: Annotated[list[ItemId], Field(min_length=1)]
    fallback: Fallback | None = None


class WalkedRound(Body):
    """The closing walk round the machine: nothing left in, on or under it; tools and rags counted."""


class Confirmed(Body):
    """Entries that had not seen each other were compared at the machine, and what they say stands."""

    items: Annotated[list[ItemId], Field(min_length=1)]
    text: Text = ""


class WrenchDoubted(Body):
    """A check found a wrench wrong: the marks it made since its last good check are in doubt.

    Fasteners that these marks keep closed are open again.
    """

    wrench: Uuid
    check: Uuid
    marks: Annotated[list[Uuid], Field(min_length=1)]  # entries of this visit
    found: Annotated[float, Field(gt=-1, lt=10, allow_inf_nan=False)]  # worst deviation, as a share
    since: date | None = None  # its last good check before; None: never


class Corrected(Body):
    """The named entry counts as though it had not been; it stays in the history."""

    entry: Uuid
    why: Text = ""


class GatePassed(Body):
    """A gate was passed, with what was still open then (overridden, or passed by)."""

    gate: Gate
    open: list[ItemId] = []


class Overridden(Body):
    """One open item is let through hand-back by a named person, for a reason, printed in plain words."""

    item: ItemId
    reason: Said
    person: Uuid
    paper: Paper = "printed in the record"
    signature: Hash | None = None  # of the picture or file that holds it

    @model_validator(mode="after")
    def _a_paper_is_signed(self) -> Self:
        if self.paper != "printed in the record" and self.signature is None:
            raise ValueError(f'"{self.paper}" is signed by the owner; give signature')
        return self


class Returned(Body):
    """The machine was handed back."""

    keys: Count = 0
    fobs: Count = 0
    old_parts_given: bool | None = None
    ridden_away: bool = True  # False: left on a trailer
    text: Text = ""


BODIES: dict[str, type[Body]] = {
    "arrived": Arrived,
    "odometer": OdometerRead,
    "book_pinned": BookPinned,
    "states_found": StatesFound,
    "job_taken": JobTaken,
    "job_left": JobLeft,
    "offered": Offered,
    "answered": Answered,
    "limit_given": LimitGiven,
    "plan_taken": PlanTaken,
    "codes_read": CodesRead,
    "codes_cleared": CodesCleared,
    "done": Done,
    "tightened": Tightened,
    "shown": Shown,
    "judged": Judged,
    "read": Read,
    "shims_fitted": ShimsFitted,
    "found": Found,
    "photo": Photo,
    "erased": Erased,
    "skipped": Skipped,
    "wont": Wont,
    "settled": Settled,
    "noted": Noted,
    "figure_set": FigureSet,
    "looked": Looked,
    "walked_round": WalkedRound,
    "confirmed": Confirmed,
    "wrench_doubted": WrenchDoubted,
    "corrected": Corrected,
    "gate_passed": GatePassed,
    "overridden": Overridden,
    "returned": Returned,
}
