"""A document of money on paper: everything on it from what was kept when it was issued."""

from __future__ import annotations

from collections.abc import Iterator

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from witnessmark.bank import BankError, payment_code, references_in, spaced
from witnessmark.invoice import Document, Issued, Line, LineSum, Party, Payment, TaxSum
from witnessmark.ledger.account import DocumentIssued
from witnessmark.money.currency import in_minor
from witnessmark.money.rounding import half_up
from witnessmark.papers.contents import Heading, MoneyLine, MoneyPaper
from witnessmark.shop.dates import day_text
from witnessmark.shop.work.paperwork.language_and_heading import Pen

TITLES = {
    "advance invoice": noop("Advance invoice"),
    "invoice": noop("Invoice"),
    "credit note": noop("Credit note"),
    "corrected invoice": noop("Corrected invoice"),
    "receipt": noop("Receipt"),
}
UNITS = {"DAY": noop("days")}
MEANS = {"cash": noop("in cash"), "card": noop("by card"), "transfer": noop("by transfer")}


def money_paper(pen: Pen, issued: Issued, told: DocumentIssued) -> MoneyPaper:
    """The paper of an issued document; ``told``: its entry, for what became of it since."""
    document, totals = issued.document, issued.totals
    prices = document.prices == "with tax"
    receipt = document.kind == "receipt"
    lines = [
        _line(pen, document, line, one)
        for line, one in zip(document.lines, totals.lines, strict=True)
    ]
    return MoneyPaper(
        heading=_heading(pen, document),
        title=_(TITLES[document.kind]),
        facts=list(_facts(pen, document)),
        refers="; ".join(_refers(document)),
        lines=[*lines, *_off(pen, issued)],
        sums=[] if receipt or (prices and not totals.tax_minor) else list(_sums(pen, issued)),
        total=pen.money(totals.gross_minor, document.currency),
        total_words=_total_words(document, taxed=bool(totals.tax_minor)),
        after=[] if receipt else list(_after(pen, issued)),
        notes=[*document.texts[1:], *_reasons(document), *_account(document), *_cancelled(told)],
        payment_code="" if told.cancelled_by else _code(issued),
    )


def _heading(pen: Pen, document: Document) -> Heading:
    seller, buyer = document.seller, document.buyer
    telephone = _("telephone {number}").format(number=seller.phone) if seller.phone else ""
    tax = _("tax number {number}").format(number=seller.tax_number) if seller.tax_number else ""
    vat = _("VAT number {number}").format(number=seller.vat_number) if seller.vat_number else ""
    machine, *about = (document.texts or ("",))[0].split(", ")
    return Heading(
        shop=seller.name,
        shop_lines=[line for line in (*_address(seller), telephone, tax, vat) if line],
        owner=buyer.name if buyer else "",
        owner_lines=_address(buyer) if buyer else [],
        machine=machine,
        machine_lines=about,
        number=document.number,
        printed=document.issued_on,
        day=day_text(document.issued_on),
        language=pen.language,
        invented=pen.work.book.invented,
    )


def _address(party: Party) -> list[str]:
    town = " ".join(part for part in (party.postcode, party.city) if part)
    return [line for line in (party.street, party.more, town) if line]


def _facts(pen: Pen, document: Document) -> Iterator[tuple[str, str]]:
    yield _("Number"), document.number
    yield _("Day of issue"), day_text(document.issued_on)
    if document.supplied_on:
        paid = document.kind == "advance invoice"
        words = _("Paid on") if paid else _("Work done on")
        yield words, day_text(document.supplied_on)
    if document.due_on:
        yield _("To be paid by"), day_text(document.due_on)
    if document.payment and document.kind in ("advance invoice", "receipt"):
        yield _("Paid"), _(MEANS[document.payment.means])


def _refers(document: Document) -> Iterator[str]:
    words = _("in place of {number} of {day}")
    if document.kind == "credit note":
        words = _("takes back {number} of {day}")
    for one in document.references[:1] if document.kind == "credit note" else document.references:
        yield words.format(number=one.number, day=day_text(one.day))


def _line(pen: Pen, document: Document, line: Line, one: LineSum) -> MoneyLine:
    amount = one.priced_minor - one.off_minor
    quantity = ""
    if line.quantity not in (1, -1):
        each = pen.money(half_up(in_minor(line.price, document.currency)), document.currency)
        unit = _(UNITS[line.unit]) if line.unit in UNITS else ""
        many = pen.number(f"{line.quantity.normalize():f}")
        quantity = _("{many} at {price}").format(many=f"{many} {unit}".strip(), price=each)
    return MoneyLine(
        text=line.text, note=line.note, quantity=quantity, sum=pen.money(amount, document.currency)
    )


