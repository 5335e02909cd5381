"""Issue documents: the invoice, an advance, a credit note that cancels, a receipt; and each as PDF."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any
from uuid import UUID

from django.core.exceptions import BadRequest
from django.http import Http404, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from witnessmark import invoice
from witnessmark.errors import WitnessError
from witnessmark.invoice import Issued, MissingError
from witnessmark.invoice.einvoice import cii, ubl
from witnessmark.invoice.hybrid import hybrid
from witnessmark.ledger.account import DocumentIssued
from witnessmark.papers import pdf
from witnessmark.shop import store
from witnessmark.shop.forms import in_words
from witnessmark.shop.models import Visit
from witnessmark.shop.pages.invoice.forms import AdvanceForm, ReasonForm
from witnessmark.shop.pages.invoice.views import now_of, page
from witnessmark.shop.responses import recorded
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import billing, issuing, paperwork
from witnessmark.shop.work.paperwork import pen_of
from witnessmark.shop.work.visit import Work, read, work_of

SYNTAXES = {"ubl": ubl, "cii": cii}
Acts = Callable[[Visit], list[store.EntryDraft]]
CHANGED = _("What is charged has changed since this page was made: look again.")


class ChangedError(Exception):
    """What would be issued is not what the page showed; in words."""


@require_POST
def issue_invoice(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Issue what the page showed, and nothing else."""

    def acts(locked: Visit) -> list[store.EntryDraft]:
        work = read(locked)
        now = now_of(request.desk, work)
        if not now.something or now.hash != request.POST.get("shown"):
            raise ChangedError(_(CHANGED))
        account = work.state.account
        named: dict[str, Any] = {
            "lines": [one.line.id for one in now.bill.dealt_with],
            "extras": list(now.bill.charged_extras),
            "advances": [each.entry for each in billing.to_deduct(account)],
        }
        if corrects := billing.corrected_by_next(account):
            named["corrects"] = corrects
        return [issuing.issue(request.desk.shop, "invoice", now.draft, named)]

    return _issued(request, visit, acts, _("Issued. It can be printed; it is changed no more."))


@require_POST
def advance(request: DeskRequest, visit: UUID) -> HttpResponse:
    """An advance that the owner paid: the payment and its invoice, together."""
    work = work_of(request.desk, visit)
    form = AdvanceForm(
        request.POST, auto_id="advance_%s", most=billing.ceiling_left(work), shop=request.desk.shop
    )
    if not form.is_valid():
        return page(request, work, advance_form=form)
    said = form.cleaned_data

    def acts(locked: Visit) -> list[store.EntryDraft]:
        now = read(locked)
        if said["amount"] > billing.ceiling_left(now):
            raise ChangedError(_(CHANGED))
        pen = pen_of(request.desk, now)
        with pen.speaking():
            draft = billing.draft_advance(pen, said["amount"], said["by"], said["on"], _today())
        issued = issuing.issue(request.desk.shop, "advance invoice", draft, {})
        return [("paid", form.body()), issued]

    return _issued(request, visit, acts, _("Paid, and its invoice issued."))


@require_POST
def cancel(request: DeskRequest, visit: UUID) -> HttpResponse:
    """A credit note that takes back a whole invoice, and names it."""
    work = work_of(request.desk, visit)
    entry = request.POST.get("entry", "")
    form = ReasonForm(request.POST, auto_id="cancel_%s")
    if not form.is_valid():
        return page(request, work, cancel_form=form, cancelling=entry)

    def acts(locked: Visit) -> list[store.EntryDraft]:
        account = read(locked).state.account
        each = account.document(entry)
        if each is None or each.said.what not in ("invoice", "advance invoice"):
            raise BadRequest(_("the form names no invoice of this visit"))
        if each.cancelled_by:
            raise ChangedError(_("{name} is cancelled already.").format(name=each.said.name))
        if on := account.deducted_on(entry):
            words = _("{name} deducts it: cancel that one first.")
            raise ChangedError(words.format(name=on.said.name))
        kept = billing.kept_document(request.desk.shop, each.said.document)
        draft = invoice.credit_of(kept, number="", series="", issued_on=_today())
        words = form.cleaned_data["because"]
        draft = draft.model_copy(update={"texts": (*draft.texts, words), "payment": None})
        return [issuing.issue(request.desk.shop, "credit note", draft, {"cancels": entry})]

    return _issued(
        request, visit, acts, _("Cancelled by a credit note. What it charged is open again.")
    )


