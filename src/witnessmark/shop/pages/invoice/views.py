"""The invoice of a visit: what was agreed, done and is charged; what was issued and paid."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from witnessmark.invoice import Document, InvoiceError, Totals
from witnessmark.ledger.account import DocumentIssued
from witnessmark.ledger.kinds.invoicing import ExtraCharged
from witnessmark.shop.forms import in_words
from witnessmark.shop.pages.invoice.forms import AdvanceForm, PaidForm, ReasonForm
from witnessmark.shop.responses import show
from witnessmark.shop.scope import Desk, DeskRequest
from witnessmark.shop.work import billing, hand_back
from witnessmark.shop.work.billing import Bill
from witnessmark.shop.work.paperwork import pen_of
from witnessmark.shop.work.visit import Work, who, work_of


@dataclass(frozen=True)
class LineShown:
    """An agreed line side by side: without tax, in minor units."""

    id: str
    words: str
    how: str  # translated
    agreed_minor: int
    done_minor: int
    charged_minor: int
    beyond_minor: int
    free: str
    because: str
    cost_minor: int | None


@dataclass(frozen=True)
class Lacking:
    """What keeps the invoice from being issued, and where it is entered."""

    words: str
    address: str


@dataclass(frozen=True)
class Now:
    """The invoice as it would be issued now."""

    bill: Bill
    draft: Document
    totals: Totals | None
    lacking: tuple[InvoiceError, ...]

    @property
    def something(self) -> bool:
        """Whether there is anything to issue."""
        return bool(self.bill.dealt_with or self.bill.charged_extras)

    @property
    def hash(self) -> str:
        """What the page shows of it."""
        return billing.shown_hash(self.draft)


def now_of(desk: Desk, work: Work, on: date | None = None) -> Now:
    """The draft, in the owner's language."""
    bill = billing.bill_of(work)
    pen = pen_of(desk, work)
    with pen.speaking():
        draft = billing.draft(pen, bill, on or timezone.localdate())
    return Now(bill, draft, billing.sums(draft), billing.lacking(draft))


@require_GET
def invoice(request: DeskRequest, visit: UUID) -> HttpResponse:
    """What is charged, then what was issued and paid."""
    return page(request, work_of(request.desk, visit))


def page(request: DeskRequest, work: Work, *, problem: str = "", **more: Any) -> HttpResponse:
    """The page; `problem`: why what was sent was not done."""
    now, account, shop = now_of(request.desk, work), work.state.account, request.desk.shop
    left = billing.ceiling_left(work)
    context: dict[str, Any] = {
        "visit": work.visit,
        "work": work,
        "now": now,
        "currency": now.draft.currency,
        "lines": [_shown(work, one) for one in now.bill.lines],
        "extras": list(_extras(now.bill)),
        "beyond": sum(one.beyond_minor for one in now.bill.lines),
        "sharing": billing.sharing(work, now.bill),
        "lacking": list(_lacking(request, work, now.lacking)) if now.something else [],
        "open": len(hand_back.verdict(work, "hand-back").words),
        "changed_rates": _changed_rates(work, now),
        "account": account,
        "credit": -account.open_minor,
        "documents": list(_documents(work)),
        "newest": next((e for e in reversed(account.documents) if e.asks), None),
        "payments": [(one, who(request.desk).get(one.author, "")) for one in account.payments],
        "left_minor": left,
        "pay_form": PaidForm(auto_id="pay_%s", most=account.open_minor, shop=shop),
        "back_form": PaidForm(
            auto_id="back_%s", most=account.paid_minor, back=True, shop=shop,
            initial={"amount": max(-account.open_minor, 0) or None},
        ),
        "advance_form": AdvanceForm(auto_id="advance_%s", most=left, shop=shop,
                                    initial={"amount": None}),
        "off_form": ReasonForm(auto_id="off_%s"),
        "cancel_form": ReasonForm(auto_id="cancel_%s"),
        "problem": problem,
        **more,
    }  # fmt: skip
    return show(request, "invoice/page.html", context, faulty=bool(problem))


# ---------------------------------------------------------------- parts


def _shown(work: Work, one: Any) -> LineShown:
    said = work.state.account.charged.get(one.line.id)
    return LineShown(
        id=one.line.id,
        words=billing.line_words(work, one),
        how=_(one.how),
        agreed_minor=one.agreed_minor,
        done_minor=one.done_minor,
        charged_minor=one.charged_minor if one.over else 0,
        beyond_minor=one.beyond_minor if one.over else 0,
        free=_(one.free) if one.free else "",
        because=said.because if said else "",
        cost_minor=said.cost_minor if said else None,
    )


def _extras(bill: Bill) -> Iterator[tuple[str, ExtraCharged, str, bool]]:
    """Entry, what it says, its kind translated, whether it waits for the owner's consent."""
    for entry, one in bill.extras.items():
        yield entry, one, _(one.what), entry in bill.waits_for_consent


def _documents(work: Work) -> Iterator[tuple[DocumentIssued, str, datetime]]:
    """Newest first, each with its kind translated."""
    for one in reversed(work.state.account.documents):
        what = "corrected invoice" if one.said.corrects else one.said.what
        yield one, _(what), datetime.fromisoformat(one.at)


def _changed_rates(work: Work, now: Now) -> list[str]:
    """Tax rates that the shop has changed since a line was agreed under them."""
    found = []
    for rate in now.draft.rates:
        percent = work.visit.shop.tax_rates.get(rate.name)
        if rate.name and percent is not None and rate.percent != type(rate.percent)(percent):
            found.append(
                _("{name}: {agreed} % when it was agreed, {now} % now").format(
                    name=rate.name, agreed=f"{rate.percent.normalize():f}", now=percent
                )
            )
    return found


def _lacking(
    request: DeskRequest, work: Work, faults: tuple[InvoiceError, ...]
) -> Iterator[Lacking]:
    """Each with the field where it is entered, for those who may enter it."""
    desk, back = request.desk, urlencode({"back": request.path})
    owner = work.state.owner or str(work.machine.owner_id or "")
    for fault in faults:
        part = fault.place.partition(".")[0]
        address = ""
        if part == "buyer" and owner:
            address = f"{reverse('owner-edit', args=[owner])}?{back}#id_address"
        elif part == "buyer":
            address = f"{reverse('machine', args=[work.machine.pk])}"
        elif fault.place in ("seller.name", "seller.street", "seller.tax_number") and desk.may(
            "settings"
        ):
            field = {"seller.street": "address"}.get(fault.place, fault.place.partition(".")[2])
            address = f"{reverse('settings')}?{back}#id_{field}"
        elif part in ("seller", "payment", "rates") and desk.may("settings-invoices"):
            field = {"payment": "iban", "rates[0]": "no_tax_text"}.get(
                part, fault.place.partition(".")[2]
            )
            field = "no_tax_text" if fault.place.startswith("rates") else field
            address = f"{reverse('settings-invoices')}?{back}#id_{field}"
        yield Lacking(in_words(fault), address)
