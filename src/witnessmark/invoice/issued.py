"""A document that was issued: with its number and its sums, kept and never changed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Literal

from pydantic import model_validator
from pydantic_core import from_json, to_json

from witnessmark.errors import WitnessError
from witnessmark.frozen import KeptModel
from witnessmark.invoice.document import Advance, Document, InvoiceError, Reference
from witnessmark.invoice.particulars import Form, missing
from witnessmark.invoice.totals import Totals, totals
from witnessmark.kept_versions import Upcast, as_newest

UPCASTS: tuple[Upcast, ...] = ()


class MissingError(WitnessError):
    """What keeps a document from being issued, all of it in ``faults``."""

    def __init__(self, faults: Sequence[InvoiceError]) -> None:
        first = faults[0]
        super().__init__(first.place, first.problem, first.expected)
        self.faults = tuple(faults)


class Issued(KeptModel):
    """A document and the sums it was issued with."""

    format: Literal[1] = 1
    document: Document
    totals: Totals

    @model_validator(mode="after")
    def _sums_agree(self) -> Issued:
        if self.totals != totals(self.document):
            raise ValueError("the sums of the document do not agree with its lines")
        return self


def issue(document: Document, form: Form | None = None) -> Issued:
    """The document with its sums. Raises MissingError with all that is missing for that form."""
    if faults := missing(document, form):
        raise MissingError(faults)
    return Issued(document=document, totals=totals(document))


def from_canonical(form: bytes) -> Issued:
    """The issued document kept in these bytes, of any format so far.

    Raises pydantic's ValidationError where its sums disagree, KeptError for a newer format.
    """
    said = as_newest("the kept document", from_json(form), UPCASTS)
    return Issued.model_validate_json(to_json(said))


def advance_of(issued: Issued) -> Advance:
    """A paid advance invoice as an invoice deducts it. Raises InvoiceError for another kind."""
    document = issued.document
    if document.kind != "advance invoice":
        problem = f"{document.number} is no advance invoice but: {document.kind}"
        raise InvoiceError("advances", problem, "deduct advance invoices alone")
    return Advance(number=document.number, day=document.issued_on, taxes=issued.totals.taxes)


def credit_of(issued: Issued, *, number: str, series: str, issued_on: date) -> Document:
    """The credit note that takes a whole document back. Leave out lines to credit a part.

    How the buyer is paid back is not known from the document: `terms` say it.

    Raises InvoiceError for a credit note.
    """
    document = issued.document
    if document.kind == "credit note":
        raise InvoiceError("kind", "a credit note is not credited", "write the invoice again")
    earlier = Reference(number=document.number, day=document.issued_on)
    return document.model_copy(
        update={
            "kind": "credit note", "number": number, "series": series, "issued_on": issued_on,
            "due_on": None, "payment": None, "references": (earlier,), "paid_minor": 0,
        }
    )  # fmt: skip
