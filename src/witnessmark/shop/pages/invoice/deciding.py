"""What becomes of a line on the invoice, and what is charged beside the lines."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.core.exceptions import BadRequest
from django.http import Http404, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from witnessmark.shop import store
from witnessmark.shop.pages.invoice.forms import ExtraForm, LineForm
from witnessmark.shop.pages.invoice.views import page
from witnessmark.shop.responses import recorded, show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import billing
from witnessmark.shop.work.forms import HOW
from witnessmark.shop.work.visit import work_of


@require_http_methods(["GET", "POST"])
def line(request: DeskRequest, visit: UUID, line: str) -> HttpResponse:
    """Done, partly done, not done, replaced; given away and why; more than was agreed, with the owner's consent."""
    work = work_of(request.desk, visit)
    one = next((each for each in billing.bill_of(work).lines if each.line.id == line), None)
    if one is None:
        if line in work.state.account.billed:
            return page(
                request, work, problem=_("That line stands on an invoice: cancel it first.")
            )
        raise Http404(_("no such line was agreed on this visit"))
    said = work.state.account.charged.get(line)
    initial: dict[str, Any] = {"how": one.how}
    if said:
        initial |= {
            "amount": said.net_minor, "free": said.free, "because": said.because,
            "cost": said.cost_minor, "consent": said.consent,
        }  # fmt: skip
    currency = billing.currency_of(work)
    form = LineForm(request.POST or None, currency=currency, initial=initial)
    if form.is_bound and form.is_valid():
        acts: list[store.EntryDraft] = [("line_charged", form.body(line))]
        return recorded(request, work.visit, acts, "invoice", visit, said=_("Written down."))
    context = {
        "visit": work.visit, "work": work, "form": form, "one": one, "currency": currency,
        "words": billing.line_words(work, one),
    }  # fmt: skip
    return show(request, "invoice/decide.html", context)


@require_http_methods(["GET", "POST"])
def extra(request: DeskRequest, visit: UUID) -> HttpResponse:
    """A discount, a deposit and its return, storage, anything else."""
    work = work_of(request.desk, visit)
    form = ExtraForm(
        request.POST or None, shop=request.desk.shop, initial={"what": request.GET.get("what")}
    )
    if form.is_bound and form.is_valid():
        body = form.body()
        if body["what"] == "discount" and body["net_minor"] > _most_off(work):
            form.add_error("amount", _("That is more than is charged."))
        else:
            acts: list[store.EntryDraft] = [("extra_charged", body)]
            return recorded(request, work.visit, acts, "invoice", visit, said=_("Written down."))
    context = {"visit": work.visit, "work": work, "form": form}
    return show(request, "invoice/extra.html", context)


@require_POST
def consent(request: DeskRequest, visit: UUID) -> HttpResponse:
    """The owner agreed to what was charged beside the lines: written anew with it."""
    work = work_of(request.desk, visit)
    entry, how = request.POST.get("entry", ""), request.POST.get("how", "")
    said = billing.bill_of(work).extras.get(entry)
    if how not in HOW:
        return page(request, work, problem=_("How did the owner agree?"))
    if said is None:
        return page(request, work, problem=_("That was taken off, or stands on an invoice."))
    body = said.model_dump(mode="json", exclude_defaults=True) | {"consent": how}
    acts: list[store.EntryDraft] = [("corrected", {"entry": entry}), ("extra_charged", body)]
    return recorded(request, work.visit, acts, "invoice", visit, said=_("Written down."))


@require_POST
def take_off(request: DeskRequest, visit: UUID) -> HttpResponse:
    """What was charged beside the lines is not; it stays in the history."""
    work = work_of(request.desk, visit)
    entry = request.POST.get("entry", "")
    if not entry:
        raise BadRequest(_("the form does not say what is taken off"))
    if entry not in billing.bill_of(work).extras:
        return page(request, work, problem=_("That was taken off, or stands on an invoice."))
    acts: list[store.EntryDraft] = [("corrected", {"entry": entry, "why": "not charged"})]
    return recorded(request, work.visit, acts, "invoice", visit, said=_("Taken off."))


def _most_off(work: Any) -> int:
    """Up to how much can be taken off: what is charged, less what is off already."""
    bill = billing.bill_of(work)
    lines = sum(one.charged_minor for one in bill.dealt_with)
    beside = sum(
        one.signed_minor
        for one in bill.charged_extras.values()
        if one.what in ("discount", "storage", "other")
    )
    return lines + beside
