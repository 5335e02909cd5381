"""The state of a visit, as read from its entries: what is open, what was done, read, answered."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from witnessmark.book.model import Gate
from witnessmark.frozen import FrozenModel
from witnessmark.ledger.account import Account
from witnessmark.ledger.bodies import (
    Added,
    ComplaintAnswered,
    Fallback,
    FigureSet,
    LineWritten,
    RepairWritten,
    ShimsFitted,
)
from witnessmark.ledger.body import Paper
from witnessmark.ledger.ids import ItemId
from witnessmark.ledger.item_effects import Stand
from witnessmark.ledger.table import FigureRule, Item
from witnessmark.ledger.worked import Drain, ReadingState, StepState, Tally, Unread, UsedBottle

Verdict = Literal["yes", "no"]


class Override(FrozenModel):
    """Who let an open item through hand-back, why, and by which paper."""

    entry: str
    person: str
    reason: str
    paper: Paper
    signature: str | None


class OpenItem(Item):
    """Something that must not leave the shop as it is."""

    id: str
    how: str  # it stands, in words
    stands: Stand = "open"
    opened_by: tuple[str, ...] = ()  # the newest entries that speak of it
    override: Override | None = None

    @property
    def words(self) -> str:
        """What it is and how it stands, in full."""
        return f"{super().words}: {self.how}"

    @property
    def key(self) -> ItemId:
        """The id, to be taken apart."""
        return ItemId(self.id)

    @property
    def kind(self) -> str:
        """The first word of the id: fastener, circuit, second look, walk round …"""
        return self.key.kind


class Signed(FrozenModel):
    """Who said something, and when."""

    author: str
    at: str


class Answer(FrozenModel):
    """The owner's yes or no to one line; ``no`` while two answers that did not meet differ."""

    entry: str
    estimate: str
    line: str
    verdict: Verdict
    by: str
    how: str
    at: str


class Offer(FrozenModel):
    """An estimate that was shown, and what has been said to it."""

    entry: str
    estimate: str
    lines: tuple[str, ...]
    answers: dict[str, Answer]

    @property
    def unanswered(self) -> tuple[str, ...]:
        """Lines without an answer."""
        return tuple(line for line in self.lines if line not in self.answers)


class AgreedLimit(FrozenModel):
    """Up to how much may be done without asking, in minor units."""

    entry: str
    minor: int
    currency: str
    by: str
    how: str


class Finding(FrozenModel):
    """Something found, or a step that cannot be done; ``settled`` says how it was answered.

    ``jobs``: of an access step, those that stop with it; ``for_others``: others still have the step.
    """

    entry: str
    text: str
    step: str | None
    reading: str | None = None
    line: str | None = None
    safety: bool
    kind: Literal["found", "cannot be done"] = "found"
    jobs: tuple[str, ...] = ()
    for_others: bool = False
    settled: str = ""
    author: str = ""
    at: str = ""


class Remark(FrozenModel):
    """A note or a picture."""

    entry: str
    text: str
    step: str | None
    author: str
    at: str
    sha256: str | None = None
    media_type: str = ""
    erased: bool


class Own(FrozenModel):
    """Something added, or a line written, beyond the book; ``struck``: its entry was taken back."""

    entry: str
    said: Added | LineWritten
    author: str
    at: str
    struck: bool


class Complaint(FrozenModel):
    """What the machine came in for, in the owner's words, and the newest answer to it."""

    words: str
    closed: bool
    answer: ComplaintAnswered | None = None
    entry: str = ""  # of the answer
    author: str = ""
    at: str = ""


class Passage(FrozenModel):
    """A gate that was passed, and what was open then; ``because``: why it was passed by all the same."""

    entry: str
    gate: Gate
    open: tuple[str, ...]
    because: str = ""
    void: bool  # of a road test: worked on since what a ride has to prove
    author: str
    at: str


class FallbackLook(FrozenModel):
    """A lone worker's look at one item, to be printed as that."""

    entry: str
    item: str
    author: str
    at: str
    how: Fallback


class Recall(FrozenModel):
    """An entry that hand-back did not know of: the machine may have to come back."""

    entry: str
    words: str


class Happening(FrozenModel):
    """One line of the history, in causal order; ``undone`` names the entry that corrected it."""

    entry: str
    kind: str
    words: str
    author: str
    at: str
    undone: str | None = None


