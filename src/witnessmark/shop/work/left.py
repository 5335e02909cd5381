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
    """One job left for later; ``gross_minor``: its agreed price with tax, None where none was agreed."""

    job: str
    words: str
    author: str  # id of a member
    at: datetime
    because: str
    gross_minor: int | None
    currency: str


def left_for_later(work: Work) -> Iterator[LeftJob]:
    """The jobs left, in the order they were taken on. One that was never taken on was not left for later."""
    prices = agreed(work)
    before = {e.said.job for e in work.standing if isinstance(e.said, JobTaken)}
    newest = {e.said.job: e for e in work.standing if isinstance(e.said, JobLeft)}
    for job, how in work.state.jobs.items():
        entry = newest.get(job)
        if how != "left" or entry is None or job not in before or job not in work.book.jobs:
            continue
        said = entry.said
        assert isinstance(said, JobLeft)
        price = prices.get(job)
        yield LeftJob(
            job,
            work.book.jobs[job].text,
            entry.author,
            entry.instant,
            said.because,
            price.gross_minor if price else None,
            work.visit.shop.currency,
        )
