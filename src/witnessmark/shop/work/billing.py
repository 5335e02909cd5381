"""What is charged on a visit, and the documents as they would be issued now."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any, get_args

import rfc8785
from django.utils.translation import gettext as _

from witnessmark import invoice
from witnessmark.invoice import Document, InvoiceError, Line, Party, TaxRate, Totals
from witnessmark.invoice.bill import BillLine, bill, shared_minutes
from witnessmark.kept_versions import KeptError
from witnessmark.ledger.account import Account
from witnessmark.ledger.kinds.invoicing import ExtraCharged, PaidBy
from witnessmark.money.currency import amount_text, major
from witnessmark.money.estimate import lower_percents
from witnessmark.shop import content_store
from witnessmark.shop.models import DocumentKept, Owner, Shop
from witnessmark.shop.work import planning
from witnessmark.shop.work.beyond_book import words_of
from witnessmark.shop.work.hand_back import beside_the_plan, done_whole
from witnessmark.shop.work.paperwork.language_and_heading import Pen, owner_of
from witnessmark.shop.work.pricing import agreed, ceiling, rates
from witnessmark.shop.work.visit import Work

OUTSIDE = "deposit"  # name of the rate of what is no price
MEANS: tuple[PaidBy, ...] = get_args(PaidBy)
_TOWN = re.compile(r"(?:([A-Z]{1,3})-)?(\S*\d\S*(?: \d\S*)?) (\D.*)")  # D-12345 Town


@dataclass(frozen=True)
class Bill:
    """What an invoice of now would deal with: agreed lines, and extras by the entry that wrote them."""

    lines: tuple[BillLine, ...]
    extras: Mapping[str, ExtraCharged]

    @property
    def waits_for_consent(self) -> dict[str, ExtraCharged]:
        """Extras that add to the sum and that the owner has not agreed to: they are not charged."""
        return {name: one for name, one in self.extras.items() if not _may_be_charged(one)}

    @property
    def charged_extras(self) -> dict[str, ExtraCharged]:
        """Extras that are charged."""
        return {name: one for name, one in self.extras.items() if _may_be_charged(one)}

    @property
    def dealt_with(self) -> tuple[BillLine, ...]:
        """The lines that an invoice of now is about: done, or decided on."""
        return tuple(one for one in self.lines if one.over)

    @property
    def not_done(self) -> tuple[BillLine, ...]:
        """Agreed, not done, and nothing decided."""
        return tuple(one for one in self.lines if not one.over)


def bill_of(work: Work) -> Bill:
    """Everything agreed, or charged beside, that stands on no invoice yet."""
    account = work.state.account
    before = {
        name: one.estimate for name, one in agreed(work).items() if name not in account.billed
    }
    done = {*done_whole(work), *(line.id for line in beside_the_plan(work))}
    extras = {name: one for name, one in account.extras.items() if name not in account.billed}
    lines = bill(before, account.charged, done, work.state.done)
    return Bill(tuple(lines), extras)


def draft(pen: Pen, of: Bill, on: date) -> Document:
    """The invoice as it would be issued on a day; without a number."""
    work, shop = pen.work, pen.work.visit.shop
    percents = _percents(work)
    corrects = corrected_by_next(work.state.account)
    lines = [line for one in of.dealt_with for line in _lines(pen, one)]
    lines += [_extra(shop, one) for one in of.charged_extras.values() if one.what != "discount"]
    used = {line.tax for line in lines}
    advances = [kept_document(shop, each.said.document) for each in to_deduct(work.state.account)]
    made = Document(
        kind="corrected invoice" if corrects else "invoice",
        issued_on=on,
        supplied_on=_worked_on(pen, on),
        due_on=on + timedelta(days=shop.payment_days),
        currency=currency_of(work),
        seller=seller(shop),
        buyer=buyer(pen),
        rates=tuple(rate for rate in tax_rates(shop, percents) if rate.name in used),
        lines=tuple(lines),
        adjustments=tuple(
            invoice.Adjustment(amount_minor=one.net_minor, reason=f"{one.words}: {one.because}")
            for one in of.charged_extras.values()
            if one.what == "discount"
        ),
        advances=tuple(invoice.advance_of(each) for each in advances),
        references=_references(shop, work.state.account, corrects),
        payment=_transfer(shop),
        texts=tuple(_texts(pen, of)),
    )
    return made.model_copy(update={"paid_minor": _credit(work.state.account, made)})


def draft_advance(pen: Pen, minor: int, by: PaidBy, paid_on: date, on: date) -> Document:
    """An advance invoice for money that came: with tax at the shop's usual rate."""
    shop = pen.work.visit.shop
    percents = _percents(pen.work)
    rate = next(r for r in tax_rates(shop, percents) if r.name == (shop.usual_tax or ""))
    words = _("Advance on the work agreed")
    return Document(
        kind="advance invoice",
        issued_on=on,
        supplied_on=paid_on,
        currency=currency_of(pen.work),
        seller=seller(shop),
        buyer=buyer(pen),
        prices="with tax",
        rates=(rate,),
        lines=(Line(text=words, price=major(minor, currency_of(pen.work)), tax=rate.name),),
        payment=invoice.Payment(means=by),
        paid_minor=minor,
        texts=tuple(_about(pen)),
    )


