"""What the owner is offered, and answers: each press of a button is one form of entries."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any
from uuid import UUID

from django.core.exceptions import BadRequest
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST

from witnessmark.book.select import with_brought
from witnessmark.errors import WitnessError
from witnessmark.shop import store
from witnessmark.shop.forms import in_words
from witnessmark.shop.pages.price.brought import asked_for, may_be_brought
from witnessmark.shop.pages.price.forms import LimitForm, SaidForm
from witnessmark.shop.pages.price.totals import PriceView, WithoutLines, going_with
from witnessmark.shop.pages.price.views import noes_in, page, verdicts
from witnessmark.shop.responses import recorded
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import pricing
from witnessmark.shop.work.meanwhile import answered_already
from witnessmark.shop.work.visit import Work, work_of

DECLINED = "the owner declined it"


@require_POST
def offer(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Keep the estimate as it was shown, with its plan; it is before the owner now."""
    totals = PriceView(work_of(request.desk, visit))
    made = totals.estimate
    if made is None:
        return page(request, totals, problem=totals.fault or _("Nothing is left to offer."))
    if made.hash != request.POST.get("estimate"):
        return page(
            request,
            totals,
            problem=_("The price has changed since this page was made: look again."),
        )
    if made.unpriced:
        return page(
            request,
            totals,
            problem=_("Something has no price yet: nothing can be offered until it has."),
        )
    acts = list(_offered(totals.work, totals))
    return recorded(
        request,
        totals.work.visit,
        acts,
        "price",
        visit,
        said=_("Offered. Ask the owner, line by line."),
    )


def _offered(work: Work, totals: PriceView) -> Iterator[store.EntryDraft]:
    assert totals.draft is not None
    sha256 = pricing.keep_offer(work.visit.shop, totals.draft)
    lines = [line.id for line in totals.draft.estimate.lines if line.id not in totals.agreed]
    yield "offered", {"estimate": sha256, "lines": lines}


@require_POST
def answer(request: DeskRequest, visit: UUID) -> HttpResponse:
    """A yes or no to each line, in one form; what the owner had not been told of the rest is told first."""
    totals = PriceView(work_of(request.desk, visit))
    form = SaidForm(request.POST, desk=request.desk, work=totals.work)
    said = _said(request, totals)
    shown: dict[str, Any] = {"mode": "answer", "said_form": form}  # nothing typed is asked again
    noes = totals.planned(noes_in(said))
    try:
        rest = totals.rest(noes) if noes else None
        told = rest is None or rest.hash in request.POST.getlist("rest")
        if not form.is_valid() or not told:
            return page(request, totals, **shown, rest=rest, told=rest is not None)
        if not said:
            problem = _("Choose yes or no for at least one line.")
            return page(request, totals, **shown, problem=problem)
        acts = list(_answers(totals, said, rest, form.said))
    except WitnessError as error:
        return page(request, totals, **shown, problem=in_words(error))
    return recorded(request, totals.work.visit, acts, "price", visit, said=_in_words(totals, said))


def _said(request: DeskRequest, totals: PriceView) -> dict[str, str]:
    """The verdicts on lines that wait; “all yes” is a yes to each."""
    if "all" in request.POST:
        return dict.fromkeys(totals.waiting, "yes")
    said = verdicts(request)
    if unknown := said.keys() - totals.waiting.keys():
        if not any(unknown & set(offer.lines) for offer in totals.work.state.offers):
            raise BadRequest(_("no such line was offered on this visit"))
        raise answered_already(request.desk, totals.work, min(unknown))
    return said


def _answers(
    totals: PriceView, said: Mapping[str, str], rest: WithoutLines | None, how: Mapping[str, str]
) -> Iterator[store.EntryDraft]:
    """A no is said to the line as offered; the rest is then offered anew, and a yes is said to that."""
    waiting, work = totals.waiting, totals.work
    estimates = {name: one.estimate for name, one in waiting.items()}
    for name, verdict in said.items():
        if verdict == "no":
            yield from _declined(work, estimates[name], name, how)
    if rest and rest.made:
        lines = [line.id for line in rest.made.estimate.lines if line.id not in totals.agreed]
        if lines:
            sha256 = pricing.keep_offer(work.visit.shop, rest.made)
            estimates |= dict.fromkeys(lines, sha256)
            yield "offered", {"estimate": sha256, "lines": lines}
    for name, verdict in said.items():
        if verdict == "yes":
            yield "answered", {"estimate": estimates[name], "line": name, "verdict": "yes", **how}


