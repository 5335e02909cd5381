"""What was paid, paid back, written off; and who owes what."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from witnessmark.shop import store
from witnessmark.shop.models import OwedRow
from witnessmark.shop.pages.invoice.forms import PaidForm, ReasonForm
from witnessmark.shop.pages.invoice.views import page
from witnessmark.shop.responses import recorded, show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import staff
from witnessmark.shop.work.visit import work_of


@require_POST
def pay(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Money that came, or that went back."""
    work = work_of(request.desk, visit)
    account, back = work.state.account, request.POST.get("back") == "1"
    most = account.paid_minor if back else account.open_minor
    auto_id = "back_%s" if back else "pay_%s"
    form = PaidForm(request.POST, auto_id=auto_id, most=most, back=back, shop=request.desk.shop)
    if not form.is_valid():
        faulty: dict[str, Any] = {"back_form" if back else "pay_form": form}
        return page(request, work, **faulty)
    acts: list[store.EntryDraft] = [("paid", form.body())]
    said = _("Paid back.") if back else _("Paid.")
    return recorded(request, work.visit, acts, "invoice", visit, said=said)


@require_POST
def take_back(request: DeskRequest, visit: UUID) -> HttpResponse:
    """A payment that was mistyped; it stays in the history."""
    work = work_of(request.desk, visit)
    entry = request.POST.get("entry", "")
    account = work.state.account
    paid = account.payment(entry)
    off = any(one.entry == entry for one in account.written_off)
    if paid is None and not off:
        return page(request, work, problem=_("That was taken back meanwhile."))
    if paid and paid.receipt:
        return page(request, work, problem=_("A receipt was given for it: pay it back."))
    if paid and account.paid_minor - paid.minor < 0:
        return page(request, work, problem=_("More would have been paid back than was paid."))
    staff.refuse_take_back(request.desk, work.entries, [entry])
    acts: list[store.EntryDraft] = [("corrected", {"entry": entry, "why": "mistyped"})]
    return recorded(request, work.visit, acts, "invoice", visit, said=_("Taken back."))


@require_POST
def write_off(request: DeskRequest, visit: UUID) -> HttpResponse:
    """All that is still owed is asked for no more, for a reason."""
    work = work_of(request.desk, visit)
    account = work.state.account
    form = ReasonForm(request.POST, auto_id="off_%s")
    if not form.is_valid():
        return page(request, work, off_form=form)
    if account.open_minor <= 0:
        return page(request, work, problem=_("Nothing is owed."))
    if request.POST.get("minor") != str(account.open_minor):
        return page(request, work, problem=_("Another sum is owed by now: look again."))
    currency = next(each.said.currency for each in account.documents if each.asks)
    body = {"minor": account.open_minor, "currency": currency, **form.cleaned_data}
    return recorded(
        request, work.visit, [("written_off", body)], "invoice", visit, said=_("Written off.")
    )


@require_GET
def owed(request: DeskRequest) -> HttpResponse:
    """Who owes what: open documents, the oldest first, and what owners have to get."""
    rows = request.desk.all(OwedRow).select_related("visit__machine__owner").order_by("on", "name")
    today = timezone.localdate()
    open_rows = [(row, (today - row.due_on).days if row.due_on else 0) for row in rows]
    owes = [(row, late) for row, late in open_rows if row.open_minor > 0]
    gets = [row for row, _late in open_rows if row.open_minor < 0]
    context = {
        "owes": owes, "gets": gets, "sum": sum(row.open_minor for row, _ in owes),
        "late": sum(1 for _, late in owes if late > 0),
    }  # fmt: skip
    return show(request, "invoice/owed.html", context)
