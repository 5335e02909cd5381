"""Jobs that were taken on and then left for later: who left each, when and why, and what that means for the price."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from witnessmark.ledger.bodies import JobLeft, JobTaken
from witnessmark.shop.work.pricing import agreed
from witnessmark.shop.work.visit import Work


@dataclass(frozen=True)
class LeftJob:
    """One job left for later; ``gross_minor``: its agreed price with tax, None where none was agreed.

    ``declined``: the owner said no to it. ``begun``: some of its steps were done.
    """

    job: str
    words: str
    author: str  # id of a member
    at: datetime
    because: str
    gross_minor: int | None
    currency: str
    declined: bool
    begun: bool


def left_for_later(work: Work) -> Iterator[LeftJob]:
    """The jobs left, in the order they were taken on. One that was never taken on was not left for later."""
    before = {e.said.job for e in work.standing if isinstance(e.said, JobTaken)}
    newest = {e.said.job: e for e in work.standing if isinstance(e.said, JobLeft)}
    gone = [
        j
        for j, how in work.state.jobs.items()
        if how == "left" and j in {*newest} & before & {*work.book.jobs}
    ]
    prices = agreed(work) if gone else {}
    for job in gone:
        entry, price = newest[job], prices.get(job)
        assert isinstance(entry.said, JobLeft)
        yield LeftJob(
            job,
            work.book.jobs[job].text,
            entry.author,
            entry.instant,
            entry.said.because,
            price.gross_minor if price else None,
            work.visit.shop.currency,
            job in work.state.declined,
            any(f"{job}/{name}" in work.state.done for name in work.book.jobs[job].operations),
        )
