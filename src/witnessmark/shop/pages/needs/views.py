"""What is due on the machine, what was found at the door, and which jobs are booked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.core.exceptions import BadRequest
from django.http import HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from witnessmark.book import Book, selection, steps
from witnessmark.book.figures import FigureState, FigureUse, figure_state, figures_used
from witnessmark.book.select import with_brought
from witnessmark.due import Due, jobs_for
from witnessmark.due.decide import STATES
from witnessmark.shop import store
from witnessmark.shop.pages.needs.asked import asked_for, names
from witnessmark.shop.pages.needs.needs import Declined, Needs, needs_of
from witnessmark.shop.projections import arrival
from witnessmark.shop.responses import recorded, show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work.arrival_look import also_seen, look_of, seen_in
from witnessmark.shop.work.beyond_book import complaint_by
from witnessmark.shop.work.built import built_since
from witnessmark.shop.work.figures_wanted import figures_wanted
from witnessmark.shop.work.visit import Work, work_of

HEADINGS = dict(
    zip(
        STATES,
        (
            gettext_lazy("Due"),
            gettext_lazy("Due before the next likely visit"),
            gettext_lazy("Not due"),
        ),
        strict=True,
    )
)


@dataclass(frozen=True)
class Choice:
    """One job as it is offered for choosing."""

    job: str
    words: str
    why: str
    chosen: bool
    declined: Declined | None
    comes_with: tuple[str, ...]  # jobs chosen that bring it
    brings: tuple[str, ...]


@dataclass(frozen=True)
class Found:
    """Something found at the door, with the jobs of the book for it, that stand on the list."""

    words: str
    jobs: tuple[str, ...] = ()


@dataclass(frozen=True)
class Use:
    """A figure the chosen jobs rest on that has no value, or no source, with where it is used."""

    id: str
    words: str
    where: tuple[str, ...]
    stalls: bool  # a step cannot be done without it; else only the next due date wants it


@require_http_methods(["GET", "POST"])
def needs(request: DeskRequest, visit: UUID) -> HttpResponse:
    """How every job stands, in words with the figures; ticks choose, saving records what changed."""
    work = work_of(request.desk, visit)
    if request.method == "POST" and "look" not in request.POST:
        return _saved(request, work)
    return _page(request, work)


def _page(request: DeskRequest, work: Work) -> HttpResponse:
    """The page; looking for a job by its name (`look`) records nothing and keeps what is ticked and typed."""
    needed = needs_of(work, request.desk.units)  # type: ignore[arg-type]
    arrived = _arrived(work)
    asked = asked_for(work.book, arrived.complaint) if arrived else []
    unknown = all(one.known == "never" for one in needed.due)
    tick = request.GET.get("tick") or ("asked" if asked and unknown else "due")
    if tick not in ("none", "asked", "due"):
        tick = "due"
    proposed = {"none": (), "asked": asked, "due": needed.proposed}[tick]
    chosen = (*(() if _decided(work) else proposed), *work.state.taken)
    if request.method == "POST":
        chosen = tuple(request.POST.getlist("job"))
    brought = with_brought(work.book, [job for job in chosen if job in work.book.jobs])
    looked_for = request.POST.get("find", "").strip()
    uses = figures_wanted(work) if _decided(work) else figures_used(work.book, brought)
    context: dict[str, Any] = {
        "visit": work.visit,
        "work": work,
        "needs": needed,
        "arrived": arrived,
        "complaint_by": complaint_by(work),
        "built_since": built_since(work),
        "found": list(_found(work)),
        "groups": list(_groups(work, needed, brought, looked_for)),
        "looked_for": looked_for,
        "because": request.POST.get("because", ""),
        "ticked": len(brought),
        "asked": asked,
        "unknown_intervals": sum(bool(one.missing) for one in needed.due),
        "free_lines": [one for line, one in needed.declined.items() if line not in work.book.jobs],
        "undecided": not _decided(work),
        "tick": tick,
        "shown": work.state.taken,
        "services": list(_services(work, brought)),
        "missing": _uses(work.book, uses, "missing"),
        "unproven": _uses(work.book, uses, "unproven"),
    }
    return show(request, "needs/page.html", context)


def _decided(work: Work) -> bool:
    """Whether somebody chose among the jobs of the book; a repair written before is no choice of them."""
    repairs = work.state.repairs
    brought = {job for said in repairs.values() for job in said.job.brings}
    return any(job not in repairs and job not in brought for job in work.state.jobs)


def _saved(request: DeskRequest, work: Work) -> HttpResponse:
    """Apply what was changed on the page; what somebody else changed meanwhile stays."""
    service = request.POST.get("service", "")
    names = [*request.POST.getlist("job"), *([service] if service else [])]
    shown = request.POST.getlist("shown")
    if any(name not in work.book.jobs and name not in work.book.services for name in names):
        raise BadRequest(_("the service book has no such job"))
    ticked = selection(work.book, names)
    acts = list(_changes(work, needs_of(work), ticked, shown, request.POST))
    said = _in_words(acts) if acts else ""
    return recorded(request, work.visit, acts, _next(work, service), said=said)


def _next(work: Work, service: str) -> str:
    """A service is looked at before it goes on to its price."""
    return reverse("needs" if service else "price", args=[work.visit.pk])


def _changes(
    work: Work,
    needed: Needs,
    ticked: Sequence[str],
    shown: Sequence[str],
    posted: Mapping[str, str],
) -> Iterator[store.EntryDraft]:
    service = work.book.services.get(posted.get("service", ""))
    by_job = {one.job: one for one in needed.due}
    told = posted.get("because", "").strip()[:400]
    for job in ticked:
        if job not in shown and job not in work.state.taken:
            because = told if by_job[job].state != "due" else ""
            why = because or (service.text if service and job in service.jobs else "")
            yield (
                "job_taken",
                {"job": job, "because": why or _because(work.book, by_job[job], ticked)},
            )
    proposed = () if _decided(work) else needed.proposed
    for job in dict.fromkeys([*shown, *proposed]):
        if job not in ticked and (job in work.state.taken or job in proposed):
            why = told or ("due, not booked" if job in proposed else "taken off again")
            yield "job_left", {"job": job, "because": why}


def _because(book: Book, due: Due, ticked: Sequence[str]) -> str:
    """Why a job is taken on, for the record."""
    bringing = [book.jobs[job].text for job in ticked if due.job in book.jobs[job].brings]
    if due.state != "due" and bringing:
        return _("comes with {names}").format(names=", ".join(bringing))
    return f"{due.state}: {due.why}"[:400]


def _in_words(acts: Sequence[store.EntryDraft]) -> str:
    taken, left = (sum(kind == name for kind, _body in acts) for name in ("job_taken", "job_left"))
    if taken and left:
        return _("{booked} booked, {left} left out.").format(booked=taken, left=left)
    if left:
        return _("{left} left out.").format(left=left)
    return _("{booked} booked.").format(booked=taken)


# ---------------------------------------------------------------- what the page shows


def _arrived(work: Work) -> Any:
    entry = arrival(list(work.entries), work.state)
    return entry.said if entry else None


def _found(work: Work) -> Iterator[Found]:
    look, jobs = look_of(work), work.book.jobs
    for one in seen_in(look):
        yield Found(one.words, tuple(jobs[job].text for job in jobs_for(work.book, one.names)))
    yield from (Found(text) for text in also_seen(look))


def _groups(
    work: Work, needed: Needs, chosen: Sequence[str], looked_for: str
) -> Iterator[tuple[str, list[Choice]]]:
    """Those due, and of the others those looked for; what is ticked stays on the page."""
    for state, heading in HEADINGS.items():
        choices = [
            _choice(work.book, one, needed, chosen)
            for one in needed.due
            if one.state == state
            and (state == "due" or one.job in chosen or names(work.book, one.job, looked_for))
        ]
        if choices:
            yield str(heading), choices


def _choice(book: Book, due: Due, needed: Needs, chosen: Sequence[str]) -> Choice:
    job = book.jobs[due.job]
    why = due.why
    for words in due.missing:  # said once above the lines, not in each
        why = why.replace(f"; {words}", "")
    return Choice(
        job=due.job,
        words=job.text,
        why=why,
        chosen=due.job in chosen,
        declined=needed.declined.get(due.job),
        comes_with=tuple(book.jobs[one].text for one in chosen if due.job in book.jobs[one].brings),
        brings=tuple(book.jobs[one].text for one in job.brings),
    )


def _services(work: Work, chosen: Sequence[str]) -> Iterator[tuple[str, str, int]]:
    """Services with jobs not chosen yet: id, words, how many more jobs."""
    for name, service in work.book.services.items():
        more = [job for job in selection(work.book, [name]) if job not in chosen]
        if more:
            yield name, service.text, len(more)


def _uses(book: Book, uses: Sequence[FigureUse], state: FigureState) -> list[Use]:
    named = steps(book)
    return [
        Use(
            id=use.id,
            words=use.figure.text,
            where=tuple(named[w].text if w in named else book.jobs[w].text for w in use.where),
            stalls=any(where in named for where in use.where),
        )
        for use in uses
        if figure_state(use.figure) == state
    ]
