"""Issue a document: with the next number of its series, kept whole, in the transaction of its entry.

No number is left out and none is given twice: the series is locked while its next one is taken, and the number
stands or falls with the entry. Whoever issues has the visit locked, always before the series.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Max

from witnessmark import bank, invoice
from witnessmark.invoice import Document
from witnessmark.ledger.kinds.invoicing import DocumentKind
from witnessmark.shop.models import DocumentKept, DocumentSeries, Shop
from witnessmark.shop.store import EntryDraft

SERIES: dict[DocumentKind, str] = {
    "advance invoice": "advance",
    "invoice": "invoice",
    "credit note": "credit",
    "receipt": "receipt",
}


def issue(shop: Shop, what: DocumentKind, draft: Document, named: Mapping[str, Any]) -> EntryDraft:
    """Number a draft, keep it, and return the entry that issues it. Called while its visit is locked.

    `named`: what the entry names besides. Raises invoice.MissingError where something must stand in it and does not.
    """
    series = _series(shop, what, draft)
    _lock(shop, series)
    last = DocumentKept.of(shop).filter(series=series).aggregate(last=Max("number"))["last"] or 0
    number = last + 1
    name = _name(shop, what, series, number)
    changed: dict[str, Any] = {"series": series, "number": name}
    if draft.payment and draft.payment.means == "transfer":
        changed["payment"] = draft.payment.model_copy(update={"reference": _reference(name)})
    issued = invoice.issue(draft.model_copy(update=changed))
    content = issued.canonical()
    sha256 = hashlib.sha256(content).hexdigest()
    DocumentKept(
        shop=shop, sha256=sha256, content=content, series=series, number=number, name=name
    ).save(force_insert=True)
    whole = sum(each.net_minor + each.tax_minor for each in issued.totals.whole)
    due = issued.document.due_on
    return "issued", {
        "what": what,
        "document": sha256,
        "series": series,
        "number": number,
        "name": name,
        "on": issued.document.issued_on.isoformat(),
        **({"due_on": due.isoformat()} if due else {}),
        "currency": issued.document.currency,
        "gross_minor": whole,
        "due_minor": issued.totals.gross_minor,
        **named,
    }


def gaps(shop: Shop) -> list[str]:
    """Numbers that are missing in a series, in words; none while the store is sound."""
    found = []
    rows = DocumentKept.of(shop).values_list("series", "number").order_by("series", "number")
    expected: dict[str, int] = {}
    for series, number in rows:
        wanted = expected.get(series, 1)
        found += [f"{series}: number {n} is missing" for n in range(wanted, number)]
        expected[series] = number + 1
    return found


def _series(shop: Shop, what: DocumentKind, draft: Document) -> str:
    word = SERIES[what]
    return f"{word}-{draft.issued_on.year}" if shop.yearly_numbers else word


def _name(shop: Shop, what: DocumentKind, series: str, number: int) -> str:
    """The number as it is printed. Example: ``INV-2026-0007``; numbered on for ever: ``INV-00007``."""
    prefix = getattr(shop, f"{SERIES[what]}_prefix")
    _, dash, year = series.partition("-")
    return f"{prefix}{year}-{number:04d}" if dash else f"{prefix}{number:05d}"


def _reference(name: str) -> str:
    """What the payer is asked to write: a creditor reference, or the number where it gives none."""
    try:
        return bank.creditor_reference(name)
    except bank.BankError:
        return name


def _lock(shop: Shop, series: str) -> None:
    """Nobody else takes a number of this series until the transaction ends."""
    rows = DocumentSeries.of(shop).filter(name=series)
    if not rows.exists():
        try:
            with transaction.atomic():
                DocumentSeries(shop=shop, name=series).save(force_insert=True)
        except IntegrityError:  # somebody else made it between the look and the insert
            pass
    rows.select_for_update().get()