class VisitState(FrozenModel):
    """A visit as its entries tell it. Equal entries give equal states, whatever order they came in."""

    machine: str | None = None
    owner: str | None = None
    odometer_km: float | None = None
    book: str | None = None  # revision pinned
    plan: str | None = None  # hash of the plan taken

    states: dict[str, str] = {}  # every condition, now
    found: dict[str, str] = {}  # every condition, as it came in
    items: dict[str, OpenItem] = {}  # open ones only
    steps: dict[str, StepState] = {}
    done: tuple[str, ...] = ()  # operations now done
    not_done: dict[str, str] = {}  # skipped operations of the visit's jobs, with the reason
    answers: dict[str, bool] = {}  # what readings decided, by unknown
    not_needed: dict[str, str] = {}  # steps that an answer made needless, with the unknown
    tallies: dict[str, Tally] = {}
    shown: tuple[str, ...] = ()  # what was shown of groups of fasteners, by item
    readings: tuple[ReadingState, ...] = ()
    unread: tuple[Unread, ...] = ()
    drains: tuple[Drain, ...] = ()
    pours: tuple[UsedBottle, ...] = ()
    shims: dict[str, ShimsFitted] = {}  # per step, what was fitted last
    findings: tuple[Finding, ...] = ()
    remarks: tuple[Remark, ...] = ()
    figures: dict[str, FigureSet] = {}  # set over the pinned book
    figures_set: dict[str, Signed] = {}  # by whom
    figures_seen_twice: dict[
        str, Signed
    ] = {}  # confirmed as they stand, by somebody who did not set them
    figure_rules: dict[str, FigureRule] = {}  # all figures as they stand now

    own: dict[str, Own] = {}  # beyond the book, by id: also what was taken back
    repairs: dict[
        str, RepairWritten
    ] = {}  # jobs of the visit's own, by id, each in its newest form
    complaint: Complaint | None = None

    jobs: dict[str, Literal["taken", "left"]] = {}
    offers: tuple[Offer, ...] = ()
    agreed: tuple[str, ...] = ()
    declined: tuple[str, ...] = ()
    limit: AgreedLimit | None = None
    account: Account = Account()

    gates: tuple[Passage, ...] = ()
    overrides: dict[str, Override] = {}  # newest per item, whether or not it reaches all of it
    fallbacks: tuple[FallbackLook, ...] = ()
    to_look: dict[str, tuple[str, ...]] = {}  # per second look, the work nobody has looked at yet
    to_ride: dict[str, tuple[str, ...]] = {}  # of that, what a ride must come after
    returned: str | None = None  # the entry
    recalls: tuple[Recall, ...] = ()

    heads: dict[str, int] = {}  # per device, the last sequence number had
    unreported: dict[str, tuple[int, ...]] = {}  # per device, numbers others saw and we lack
    history: tuple[Happening, ...] = ()

    @property
    def undone(self) -> frozenset[str]:
        """The entries that were taken back."""
        return frozenset(line.entry for line in self.history if line.undone)

    @property
    def over(self) -> frozenset[str]:
        """The operations that are not to come: done, left out with a reason, or not needed."""
        return frozenset((*self.done, *self.not_done, *self.not_needed))

    def done_whole(self, operations: Iterable[str]) -> bool:
        """Whether all of them were done that were needed, and one at least."""
        every, done = {*operations}, {*self.done}
        return bool(every & done) and every <= done | self.not_needed.keys()

    @property
    def taken(self) -> tuple[str, ...]:
        """The jobs of this visit's work."""
        return tuple(job for job, how in self.jobs.items() if how == "taken")

    @property
    def lines(self) -> dict[str, LineWritten]:
        """Own lines that stand."""
        return {
            name: one.said
            for name, one in self.own.items()
            if isinstance(one.said, LineWritten) and not one.struck
        }

    @property
    def added(self) -> dict[str, Added]:
        """Things opened beyond the book that stand."""
        return {
            name: one.said
            for name, one in self.own.items()
            if isinstance(one.said, Added) and not one.struck
        }

    @property
    def unanswered(self) -> tuple[str, ...]:
        """Lines of the newest estimate that have no answer."""
        return self.offers[-1].unanswered if self.offers else ()
