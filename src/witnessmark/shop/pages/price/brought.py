"""Jobs that a reading may bring: asked for in advance, done and charged only where it does."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from witnessmark.shop import store
from witnessmark.shop.work import pricing
from witnessmark.shop.work.likely import chances, found
from witnessmark.shop.work.visit import Work

WHERE_BROUGHT = "done only where a reading asks for it"


@dataclass(frozen=True)
class JobBrought:
    """A job that a reading may bring, what the reading must tell, and how likely that is."""

    job: str
    text: str
    unknown: str
    why: str


def may_be_brought(work: Work) -> list[JobBrought]:
    """The jobs that readings to come may bring, and that the owner was not asked about; once the rest was offered."""
    if work.closed or not work.state.offers:
        return []
    asked = {line for offer in work.state.offers for line in offer.lines}
    brought = pricing.brought_to_come(work)
    told = chances(work.visit.shop, work.book) if brought else {}
    return [
        JobBrought(
            job,
            work.book.jobs[job].text,
            unknown,
            f"{', '.join(found(work.book, [unknown]))}: {told[unknown].words}",
        )
        for job, unknown in brought.items()
        if job not in asked
    ]


def asked_for(work: Work, sha256: str, lines: list[str]) -> Iterator[store.EntryDraft]:
    """The entries that put such a job, with what it brings, before the owner: it is no work of the visit by that."""
    for line in lines:
        if line not in work.state.jobs:
            yield "job_left", {"job": line, "because": WHERE_BROUGHT}
    yield "offered", {"estimate": sha256, "lines": lines}
