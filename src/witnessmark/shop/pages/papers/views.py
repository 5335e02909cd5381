"""The papers of a visit: which there are, and each as PDF."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import quote
from uuid import UUID

from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET

from witnessmark.papers import Paper, pdf
from witnessmark.shop.forms import whole
from witnessmark.shop.responses import show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import beyond_book, paperwork
from witnessmark.shop.work.paperwork import NoPaperError, Pen
from witnessmark.shop.work.visit import Work, work_of

TITLES = {
    "estimate": _("Estimate"),
    "job-card": _("Job card"),
    "road-test": _("Road-test sheet"),
    "service-record": _("Service record"),
    "call-back": _("Call-back letter"),
    "not-ridden": _("Not to be ridden"),
    "declined": _("Told and declined"),
}
SIGNED_SHEETS = ("not-ridden", "declined")  # of an override, with the owner's signature
OF_WORKSHOP = ("job-card",)  # the others are for the owner, in the owner's language
FILL: dict[str, Callable[[Pen], Paper]] = {
    "job-card": paperwork.job_card,
    "road-test": paperwork.road_test,
    "service-record": paperwork.service_record,
    "call-back": paperwork.call_back,
}


@dataclass(frozen=True)
class Listed:
    """A paper as the page lists it: with its address, or with the reason why there is none yet."""

    title: str
    detail: str
    href: str = ""
    state: str = ""
    final: bool = False


@require_GET
def papers(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Every paper of the visit; those that do not exist yet are named without a link."""
    work = work_of(request.desk, visit)
    slugs = [slug for slug in FILL if slug != "call-back" or work.state.recalls]
    slugs += [slug for slug in SIGNED_SHEETS if paperwork.wanted(work, slug)]
    listed = [*_estimates(work), *(_listed(work, slug) for slug in slugs)]
    context = {"visit": work.visit, "work": work, "listed": listed}
    return show(request, "papers/page.html", context)


@require_GET
def paper(request: DeskRequest, visit: UUID, slug: str) -> HttpResponse:
    """One paper as PDF/A. 404 for one that does not exist, or not yet."""
    work = work_of(request.desk, visit)
    if slug not in TITLES:
        raise Http404(_("there is no such paper"))
    pen = paperwork.pen_of(request.desk, work, for_owner=slug not in OF_WORKSHOP)
    try:
        with pen.speaking():
            form = _filled(request, pen, slug)
            printed = pdf(form, _)
    except NoPaperError as none:
        raise Http404(none.words) from none
    answer = HttpResponse(printed, content_type="application/pdf")
    answer["Content-Disposition"] = f"inline; {_file_name(work, slug, form.heading.number)}"
    return answer


# ---------------------------------------------------------------- parts


def _filled(request: DeskRequest, pen: Pen, slug: str) -> Paper:
    if slug in SIGNED_SHEETS:
        return paperwork.signed_override(pen, slug, request.GET.get("item", ""))
    return FILL[slug](pen) if slug in FILL else _estimate(pen, request.GET.get("revision", ""))


def _estimate(pen: Pen, revision: str) -> Paper:
    number = whole(revision, 9_999)
    if revision and number is None:
        raise Http404(_("an estimate is numbered 1, 2, 3 …"))
    return paperwork.estimate(pen, number)


def _file_name(work: Work, slug: str, number: str) -> str:
    """Example: ``service-record 0042 12-QX-81.pdf``, once plain and once as it is (RFC 6266)."""
    name = " ".join(part for part in (slug, number, work.machine.plate) if part) + ".pdf"
    plain = re.sub(r"[^A-Za-z0-9 ._-]", "_", name)
    return f"filename=\"{plain}\"; filename*=UTF-8''{quote(name, safe='')}"


def _estimates(work: Work) -> list[Listed]:
    every = paperwork.estimates(work)
    if not every:
        return [Listed(_("Estimate"), _("Nothing was offered yet."))]
    return [
        Listed(
            title=_("Estimate")
            if len(every) == 1
            else _("Estimate {number} of {total}").format(number=number, total=len(every)),
            detail=ngettext("{n} line", "{n} lines", len(offer.lines)).format(n=len(offer.lines)),
            href=f"{_address(work, 'estimate')}?revision={number}",
            state=_("{unanswered} without an answer").format(unanswered=len(offer.unanswered))
            if offer.unanswered
            else _("answered"),
        )
        for number, offer in reversed(every)
    ]


def _listed(work: Work, slug: str) -> Listed:
    missing = _missing(work, slug)
    if missing:
        return Listed(str(TITLES[slug]), missing)
    state = ""
    if slug == "service-record":
        state = _("final") if work.closed and not work.state.recalls else _("not final")
    return Listed(
        str(TITLES[slug]),
        str(DETAILS[slug]),
        _address(work, slug),
        state,
        final=state == _("final") and not work.state.items,
    )


DETAILS = {
    "job-card": _("The order of work, what to make ready, every figure with its source."),
    "road-test": _("Before and after the ride."),
    "service-record": _("What was done and proven, what was not, when to come again."),
    "call-back": _("To the owner: what came in after hand-back, and whether it may be ridden."),
    "not-ridden": _("What is open; it leaves on a trailer. For the owner to sign."),
    "declined": _(
        "Defects that the owner was told of and does not want put right. For the owner to sign."
    ),
}


def _missing(work: Work, slug: str) -> str:
    """Why a paper does not exist yet; empty where it does."""
    match slug:
        case "job-card" if not (work.state.plan or beyond_book.every(work) or work.state.done):
            return _("No order of work was taken yet.")
        case "road-test" if not paperwork.rides_of(work):
            return _("No job of this visit has a ride.")
        case "service-record" if work.state.machine is None:
            return _("The machine was not taken in yet.")
        case _:
            return ""


def _address(work: Work, slug: str) -> str:
    return reverse("paper", args=[work.visit.pk, slug])
