"""Every kind of entry, with the body it has: ids only where people are meant, so that a person can be erased.

Every body is strict: unknown keys are refused, nothing changes after reading. Steps are named by id (an access
step, or ``job/operation``), never by a place in a plan. Free text is the technician's, about the machine. What each
says, its words, what it is about, which events it is and who may write it stand together in `kinds`, group by group.
"""

from __future__ import annotations

from witnessmark.ledger.body import Body, own_id
from witnessmark.ledger.kinds.agreed import (
    Answered,
    ComplaintAnswered,
    ComplaintEnd,
    JobLeft,
    JobTaken,
    LimitGiven,
    LinePart,
    LineWritten,
    Offered,
    PlanTaken,
)
from witnessmark.ledger.kinds.arrival import Arrived, BookPinned, OdometerRead, StatesFound
from witnessmark.ledger.kinds.bench import OPEN, Added, Done, Drained, Poured, WaitBegun
from witnessmark.ledger.kinds.codes import CodesCleared, CodeSeen, CodesRead
from witnessmark.ledger.kinds.fasteners import Adapter, Judged, Shown, Tightened
from witnessmark.ledger.kinds.findings import Erased, Found, Noted, Photo, Settled, Skipped, Wont
from witnessmark.ledger.kinds.leaving import GatePassed, Overridden, Returned
from witnessmark.ledger.kinds.looking import (
    Confirmed,
    Corrected,
    Fallback,
    Looked,
    WalkedRound,
    WrenchDoubted,
)
from witnessmark.ledger.kinds.readings import (
    FigureSet,
    LetBe,
    NotRead,
    Read,
    ShimFitted,
    ShimsFitted,
)

__all__ = [
    "BODIES",
    "OPEN",
    "Adapter",
    "Added",
    "Answered",
    "Arrived",
    "BookPinned",
    "CodeSeen",
    "CodesCleared",
    "CodesRead",
    "ComplaintAnswered",
    "ComplaintEnd",
    "Confirmed",
    "Corrected",
    "Done",
    "Drained",
    "Erased",
    "Fallback",
    "FigureSet",
    "Found",
    "GatePassed",
    "JobLeft",
    "JobTaken",
    "Judged",
    "LetBe",
    "LimitGiven",
    "LinePart",
    "LineWritten",
    "Looked",
    "NotRead",
    "Noted",
    "OdometerRead",
    "Offered",
    "Overridden",
    "Photo",
    "PlanTaken",
    "Poured",
    "Read",
    "Returned",
    "Settled",
    "ShimFitted",
    "ShimsFitted",
    "Shown",
    "Skipped",
    "StatesFound",
    "Tightened",
    "WaitBegun",
    "WalkedRound",
    "Wont",
    "WrenchDoubted",
    "own_id",
]

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
    "let_be": LetBe,
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
