"""Safety-critical readings beyond their limits, and the job of the book that puts each right."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from witnessmark.book import selection
from witnessmark.book.model import Job, Operation, Reading
from witnessmark.book.select import before
from witnessmark.ledger.ids import StepId
from witnessmark.ledger.state import ReadingState
from witnessmark.shop import store
from witnessmark.shop.store import EntryDraft
from witnessmark.shop.work import pricing
from witnessmark.shop.work.cards import card_of, not_ready
from witnessmark.shop.work.lines import written
from witnessmark.shop.work.readings import judged
from witnessmark.shop.work.visit import Work


@dataclass(frozen=True)
class Mend:
    """One reading that holds the ride."""

    reading: str
    words: str  # what was read, and how it stands
    jobs: tuple[tuple[str, Job], ...]  # of the book, that put it right and were not taken on
    taken: tuple[Job, ...]  # those that were
    again: str = ""  # the step that loosens what moved it, or sets it again
    asked: bool = False  # a line in own words stands before the owner, or was agreed

    @property
    def line(self) -> str:
        """The line for the owner where the book has no job for it, as it is kept."""
        return f"Put right: {self.words}"


def mends(work: Work) -> list[Mend]:
    """What holds the ride by a reading, and what would put it right."""
    return list(_mends(work))


def jobs_for(work: Work, reading: str) -> dict[str, Job]:
    """The jobs of the book that put a reading right."""
    return {name: job for name, job in work.book.jobs.items() if reading in job.early}


def offered(work: Work, one: Mend, job: str, ticket: store.Ticket) -> list[EntryDraft]:
    """The entries that put a job, with what it brings, or a line in own words before the owner.

    Raises WitnessError where it cannot be priced.
    """
    if not job:
        body = {"words": one.line, "why": one.words, "minutes": 0.0, "safety": True}
        return written(work, ticket, body, offer=True)
    jobs = [j for j in selection(work.book, [job]) if j not in work.state.taken]
    made = pricing.supplement(work, jobs)
    lines = [line.id for line in made.lines]
    sha256 = pricing.keep_estimate(work.visit.shop, made)
    taken: list[EntryDraft] = [("job_taken", {"job": j, "because": one.words[:400]}) for j in jobs]
    return [*taken, ("offered", {"estimate": sha256, "lines": lines})]


def _mends(work: Work) -> Iterator[Mend]:
    held = [i for i in work.state.items.values() if i.kind == "outside" and i.safety]
    for name in dict.fromkeys(item.key.name for item in held):
        reading = work.book.readings.get(name)
        newest = next((r for r in reversed(work.state.readings) if r.reading == name), None)
        if reading is None or newest is None:
            continue
        found = judged(work.book, name, newest.value)
        how = found.words if found else newest.words or newest.text
        jobs = jobs_for(work, name)
        one = Mend(
            reading=name,
            words=f"{reading.text}: {how}",
            jobs=tuple((j, job) for j, job in jobs.items() if j not in work.state.taken),
            taken=tuple(job for j, job in jobs.items() if j in work.state.taken),
            again=_set_again(work, reading, newest),
        )
        yield one if jobs else replace(one, asked=one.line in _lines(work))


def _set_again(work: Work, reading: Reading, newest: ReadingState) -> str:
    """What is done next where tightening moved a reading out of its limits: what sets it, once that is loose; what
    loosens it before. Empty where it was set again since, or the book knows neither.
    """
    step = work.steps.get(newest.step or "")
    if not reading.again_after or not isinstance(step, Operation):
        return ""
    place = {line.entry: n for n, line in enumerate(work.state.history)}
    job = StepId(newest.step or "").job
    for setter in (before(job, name) for name in step.after):
        if StepId(setter).job != job or setter not in work.state.done:
            continue
        if max(place[e] for e in work.state.steps[setter].entries) > place[newest.entry]:
            continue
        loosens = (n for n, one in work.steps.items() if {*reading.again_after} & {*one.loosens})
        fit = (name for name in (setter, *loosens) if not not_ready(work, card_of(work, name)))
        return next(fit, setter)
    return ""


def _lines(work: Work) -> set[str]:
    """The words of the lines that were agreed, or wait for an answer."""
    waiting = [one.line for one in pricing.waiting(work).values()]
    return {line.text for line in (*waiting, *pricing.accepted(work).values())}