def draft_receipt(pen: Pen, minor: int, by: PaidBy, on: date, *, text: str) -> Document:
    """A receipt for money that came; it charges nothing, so it has no tax of its own."""
    shop = pen.work.visit.shop
    none = TaxRate(name=OUTSIDE, treatment="outside tax", reason=_("payment of what was invoiced"))
    currency = currency_of(pen.work)
    return Document(
        kind="receipt",
        issued_on=on,
        currency=currency,
        seller=seller(shop),
        buyer=buyer(pen),
        rates=(none,),
        lines=(Line(text=text, price=major(minor, currency), tax=OUTSIDE),),
        payment=invoice.Payment(means=by),
        paid_minor=minor,
        texts=tuple(_about(pen)),
    )


def currency_of(work: Work) -> str:
    """Of what was agreed; else the shop's."""
    return next((one.estimate.currency for one in agreed(work).values()), work.visit.shop.currency)


def sums(document: Document) -> Totals | None:
    """The sums of a draft; None where it has none (`invoice.missing` says why)."""
    try:
        return invoice.totals(document)
    except InvoiceError:
        return None


def lacking(document: Document) -> tuple[InvoiceError, ...]:
    """What keeps a draft from being issued; its number comes with the issue."""
    return invoice.missing(document.model_copy(update={"number": "1"}))


def shown_hash(document: Document) -> str:
    """What a page showed of a draft: another draft has another."""
    return hashlib.sha256(rfc8785.dumps(document.model_dump(mode="json"))).hexdigest()


def kept_document(shop: Shop, sha256: str) -> invoice.Issued:
    """An issued document. Raises KeptError where it is gone, changed, or of a newer version."""
    return invoice.from_canonical(content_store.content(shop.pk, DocumentKept, sha256))


def to_deduct(account: Account) -> list[Any]:
    """The advance invoices that stand and are on no invoice yet."""
    return [
        each
        for each in account.documents
        if each.asks and each.said.what == "advance invoice" and not account.deducted_on(each.entry)
    ]


def corrected_by_next(account: Account) -> str:
    """The entry of the cancelled invoice that the next one stands in place of; empty where there is none."""
    replaced = {each.said.corrects for each in account.documents}
    cancelled = [
        each.entry
        for each in account.documents
        if each.said.what == "invoice" and each.cancelled_by and each.entry not in replaced
    ]
    return cancelled[-1] if cancelled else ""


