"""What each kind of entry says. Ids only where people are meant, so that a person can be erased later.

Every body is strict: unknown keys are refused, nothing changes after reading. Steps are named by id (an access
step, or ``job/operation``), never by a place in a plan. Free text is the technician's, about the machine.
"""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal, Self

from pydantic import Field, StringConstraints, model_validator

from witnessmark.book.model import Gate, Id, State
from witnessmark.ledger.bench_bodies import (
    CodesCleared,
    CodesRead,
    Done,
    Erased,
    Found,
    Judged,
    Noted,
    NotRead,
    Photo,
    Read,
    Settled,
    ShimsFitted,
    Shown,
    Skipped,
    Tightened,
    WaitBegun,
    Wont,
)
from witnessmark.ledger.body import Body, Count, Hash, How, ItemId, Paper, Said, Text, Uuid
from witnessmark.ledger.own_bodies import Added, ComplaintAnswered, LineWritten


class Arrived(Body):
    """The machine is in: what came with it, and what its owner says and wants.

    The store adds what the visit's own row says, so that the row can be held against it.
    """

    machine: Uuid
    owner: Uuid
    number: Annotated[int, Field(ge=1)] | None = None  # of the visit
    refuse_unproven_wrench: bool | None = None  # the shop's rule when the visit began
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
    """A gate was passed, with what was still open then: let through by name, or passed by for a reason.

    Only the starter and the wheels on the ground can be passed by, and ``because`` says why.
    """

    gate: Gate
    open: list[ItemId] = []
    because: Text = ""

    @model_validator(mode="after")
    def _only_two_gates_are_passed_by(self) -> Self:
        by = self.gate in ("starter", "wheels on the ground")
        if by and bool(self.open) != bool(self.because):
            raise ValueError(
                "a gate with something open is passed by for a reason; give open and because"
            )
        if self.because and not by:
            raise ValueError(f"{self.gate} is never passed by; leave because out")
        return self


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
    "wait_begun": WaitBegun,
    "tightened": Tightened,
    "shown": Shown,
    "judged": Judged,
    "read": Read,
    "not_read": NotRead,
    "shims_fitted": ShimsFitted,
    "found": Found,
    "photo": Photo,
    "erased": Erased,
    "skipped": Skipped,
    "wont": Wont,
    "settled": Settled,
    "noted": Noted,
    "added": Added,
    "line_written": LineWritten,
    "complaint_answered": ComplaintAnswered,
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
