"""Lines for the owner in the technician's own words: written, and struck out before they are agreed."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST

from witnessmark.shop import store
from witnessmark.shop.pages.beyond_book.forms import LineForm
from witnessmark.shop.responses import done, recorded, show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work.lines import written
from witnessmark.shop.work.visit import Work, bench_address, work_of

GONE = gettext_lazy("That line was struck out before.")


@require_http_methods(["GET", "POST"])
def line(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Write a line. From the bench it is before the owner at once; from the price it is offered with the rest."""
    work = work_of(request.desk, visit)
    sent = request.POST if request.method == "POST" else request.GET
    card, bench = sent.get("card", ""), sent.get("back") == "bench"
    back = _back(work, card if card in work.steps else "", bench=bench)
    if work.closed:
        messages.error(request, _("It was handed back: a new line belongs to its next visit."))
        return done(request, back)
    shop = request.desk.shop
    form = LineForm(
        request.POST if request.method == "POST" else None,
        shop=shop,
        initial={"words": request.GET.get("words", "")[:200]},
    )
    if form.is_bound and form.is_valid():
        ticket = store.ticket_of(request)
        acts = written(work, ticket, form.body(), offer=bench)
        said = _("Written down; it waits for the owner’s yes.") if bench else _("Written down.")
        return recorded(request, work.visit, acts, back, said=said)
    context = {
        "visit": work.visit, "work": work, "form": form, "card": card, "bench": bench, "back": back,
    }  # fmt: skip
    return show(request, "beyond_book/line.html", context)


@require_POST
def strike(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Strike out a line that is not agreed; it stays in the history."""
    work = work_of(request.desk, visit)
    name = request.POST.get("line", "")
    own = work.state.own.get(name)
    if own is None or name not in work.state.lines:
        messages.error(request, GONE)
    elif name in work.state.agreed:
        words = _("“{text}” is agreed meanwhile: get the owner’s no, or do it.").format(
            text=work.jobs[name].text
        )
        messages.error(request, words)
    else:
        acts = [("corrected", {"entry": own.entry, "why": "struck out"})]
        return recorded(request, work.visit, acts, "price", visit, said=_("Struck out."))
    return done(request, "price", visit)


def _back(work: Work, card: str, *, bench: bool) -> str:
    return bench_address(work, card) if bench else reverse("price", args=[work.visit.pk])