@require_POST
def receipt(request: DeskRequest, visit: UUID) -> HttpResponse:
    """A receipt for a payment."""
    entry = request.POST.get("entry", "")

    def acts(locked: Visit) -> list[store.EntryDraft]:
        work = read(locked)
        paid = work.state.account.payment(entry)
        if paid is None or paid.said.back:
            raise ChangedError(_("That payment was taken back meanwhile."))
        if paid.receipt:
            raise ChangedError(_("It has its receipt already."))
        pen = pen_of(request.desk, work)
        with pen.speaking():
            words = _("Received")
            draft = billing.draft_receipt(pen, paid.minor, paid.said.by, paid.said.on, text=words)
        return [issuing.issue(request.desk.shop, "receipt", draft, {"payment": entry})]

    return _issued(request, visit, acts, _("Receipt issued."))


@require_GET
def document(request: DeskRequest, visit: UUID, sha256: str) -> HttpResponse:
    """An issued document as PDF/A, from what was kept."""
    work = work_of(request.desk, visit)
    each, kept = _of(work, sha256)
    pen = pen_of(request.desk, work)
    with pen.speaking():
        printed = pdf(paperwork.money_paper(pen, kept, each), _)
    answer = HttpResponse(printed, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{_plain(each.said.name)}.pdf"'
    return answer


@require_GET
def data(request: DeskRequest, visit: UUID, sha256: str, syntax: str) -> HttpResponse:
    """An issued document as data by EN 16931: UBL, CII, or the paper that carries the CII."""
    work = work_of(request.desk, visit)
    each, kept = _of(work, sha256)
    pen = pen_of(request.desk, work)
    try:
        with pen.speaking():
            if syntax == "hybrid":
                paper = pdf(paperwork.money_paper(pen, kept, each), _)
                written, media, ending = hybrid(paper, kept, _), "application/pdf", "pdf"
            elif syntax in SYNTAXES:
                written, media, ending = SYNTAXES[syntax](kept, _), "application/xml", "xml"
            else:
                raise Http404(_("there is no such form of a document"))
    except MissingError as lacking:
        why = " ".join(in_words(fault) for fault in lacking.faults)
        problem = _(
            "{name} cannot be sent as data. {why} "
            "What was issued stays as it is; what is entered now is for the next one."
        ).format(name=each.said.name, why=why)
        return page(request, work, problem=problem)
    name = f"{_plain(each.said.name)}-{syntax}.{ending}"
    answer = HttpResponse(written, content_type=media)
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


# ---------------------------------------------------------------- parts


def _issued(request: DeskRequest, visit: UUID, acts: Acts, said: str) -> HttpResponse:
    """Store what `acts` makes under the lock, and go back to the page; or say there why not."""
    row = work_of(request.desk, visit).visit
    try:
        return recorded(request, row, acts, "invoice", visit, said=said)
    except ChangedError as changed:
        problem = str(changed)
    except MissingError as lacking:
        problem = " ".join(in_words(fault) for fault in lacking.faults)
    except WitnessError as error:
        problem = in_words(error)
    return page(request, work_of(request.desk, visit), problem=problem)


def _of(work: Work, sha256: str) -> tuple[DocumentIssued, Issued]:
    """A document that was issued on this visit: its entry and what was kept. Raises Http404 for any other."""
    each = next((e for e in work.state.account.documents if e.said.document == sha256), None)
    if each is None:
        raise Http404(_("no such document was issued on this visit"))
    return each, billing.kept_document(work.visit.shop, sha256)


def _today() -> date:
    return timezone.localdate()


def _plain(name: str) -> str:
    return "".join(
        letter if (letter.isascii() and letter.isalnum()) or letter in "-._" else "_"
        for letter in name
    )
