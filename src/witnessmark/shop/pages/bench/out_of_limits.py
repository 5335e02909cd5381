"""Readings beyond or at their limits, and the job of the book that puts each right."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from uuid import UUID

from django.http import Http404, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from witnessmark.book import selection
from witnessmark.book.model import Job, Operation, Reading
from witnessmark.book.model_step import before
from witnessmark.errors import WitnessError
from witnessmark.ledger.bodies import own_id
from witnessmark.ledger.ids import StepId
from witnessmark.ledger.worked import ReadingState
from witnessmark.shop import store
from witnessmark.shop.forms import in_words
from witnessmark.shop.responses import show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.store import EntryDraft
from witnessmark.shop.work import pricing
from witnessmark.shop.work.cards import card_of, not_ready
from witnessmark.shop.work.lines import written
from witnessmark.shop.work.readings import judged
from witnessmark.shop.work.visit import Work, work_of


@dataclass(frozen=True)
class Mend:
    """One reading beyond its limits, or at one where nobody has said yet what is to follow from it."""

    reading: str
    words: str  # what was read, and how it stands
    newest: ReadingState
    jobs: tuple[tuple[str, Job], ...]  # of the book, that put it right and were not taken on
    taken: tuple[Job, ...]  # those that were
    holds: bool = False  # the ride waits for it
    asks: bool = False  # at its limit: let it be, or offer the job
    again: str = ""  # the step that loosens what moved it, or sets it again
    asked: bool = False  # a line in own words stands before the owner, or was agreed

    agreed: tuple[str, ...] = ()  # of the jobs, those the owner agreed to in advance

    @property
    def line(self) -> str:
        """The line for the owner where the book has no job for it, as it is kept."""
        return f"Put right: {self.words}"


def mends(work: Work) -> list[Mend]:
    """What holds the ride by a reading first, then what else is beyond its limits, then what is at one."""
    return [*_beyond(work, safety=True), *_beyond(work, safety=False), *_at_the_limit(work)]


def jobs_for(work: Work, reading: str) -> dict[str, Job]:
    """The jobs of the book that put a reading right."""
    return {name: job for name, job in work.book.jobs.items() if reading in job.early}


def offered(work: Work, one: Mend, job: str, ticket: store.Ticket) -> list[EntryDraft]:
    """The entries that put a job, with what it brings, or a line in own words before the owner.

    What is beyond its limits and holds no ride is a finding from then on, which the line answers. Raises WitnessError
    where it cannot be priced.
    """
    found: list[EntryDraft] = []
    if not (one.holds or one.asks):
        line = job or own_id(ticket.id_of(1))
        found = [("found", {"text": one.words[:1000], "reading": one.reading, "line": line})]
    if not job:
        body = {"words": one.line, "why": one.words, "minutes": 0.0, "safety": one.holds}
        return [*found, *written(work, ticket, body, offer=True, place=len(found))]
    jobs = _with_brought(work, job)
    made = pricing.supplement(work, jobs)
    lines = [line.id for line in made.lines if line.id not in work.state.agreed]
    sha256 = pricing.keep_estimate(work.visit.shop, made)
    answers = {"finding": ticket.id_of(0)} if found else {}
    taken: list[EntryDraft] = [
        ("job_taken", {"job": j, "because": one.words[:400]} | (answers if j == job else {}))
        for j in jobs
    ]
    if not lines:  # agreed before, for where a reading brings it
        return [*found, *taken]
    return [*found, *taken, ("offered", {"estimate": sha256, "lines": lines})]


def let_be(one: Mend) -> list[EntryDraft]:
    """The entry that nothing is done about a reading at its limit."""
    read = one.newest
    body = {"entry": read.entry, "reading": read.reading, "step": read.step, "index": read.index}
    return [("let_be", body | {"words": one.words[:400]})]


@require_safe
def price(request: DeskRequest, visit: UUID, job: str) -> HttpResponse:
    """What a job, with what it brings, adds in minutes and money: a part of a card, asked for beside it.

    Writes nothing.
    """
    work = work_of(request.desk, visit)
    if job not in work.book.jobs:
        raise Http404(_("the service book has no such job"))
    jobs = _with_brought(work, job)
    made, fault = None, ""
    try:
        made = pricing.on_top(work, jobs).estimate if jobs else None
    except WitnessError as error:
        fault = in_words(error)
    minutes = sum(line.labour_tenths for line in made.lines) / 10 if made else 0
    return show(request, "bench/price.html", {"made": made, "minutes": minutes, "fault": fault})


def _with_brought(work: Work, job: str) -> list[str]:
    return [one for one in selection(work.book, [job]) if one not in work.state.taken]


def _beyond(work: Work, *, safety: bool) -> Iterator[Mend]:
    items = (i for i in work.state.items.values() if i.kind == "outside" and i.safety == safety)
    for name in dict.fromkeys(item.key.name for item in items):
        newest = next((r for r in reversed(work.state.readings) if r.reading == name), None)
        if name not in work.book.readings or newest is None:
            continue
        one = replace(_mend(work, newest), holds=safety)
        known = jobs_for(work, name)
        if not known:
            one = replace(one, asked=one.line in _lines(work))
        # what holds no ride is told where a line can be made of it: a remark wants words, not a job
        if safety or (one.jobs and not one.taken) or (not known and newest.value is not None):
            yield one


def _at_the_limit(work: Work) -> Iterator[Mend]:
    newest = {(one.reading, one.index): one for one in work.state.readings}
    told: set[str] = set()
    for (name, _index), one in newest.items():
        found = judged(work.book, name, one.value)
        held = one.verdict in ("low", "high", "bad") and work.book.readings[name].safety
        if found is None or held or one.let_be or name in told or found.stand != "at the limit":
            continue
        mend = replace(_mend(work, one), asks=True)
        declined = any(job in work.state.declined for job, _job in mend.jobs)
        if mend.jobs and not mend.taken and not declined:
            told.add(name)
            yield mend


def _mend(work: Work, newest: ReadingState) -> Mend:
    name, reading = newest.reading, work.book.readings[newest.reading]
    found = judged(work.book, name, newest.value)
    how = found.words if found else newest.words or newest.text
    jobs = jobs_for(work, name)
    return Mend(
        reading=name,
        words=f"{reading.text}: {how}",
        newest=newest,
        jobs=tuple((j, job) for j, job in jobs.items() if j not in work.state.taken),
        taken=tuple(job for j, job in jobs.items() if j in work.state.taken),
        agreed=tuple(j for j in jobs if j in work.state.agreed),
        again=_set_again(work, reading, newest),
    )


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
