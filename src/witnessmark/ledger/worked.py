"""The work on a machine as its entries tell it: what was tightened, read, drained, poured, done."""

from __future__ import annotations

from typing import Literal

from witnessmark.frozen import FrozenModel
from witnessmark.ledger.bodies import Adapter
from witnessmark.ledger.table import ReadingVerdict

# "again": done before work that only a later ride can prove.
StepStatus = Literal[
    "done", "skipped", "cannot be done", "in conflict", "waiting", "stopped", "again"
]
MarkStatus = Literal[
    "tight", "tight, wrench unproven", "loose", "seated snug", "kept turning", "void", "in conflict",
    "not shown tight", "wrench found wrong",
]  # fmt: skip


class FastenerMark(FrozenModel):
    """How one fastener of a group stands, and by what evidence. Torques in N·m."""

    index: int
    status: MarkStatus
    entry: str
    author: str
    at: str
    value_nm: float | None = None
    set_nm: float | None = None
    clicked: bool = False
    wrench: str | None = None
    wrench_proven: bool = False
    adapter: Adapter | None = None
    angle_deg: float | None = None


class Tally(FrozenModel):
    """A group of fasteners: which of them are tight, in the order they were made so."""

    fastener: str
    words: str
    count: int
    figure: str | None
    marks: tuple[FastenerMark, ...]  # by index; only those something was said of
    order: tuple[int, ...]  # indices now tight, first made tight first
    rounds: tuple[tuple[int, ...], ...] = ()  # before the last: the indices through with each

    @property
    def tight(self) -> tuple[int, ...]:
        """Indices that are tight."""
        return tuple(sorted(self.order))

    @property
    def open(self) -> tuple[int, ...]:
        """Indices something was said of, and that are not tight."""
        return tuple(m.index for m in self.marks if not m.status.startswith("tight"))


class ReadingState(FrozenModel):
    """One reading, judged by the figures as they stand now; ``value`` in the base unit."""

    entry: str
    reading: str
    step: str
    index: int
    value: float | None
    text: str
    words: str | None
    verdict: ReadingVerdict
    instrument: str
    vouched: bool  # hard to believe, and typed twice
    let_be: str = ""  # who let it be at its limit
    author: str
    at: str


class Unread(FrozenModel):
    """A reading that could not be taken, and why."""

    entry: str
    reading: str
    step: str
    index: int
    because: str
    taken_as: dict[str, bool] = {}
    author: str
    at: str


class Drain(FrozenModel):
    """A fluid that came out in a step, and where it went."""

    entry: str
    step: str
    at: str
    author: str
    fluid: str
    family: str
    volume_ml: float
    container: str | None
    into: str


class UsedBottle(FrozenModel):
    """The bottle a fluid was taken from; ``refused`` with the reason it was used all the same."""

    entry: str
    step: str
    at: str
    author: str
    fluid: str
    bottle: str
    pack: str | None
    volume_ml: float | None
    refused: tuple[str, ...]
    because: str


class StepState(FrozenModel):
    """How a step stands, by its newest entries."""

    status: StepStatus
    entries: tuple[str, ...]
    author: str
    at: str
    reason: str = ""  # of a skip, or how it would not
    times: int  # how often it was confirmed
