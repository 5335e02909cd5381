"""The owner rings: a yes, a no or an addition in two taps, and the card is back where it was."""

from __future__ import annotations

from uuid import UUID

from django.core.exceptions import BadRequest
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from witnessmark.book import selection
from witnessmark.errors import WitnessError
from witnessmark.ledger.phrases import line_words
from witnessmark.money import amount_text
from witnessmark.shop import store
from witnessmark.shop.forms import in_words
from witnessmark.shop.responses import recorded, show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import pricing
from witnessmark.shop.work.forms import HOW, words
from witnessmark.shop.work.meanwhile import answered_already
from witnessmark.shop.work.visit import Work, bench_address, work_of


@require_http_methods(["GET", "POST"])
def rings(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Lines without an answer, and jobs that could be added; one tap each, then back to the card."""
    work = work_of(request.desk, visit)
    card = request.POST.get("card", "") or request.GET.get("card", "")
    card = card if card in work.steps else ""
    if request.method == "POST":
        return _answered(request, work, card)
    return _page(request, work, card)


def _page(request: DeskRequest, work: Work, card: str, problem: str = "") -> HttpResponse:
    waiting = list(pricing.waiting(work).values())
    taken = {*work.state.taken}
    return show(
        request,
        "bench/owner.html",
        {
            "visit": work.visit,
            "card": card,
            "waiting": waiting,
            "agreed": [_words(work, line) for line in work.state.agreed],
            "addable": [(name, job) for name, job in work.book.jobs.items() if name not in taken],
            "how": words(*HOW),
            "limit": work.state.limit,
            "problem": problem,
        },
        faulty=bool(problem),
    )


def _answered(request: DeskRequest, work: Work, card: str) -> HttpResponse:
    if request.POST.get("add", "") not in {"", *work.book.jobs}:
        raise BadRequest(_("the service book has no such job"))
    how = request.POST.get("how", HOW[0])
    if how not in HOW:
        raise BadRequest(_("no such way of asking"))
    try:
        acts, words = (
            _added(work, how, request.POST["add"])
            if request.POST.get("add")
            else _said(request, work, how)
        )
    except WitnessError as error:
        return _page(request, work, card, problem=in_words(error))
    return recorded(request, work.visit, acts, bench_address(work, card), said=words)


def _said(request: DeskRequest, work: Work, how: str) -> tuple[list[store.EntryDraft], str]:
    """The button's value is ``yes/line`` or ``no/line``."""
    verdict, _before, name = request.POST.get("answer", "").partition("/")
    line = pricing.waiting(work).get(name)
    if verdict not in {"yes", "no"} or not any(name in offer.lines for offer in work.state.offers):
        raise BadRequest(_("no such line was offered on this visit"))
    if line is None:
        raise answered_already(request.desk, work, name)
    acts: list[store.EntryDraft] = [("answered", _answer(work, line.estimate, name, verdict, how))]
    if verdict == "no" and name in work.state.taken:
        acts.append(("job_left", {"job": name, "because": "the owner declined it"}))
    said = _("{line}: yes.") if verdict == "yes" else _("{line}: no.")
    return acts, said.format(line=line.line.text)


def _added(work: Work, how: str, job: str) -> tuple[list[store.EntryDraft], str]:
    """A job the owner asks for: taken on, priced with what is left, and agreed by their asking."""
    jobs = [name for name in selection(work.book, [job]) if name not in work.state.taken]
    made = pricing.supplement(work, jobs)
    sha256 = pricing.keep_estimate(work.visit.shop, made)
    acts: list[store.EntryDraft] = [
        ("job_taken", {"job": name, "because": "the owner asked for it"}) for name in jobs
    ]
    acts.append(("offered", {"estimate": sha256, "lines": [line.id for line in made.lines]}))
    acts += [("answered", _answer(work, sha256, line.id, "yes", how)) for line in made.lines]
    price = amount_text(made.gross_minor, made.currency, work.visit.shop.locale)
    return acts, _("{text} added, at most {price} with tax: tell the owner.").format(
        text=work.book.jobs[job].text, price=price
    )


def _answer(work: Work, estimate: str, line: str, verdict: str, how: str) -> dict[str, str]:
    return {
        "estimate": estimate,
        "line": line,
        "verdict": verdict,
        "by": work.state.owner or "",
        "how": how,
    }


def _words(work: Work, line: str) -> str:
    return line_words(line, store.table(work.visit))