def _declined(
    work: Work, estimate: str, line: str, how: Mapping[str, str]
) -> Iterator[store.EntryDraft]:
    yield "answered", {"estimate": estimate, "line": line, "verdict": "no", **how}
    for job in [line, *going_with(work, [line])]:
        if job in work.state.taken:
            yield "job_left", {"job": job, "because": DECLINED}


def _in_words(totals: PriceView, said: Mapping[str, str]) -> str:
    """What was answered; a no by the line it was said to."""
    yes = sum(verdict == "yes" for verdict in said.values())
    no = [totals.waiting[name].line.text for name, verdict in said.items() if verdict == "no"]
    agreed = [ngettext("{n} line agreed.", "{n} lines agreed.", yes).format(n=yes)] * bool(yes)
    declined = [_("Declined: {lines}.").format(lines=", ".join(no))] * bool(no)
    return " ".join([*agreed, *declined])


@require_POST
def change(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Another answer: a yes to what was declined, at the price offered then, or a no to what was agreed.

    What it comes to is told first; the button under that records it.
    """
    work = work_of(request.desk, visit)
    form = SaidForm(request.POST, desk=request.desk, work=work)
    if not form.is_valid():
        return page(request, PriceView(work), change_form=form)
    verdict, _before, name = request.POST.get("answer", "").partition("/")
    found = next((o for o in reversed(work.state.offers) if name in o.answers), None)
    if verdict not in {"yes", "no"} or found is None:
        raise BadRequest(_("no such line was answered"))
    try:
        told = PriceView(work).changed(name, verdict)
        if "told" not in request.POST:
            return page(request, PriceView(work), changing=told, said=form.said)
        acts = list(_changed(work, found.estimate, name, verdict, form.said))
    except WitnessError as error:
        return page(request, PriceView(work), problem=in_words(error))
    words = _("{line}: yes.") if verdict == "yes" else _("{line}: no.")
    return recorded(
        request,
        work.visit,
        acts,
        "price",
        visit,
        said=words.format(line=told.words),
    )


def _changed(
    work: Work, estimate: str, line: str, verdict: str, how: Mapping[str, str]
) -> Iterator[store.EntryDraft]:
    if verdict == "no":
        return _declined(work, estimate, line, how)
    return _taken_up(work, estimate, line, how)


def _taken_up(
    work: Work, estimate: str, line: str, how: Mapping[str, str]
) -> Iterator[store.EntryDraft]:
    yield "answered", {"estimate": estimate, "line": line, "verdict": "yes", **how}
    kept = pricing.estimate_kept(work.visit.shop, estimate).line(line)
    asked = [line] if line in work.book.jobs and not kept.brought_by else []
    for job in with_brought(work.book, asked):
        if job not in work.state.taken:
            yield "job_taken", {"job": job, "because": "the owner changed the answer"}


@require_POST
def brought(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Put a job before the owner that is done only where a reading brings it: at most its price, nothing else."""
    work = work_of(request.desk, visit)
    job = request.POST.get("job", "")
    totals = PriceView(work)
    unknown = next((one.unknown for one in may_be_brought(work) if one.job == job), None)
    if unknown is None:
        problem = _("No reading to come brings this job any more, or the owner was asked already.")
        return page(request, totals, problem=problem)
    try:
        made = pricing.where_brought(work, job, unknown)
    except WitnessError as error:
        return page(request, totals, problem=in_words(error))
    if made.unpriced:
        problem = _("Something has no price yet: nothing can be offered until it has.")
        return page(request, totals, problem=problem)
    lines = [line.id for line in made.lines]
    sha256 = pricing.keep_estimate(work.visit.shop, made)
    acts = list(asked_for(work, sha256, lines))
    said = _("Offered. Ask the owner, line by line.")
    return recorded(request, work.visit, acts, "price", visit, said=said)


@require_POST
def limit(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Up to how much may be done without asking."""
    work = work_of(request.desk, visit)
    form = LimitForm(request.POST, prefix="limit", desk=request.desk, work=work)
    if not form.is_valid():
        return page(request, PriceView(work), limit_form=form)
    body = {"minor": form.cleaned_data["amount"], "currency": form.currency, **form.said}
    return recorded(
        request,
        work.visit,
        [("limit_given", body)],
        "price",
        visit,
        said=_("Saved: below that the owner need not be asked."),
    )