def ceiling_left(work: Work) -> int:
    """Up to how much an advance may be asked, with tax: what was agreed, less what was asked for."""
    whole = ceiling(work)
    asked = sum(each.said.gross_minor for each in work.state.account.documents if each.asks)
    return max((whole.gross_minor if whole else 0) - asked, 0)


def seller(shop: Shop) -> Party:
    """The shop as a document names it."""
    return party(
        shop.name, shop.address, shop.country,
        vat_number=shop.vat_number, tax_number=shop.tax_number, phone=shop.phone,
    )  # fmt: skip


def buyer(pen: Pen) -> Party | None:
    """The owner as a document names them; None where nobody is known, or the owner was erased."""
    owner: Owner | None = owner_of(pen.work)
    if owner is None or owner.erased_on:
        return None
    return party(owner.name, owner.address, pen.work.visit.shop.country)


def party(name: str, address: str, country: str, **more: str) -> Party:
    """Name and address as people write them, by lines or commas: street first, postcode and town last."""
    typed = address.splitlines() if "\n" in address.strip() else address.split(",")
    lines = [line.strip()[:200] for line in typed if line.strip()]
    *first, last = lines or [""]
    town = _TOWN.fullmatch(last)
    if not first and not town:
        first, last = lines, ""
    return Party(
        name=name,
        street=first[0] if first else "",
        more=", ".join(first[1:])[:200],
        postcode=town[2] if town else "",
        city=town[3] if town else last,
        country=country,
        **{field: value[:200] for field, value in more.items()},
    )


def tax_rates(shop: Shop, percents: Mapping[str, Decimal]) -> list[TaxRate]:
    """Every rate that a line can fall under; the one without a name is no tax."""
    made = [
        TaxRate(name=name, percent=percent)
        if percent
        else TaxRate(name=name, treatment=shop.no_tax, reason=shop.no_tax_text)
        for name, percent in percents.items()
    ]
    untaxed = TaxRate(name="", treatment=shop.no_tax, reason=shop.no_tax_text)
    outside = TaxRate(name=OUTSIDE, treatment="outside tax", reason=_("a deposit is no price"))
    return [*made, untaxed, outside]


def leaves_unpaid(work: Work) -> str:
    """Why the machine may not leave by the shop's rule about money, in words; empty where it may."""
    rule, account = work.visit.shop.leaves, work.state.account
    if rule == "always" or not work.state.agreed:
        return ""
    if not any(each.asks and each.said.what == "invoice" for each in account.documents):
        return _("By the shop’s rule it leaves when the invoice is issued.")
    if rule == "paid" and account.open_minor > 0:
        return _("By the shop’s rule it leaves when all is paid: {open} is open.").format(
            open=amount_text(account.open_minor, account.currency, work.visit.shop.locale)
        )
    return ""


# ---------------------------------------------------------------- parts


def _may_be_charged(one: ExtraCharged) -> bool:
    return one.signed_minor < 0 or bool(one.consent)


def _percents(work: Work) -> dict[str, Decimal]:
    """Per cent by the name of a rate: as agreed, the lower where it was agreed differently; else as it is now."""
    now = rates(work.visit.shop, work.book).tax
    return {**now, **lower_percents(one.estimate for one in agreed(work).values())}


def _lines(pen: Pen, one: BillLine) -> Iterator[Line]:
    """A line of the invoice for each tax rate of an agreed line; one given away costs nothing; one not done is none."""
    if one.how in ("not done", "replaced"):
        return
    text, note = pen.of_book(one.line.text), _note(pen, one)
    nets = {name: net for name, net in one.nets.items() if net} or dict([*one.nets.items()][:1])
    for name, net in nets.items():
        price = major(net, currency_of(pen.work))
        yield Line(text=text, note=note, price=price, tax=name or "")
        note = ""


