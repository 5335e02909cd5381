"""Something was opened that no book lists: it is open from then on, and has a card that closes it."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from witnessmark.shop.pages.beyond_book.forms import OpenedForm
from witnessmark.shop.responses import recorded, show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work.visit import bench_address, work_of


@require_http_methods(["GET", "POST"])
def opened(request: DeskRequest, visit: UUID) -> HttpResponse:
    """What was opened, in words; then back to the card that sent here."""
    work = work_of(request.desk, visit)
    sent = request.POST if request.method == "POST" else request.GET
    card = sent.get("card", "")
    card = card if card in work.steps else ""
    form = OpenedForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        acts = [("added", form.body())]
        said = _("Open until it is closed: {cleaned_data}.").format(
            cleaned_data=form.cleaned_data["words"]
        )
        return recorded(request, work.visit, acts, bench_address(work, card), said=said)
    back = bench_address(work, card)
    context = {"visit": work.visit, "work": work, "form": form, "card": card, "back": back}
    return show(request, "beyond_book/opened.html", context)
