"""What must stand in a document, and why: the list, and what of it is missing.

Where it is from is named beside each: Directive 2006/112/EC (what states of the European Union may want, Articles 219,
226 and 226b; the last was seen, the others are from memory), the business rules of EN 16931 (their numbers begin with
BR), or common practice. A country may want more, and words of its own. This is no legal advice: a tax adviser says
what your law wants.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal, get_args

from babel import Locale
from stdnum import iban

from witnessmark.invoice.document import Document, InvoiceError, Party, Treatment
from witnessmark.invoice.totals import totals
from witnessmark.money.currency import exponent

# What a document is held to: a receipt over the counter; an invoice of a small amount (each country sets how much);
# a full invoice; one that is sent as data.
Form = Literal["receipt", "small invoice", "invoice", "e-invoice"]
# What BR-S-02, BR-Z-02 and BR-E-02 want a tax number for.
PRICED: tuple[Treatment, ...] = ("standard", "zero", "exempt", "small business", "margin scheme")
EVERY: frozenset[Form] = frozenset(get_args(Form))
SMALL_ON = EVERY - {"receipt"}
FULL: frozenset[Form] = frozenset({"invoice", "e-invoice"})
DATA: frozenset[Form] = frozenset({"e-invoice"})
# ISO 3166; the common locale data has some letters more, which are no country (EN 16931, BR-CL-14).
_COUNTRIES = {str(code) for code in Locale("en").territories if str(code).isalpha()} - {
    "AC", "CP", "CQ", "DG", "EA", "EU", "EZ", "IC", "QO", "TA", "UN", "XA", "XB", "ZZ",
}  # fmt: skip
UNTAXED: dict[Treatment, str] = {
    "exempt": "Directive 2006/112/EC, Article 226 (11); BR-E-10",
    "small business": "Directive 2006/112/EC, Article 226 (11); BR-E-10",
    "reverse charge": "Directive 2006/112/EC, Article 226 (11a); BR-AE-10",
    "margin scheme": "Directive 2006/112/EC, Article 226 (14); BR-E-10",
    "outside tax": "common practice, no source; BR-O-10, or BR-E-10 beside prices",
}


@dataclass(frozen=True, slots=True)
class Particular:
    """One thing that a document must say: whether it is ``there``; what is said where it is not."""

    field: str
    forms: frozenset[Form]
    source: str
    there: Callable[[Document], bool]
    problem: str
    right: str


def form_of(document: Document) -> Form:
    """What a document is held to unless it is told otherwise: a receipt as such, all others as full invoices."""
    return "receipt" if document.kind == "receipt" else "invoice"


def missing(document: Document, form: Form | None = None) -> tuple[InvoiceError, ...]:
    """All that keeps a document from being issued in that form (absent: `form_of`); empty: nothing.

    ``place`` of each is the field of `Document`.
    """
    wanted = form or form_of(document)
    faults = [
        InvoiceError(each.field, each.problem, each.right)
        for each in PARTICULARS
        if wanted in each.forms and not each.there(document)
    ]
    try:
        faults += _of_sums(document)
    except InvoiceError as fault:
        faults.append(fault)
    if wanted in SMALL_ON:
        faults += _of_reasons(document)
    if wanted == "e-invoice":
        faults += _of_data(document)
    return tuple(faults)


def _treats(*treatments: Treatment) -> Callable[[Document], bool]:
    """Whether the document has a line under one of these."""
    return lambda document: any(
        document.rate(line.tax).treatment in treatments for line in document.lines
    )


def _reverse(document: Document) -> bool:
    return _treats("reverse charge")(document)


def _address(party: Party | None) -> bool:
    return bool(party and party.street and party.city)


def _taxed(document: Document) -> bool:
    return document.seller.vat_number != "" or document.seller.tax_number != ""


def _refers(document: Document) -> bool:
    return document.kind not in ("credit note", "corrected invoice") or bool(document.references)


def _day_known(document: Document) -> bool:
    return document.kind == "receipt" or document.supplied_on is not None


def _buyer_taxed(document: Document) -> bool:
    buyer = document.buyer or Party()
    return not _reverse(document) or buyer.vat_number != ""


def _account(document: Document) -> bool:
    payment = document.payment
    return payment is None or payment.means != "transfer" or bool(payment.iban)


def _account_right(document: Document) -> bool:
    payment = document.payment
    return payment is None or not payment.iban or iban.is_valid(payment.iban)


def _when_paid(document: Document) -> bool:
    return document.due_on is not None or document.terms != "" or _nothing_due(document)


def _nothing_due(document: Document) -> bool:
    try:
        return totals(document).due_minor <= 0
    except InvoiceError:
        return True  # told by itself


def _due_later(document: Document) -> bool:
    return document.due_on is None or document.due_on >= document.issued_on


PARTICULARS: tuple[Particular, ...] = (
    Particular(
        "number", EVERY, "Directive 2006/112/EC, Article 226 (2); BR-02", lambda document: document.number != "",
        "it has no number", "give the next number of its series",
    ),
    Particular(
        "seller.name", EVERY, "Directive 2006/112/EC, Articles 226 (5) and 226b (b); BR-06",
        lambda document: document.seller.name != "", "the shop has no name", "write the name it trades under",
    ),
    Particular(
        "seller.street", SMALL_ON, "Directive 2006/112/EC, Article 226 (5)", lambda document: _address(document.seller),
        "the shop has no address", "write street and town of the shop",
    ),
    Particular(
        "seller.country", DATA, "BR-09", lambda document: document.seller.country != "",
        "the shop's address has no country", "give the two letters of the country, such as AT",
    ),
    Particular(
        "seller.tax_number", SMALL_ON, "Directive 2006/112/EC, Article 226 (3); BR-S-02, BR-E-02",
        lambda document: _taxed(document) or not _treats(*PRICED)(document),
        "the shop has neither a tax number nor a VAT number", "write the one that the tax office gave",
    ),
    Particular(
        "seller.vat_number", SMALL_ON, "Directive 2006/112/EC, Article 226 (3) and (11a); BR-AE-02",
        lambda document: not _reverse(document) or document.seller.vat_number != "",
        "the buyer is to pay the tax, and the shop has no VAT number", "write the shop's VAT number, or charge the tax",
    ),
    Particular(
        "seller.registration", DATA, "BR-CO-26",
        lambda document: document.seller.vat_number != "" or document.seller.registration != "",
        "nothing identifies the shop to a program", "write its VAT number or its number in a public register",
    ),
    Particular(
        "buyer.name", FULL, "Directive 2006/112/EC, Article 226 (5); BR-07",
        lambda document: document.buyer is not None and document.buyer.name != "",
        "it names no buyer", "write the name of the owner who pays",
    ),
    Particular(
        "buyer.street", FULL, "Directive 2006/112/EC, Article 226 (5)", lambda document: _address(document.buyer),
        "the buyer has no address", "write street and town of the owner who pays",
    ),
    Particular(
        "buyer.country", DATA, "BR-11", lambda document: document.buyer is not None and document.buyer.country != "",
        "the buyer's address has no country", "give the two letters of the country, such as AT",
    ),
    Particular(
        "buyer.vat_number", SMALL_ON, "Directive 2006/112/EC, Article 226 (4); BR-AE-02", _buyer_taxed,
        "the buyer is to pay the tax, and has no VAT number", "write the buyer's VAT number, or charge the tax",
    ),
    Particular(
        "lines", EVERY, "Directive 2006/112/EC, Articles 226 (6) and 226b (c); BR-16",
        lambda document: bool(document.lines), "nothing stands in it", "add what was done or sold",
    ),
    Particular(
        "supplied_on", SMALL_ON, "Directive 2006/112/EC, Article 226 (7)", _day_known,
        "it does not say when the work was done, or the advance was paid", "give the day",
    ),
    Particular(
        "references", EVERY, "Directive 2006/112/EC, Articles 219 and 226b (e)", _refers,
        "it does not say which document it changes", "name the earlier document, by number and day",
    ),
    Particular(
        "due_on", DATA, "BR-CO-25", _when_paid,
        "it does not say when it is to be paid", "give the day, or the terms of payment",
    ),
    Particular(
        "due_on", EVERY, "common practice, no source", _due_later,
        "it is to be paid before it is issued", "give the day of issue or a later one",
    ),
    Particular(
        "payment.iban", DATA, "BR-61", _account,
        "it is to be paid by transfer, and names no account", "write the shop's account, or another way of payment",
    ),
    Particular(
        "payment.iban", EVERY, "ISO 13616: its check digits", _account_right,
        "that is no IBAN: its check digits do not agree", "copy it from a statement of the bank",
    ),
)  # fmt: skip


def _of_sums(document: Document) -> Iterator[InvoiceError]:
    """A document of less than nothing is another kind of document."""
    found = totals(document)
    if sum(each.net_minor + each.tax_minor for each in found.whole) < 0:
        problem = "it comes to less than nothing"
        yield InvoiceError("lines", problem, "write a credit note that names the invoice")


def _of_reasons(document: Document) -> Iterator[InvoiceError]:
    """Where no tax is charged, the document says why, in words that the shop enters."""
    for place, rate in enumerate(document.rates):
        used = any(line.tax == rate.name for line in document.lines)
        if used and rate.treatment in UNTAXED and not rate.reason:
            problem = f"“{rate.name}” charges no tax and does not say why"
            yield InvoiceError(
                f"rates[{place}].reason", problem, "write the words that your law wants there"
            )


def _of_data(document: Document) -> Iterator[InvoiceError]:
    """What an e-invoice cannot carry."""
    yield from _codes_wrong(document)
    if document.kind == "receipt":
        yield InvoiceError("kind", "a receipt is not sent as data", "write an invoice")
    if exponent(document.currency) > 2:  # EN 16931, BR-DEC-01 and the like
        problem = f"{document.currency} has more than the two decimals of an e-invoice"
        yield InvoiceError("currency", problem, "send it as a paper")


def _codes_wrong(document: Document) -> Iterator[InvoiceError]:
    parties = {"seller": document.seller, "buyer": document.buyer or Party()}
    for name, party in parties.items():
        if party.vat_number and party.vat_number[:2] not in _COUNTRIES | {"EL"}:  # Greece
            problem = f"“{party.vat_number}” does not begin with the letters of its country"
            yield InvoiceError(f"{name}.vat_number", problem, "write it as AT U12345678")
        if party.country and party.country not in _COUNTRIES:
            problem = f"“{party.country}” is no country"
            yield InvoiceError(f"{name}.country", problem, "give its two letters, such as AT")