def _note(pen: Pen, one: BillLine) -> str:
    parts = [pen.of_book(item.text) for item in one.line.items if item.kind in ("part", "fluid")]
    said = pen.work.state.account.charged.get(one.line.id)
    why = said.because if said else ""
    return "; ".join(
        filter(
            None,
            [
                ", ".join(dict.fromkeys(parts)),
                _("in part") if one.how == "partly done" else "",
                f"{_(one.free)}: {why}" if one.free else why,
            ],
        )
    )[:2000]


def _extra(shop: Shop, one: ExtraCharged) -> Line:
    if one.what in ("deposit", "deposit returned"):
        sign = 1 if one.what == "deposit" else -1
        price = major(one.net_minor, shop.currency)
        return Line(
            text=one.words, note=one.because, quantity=Decimal(sign), price=price, tax=OUTSIDE
        )
    tax = shop.taxed.get("other", shop.usual_tax) or ""
    if one.what == "storage":
        assert one.days is not None
        assert one.day_minor is not None
        return Line(
            text=one.words, note=one.because, quantity=Decimal(one.days), unit="DAY",
            price=major(one.day_minor, shop.currency), tax=tax,
        )  # fmt: skip
    price = major(one.net_minor, shop.currency)
    return Line(text=one.words, note=one.because, price=price, tax=tax)


def _texts(pen: Pen, of: Bill) -> Iterator[str]:
    """What it is about, what sharing saved, what was not done, and what the shop wants on every invoice."""
    yield from _about(pen)
    minutes = sharing(pen.work, of)
    if minutes:
        yield _(
            "Access that several jobs share was worked on once: {minutes} minutes less than for each by itself."
        ).format(minutes=pen.number(f"{minutes:g}"))
    for how, words in (
        ("not done", _("Agreed, not done, not charged: {lines}.")),
        ("replaced", _("Replaced by other work, not charged: {lines}.")),
    ):
        names = [pen.of_book(one.line.text) for one in of.dealt_with if one.how == how]
        if names:
            yield words.format(lines="; ".join(names))
    yield from (line for line in pen.work.visit.shop.invoice_text.splitlines() if line.strip())


def _about(pen: Pen) -> Iterator[str]:
    """The machine first: a paper's heading takes it from there."""
    machine, km = pen.work.machine, pen.work.state.odometer_km
    parts = [
        str(machine),
        machine.plate,
        machine.identification,
        pen.quantity(km, "distance") if km is not None else "",
        _("visit {number}").format(number=pen.work.visit.number),
    ]
    yield ", ".join(part for part in parts if part)


def sharing(work: Work, of: Bill) -> float:
    """Minutes of access that the plans of the lines charged share."""
    charged = {one.line.id for one in of.dealt_with if one.how in ("done", "partly done")}
    plans = {one.estimate.plan for name, one in agreed(work).items() if name in charged}
    found = 0.0
    for plan in plans:
        try:
            found = max(
                found, shared_minutes(work.book, planning.of_hash(work.visit.shop, plan).answer)
            )
        except KeptError:  # free lines alone have no plan
            continue
    return found


def line_words(work: Work, one: BillLine) -> str:
    """A line in words."""
    return words_of(work, one.line.id) if one.line.id in work.jobs else one.line.text


def _worked_on(pen: Pen, on: date) -> date:
    """The day of the newest work on the machine; else the day of the invoice."""
    days = [pen.local(one.at).date() for one in pen.work.standing if one.kind == "done"]
    return min(max(days, default=on), on)


def _transfer(shop: Shop) -> invoice.Payment | None:
    if not shop.iban:
        return None
    return invoice.Payment(iban=shop.iban, bic=shop.bic, account_name=shop.name)


def _references(shop: Shop, account: Account, corrects: str) -> tuple[invoice.Reference, ...]:
    each = account.document(corrects)
    return (invoice.Reference(number=each.said.name, day=each.said.on),) if each else ()


def _credit(account: Account, made: Document) -> int:
    """What the owner has to get, and is taken as paid."""
    found = sums(made)
    return max(0, min(-account.open_minor, found.gross_minor if found else 0))