def _off(pen: Pen, issued: Issued) -> Iterator[MoneyLine]:
    """Discounts on the whole, each as one line however many rates it is shared among."""
    document = issued.document
    for place, one in enumerate(document.adjustments):
        net = sum(s.net_minor for s in issued.totals.shares if s.adjustment == place)
        yield MoneyLine(text=one.reason, sum=pen.money(net, document.currency))


def _sums(pen: Pen, issued: Issued) -> Iterator[tuple[str, str]]:
    """Net and taxes of the whole; then each advance, with its taxes, deducted."""
    document, currency = issued.document, issued.document.currency
    whole = issued.totals.whole
    yield _("Sum without tax"), pen.money(sum(each.net_minor for each in whole), currency)
    yield from ((_tax(pen, each, currency), pen.money(each.tax_minor, currency)) for each in whole)
    for advance in document.advances:
        net = sum(each.net_minor for each in advance.taxes)
        tax = sum(each.tax_minor for each in advance.taxes)
        words = _("less advance {number} of {day}, with tax of {tax}").format(
            number=advance.number, day=day_text(advance.day), tax=pen.money(tax, currency)
        )
        yield words, pen.money(-net - tax, currency)


def _tax(pen: Pen, each: TaxSum, currency: str) -> str:
    if each.treatment == "outside tax":
        words = _("No tax on {sum}, which is no price")
    elif not each.percent:
        words = _("No tax on {sum}")
    else:
        words = _("Tax, {rate} % of {sum}")
    rate = pen.number(f"{each.percent.normalize():f}")
    return words.format(rate=rate, sum=pen.money(each.net_minor, currency))


def _total_words(document: Document, *, taxed: bool) -> str:
    if document.kind == "receipt":
        return _("Received")
    if document.kind == "credit note":
        return _("Taken back, with tax") if taxed else _("Taken back")
    if document.advances:
        return _("Left to pay, with tax") if taxed else _("Left to pay")
    return _("Total, with tax") if taxed else _("Total")


def _after(pen: Pen, issued: Issued) -> Iterator[tuple[str, str]]:
    totals, currency = issued.totals, issued.document.currency
    if totals.paid_minor:
        yield _("Paid before"), pen.money(-totals.paid_minor, currency)
        yield _("Still to pay"), pen.money(totals.due_minor, currency)


def _reasons(document: Document) -> Iterator[str]:
    """Why no tax is charged, in the shop's words, of the rates that a line falls under."""
    used = {line.tax for line in document.lines}
    words = (rate.reason for rate in document.rates if rate.name in used and rate.reason)
    yield from dict.fromkeys(word for word in words if document.kind != "receipt")


def _by_transfer(document: Document) -> Payment | None:
    """The account that it is to be paid to; None where it names none."""
    payment = document.payment
    asks = document.kind in ("invoice", "corrected invoice")
    return payment if asks and payment and payment.iban else None


def _account(document: Document) -> Iterator[str]:
    if payment := _by_transfer(document):
        bic = f", BIC {payment.bic}" if payment.bic else ""
        yield _("Account: {name}, IBAN {iban}{bic}; please write {reference}.").format(
            name=payment.account_name, iban=payment.iban, bic=bic, reference=_said(payment)
        )


def _said(payment: Payment) -> str:
    """A creditor reference as it is read, in groups of four; a number as it is."""
    reference = payment.reference
    return spaced(reference) if references_in(reference) == (reference,) else reference


def _code(issued: Issued) -> str:
    """The code that a banking app reads; empty where it can say nothing: not in euro, nothing to pay."""
    document, due = issued.document, issued.totals.due_minor
    payment = _by_transfer(document)
    if payment is None or due <= 0:
        return ""
    try:
        return payment_code(
            name=payment.account_name, iban=payment.iban, bic=payment.bic, amount_minor=due,
            currency=document.currency, reference=payment.reference,
        )  # fmt: skip
    except BankError:
        return ""


def _cancelled(told: DocumentIssued) -> Iterator[str]:
    if told.cancelled_by:
        yield _("Cancelled by a credit note.")
