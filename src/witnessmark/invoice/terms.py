"""An issued document in the terms of EN 16931: each by its number there (BT a term, BG a group of them).

From this one form the library writes either syntax. Amounts and dates are texts, as it wants them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from witnessmark.invoice.document import (
    Document,
    Kind,
    Line,
    Party,
    Payment,
    TaxRate,
    TaxSum,
    Treatment,
)
from witnessmark.invoice.issued import Issued
from witnessmark.invoice.totals import LineSum
from witnessmark.money.currency import exponent, major
from witnessmark.money.rounding import half_up

Terms = dict[str, Any]
# UNTDID 1001, 5305, 4461, as EN 16931 uses them; a receipt is not sent as data.
DOCUMENT_CODES: dict[Kind, str] = {
    "advance invoice": "386",
    "invoice": "380",
    "credit note": "381",
    "corrected invoice": "384",
}
TAX_CODES: dict[Treatment, str] = {
    "standard": "S",
    "zero": "Z",
    "exempt": "E",
    "small business": "E",
    "reverse charge": "AE",
    "margin scheme": "E",  # the list of exemption codes wants it so: VATEX-EU-F
    "outside tax": "E",  # beside others; alone it is O, which stands beside no other (BR-O-11 to 14)
}
# Codes of why no tax is charged (VATEX); where there is none, the shop's words say it.
REASON_CODES = {"reverse charge": "VATEX-EU-AE", "margin scheme": "VATEX-EU-F"}


def terms(issued: Issued, say: Callable[[str], str] = str) -> Terms:
    """The document's terms. ``say`` translates the one thing that it adds: what an advance is called."""
    document, sums = issued.document, issued.totals
    money = _writer(document.currency)
    outside = _all_outside(document)
    lines = [*_lines(issued, outside=outside), *_advances(issued, say, outside=outside)]
    found: Terms = {
        "BT-1": document.number,
        "BT-2": document.issued_on,
        "BT-3": DOCUMENT_CODES[document.kind],
        "BT-5": document.currency,
        "BT-9": document.due_on,
        "BT-10": document.buyer_reference,
        "BT-13": document.order_number,
        "BT-20": document.terms,
        "BT-72": document.supplied_on,
        "BG-1": [{"BT-22": text} for text in document.texts],
        "BG-3": [
            {"BT-25": each.number, "BT-26": each.day}
            for each in (*document.references, *document.advances)
        ],
        "BG-4": _party(document.seller, taxed=not outside),
        "BG-7": _party(document.buyer or Party(), taxed=not outside),
        "BG-20": list(_shares(issued, "discount", outside=outside)),
        "BG-21": list(_shares(issued, "charge", outside=outside)),
        "BG-23": list(_breakdown(issued, outside=outside)),
        "BG-25": [{"BT-126": str(number), **line} for number, line in enumerate(lines, 1)],
        "BT-106": money(sum(each.net_minor for each in sums.lines) - _paid_net(document)),
        "BT-107": money(-sum(each.net_minor for each in sums.shares if each.net_minor < 0)),
        "BT-108": money(sum(each.net_minor for each in sums.shares if each.net_minor > 0)),
        "BT-109": money(sums.net_minor),
        "BT-110": money(sums.tax_minor),
        "BT-112": money(sums.gross_minor),
        "BT-113": money(sums.paid_minor),
        "BT-115": money(sums.due_minor),
    }
    if sums.rounding_minor:
        found["BT-114"] = money(sums.rounding_minor)
    if document.payment is not None:
        found |= _payment(document.payment, document.currency)
    cleaned: Terms = _clean(found)
    return cleaned


def tax_code(treatment: Treatment, *, outside: bool) -> str:
    """The code of a treatment; ``outside``: nothing in the document is a price."""
    return "O" if outside else TAX_CODES[treatment]


def _writer(currency: str) -> Callable[[int], str]:
    return lambda minor: f"{major(minor, currency):f}"


def _all_outside(document: Document) -> bool:
    """Whether all of it is outside tax. No VAT number may stand there (BR-O-02), so another one must (BR-CO-26)."""
    treatments = {document.rate(line.tax).treatment for line in document.lines}
    treatments |= {tax.treatment for advance in document.advances for tax in advance.taxes}
    return treatments == {"outside tax"} and document.seller.registration != ""


def _percent(percent: Decimal) -> str:
    return f"{percent.normalize():f}"


def _tax(rate: TaxRate | TaxSum, category: str, percent: str, *, outside: bool) -> Terms:
    code = tax_code(rate.treatment, outside=outside)
    return {category: code} if outside else {category: code, percent: _percent(rate.percent)}


def _party(party: Party, *, taxed: bool) -> Terms:
    contact = {"name": party.contact, "phone": party.phone, "email": party.email}
    found: Terms = {
        "name": party.name, "addr_l1": party.street, "addr_l2": party.more, "postcode": party.postcode,
        "city": party.city, "country_code": party.country, "legal_identifier": party.registration,
        "contacts": [contact] if any(contact.values()) else [],
    }  # fmt: skip
    if taxed:
        found |= {
            "vat_identifier": party.vat_number.replace(" ", ""),
            "tax_identifier": party.tax_number,
        }
    if party.email:
        found |= {"einvoicing_addr": party.email, "einvoicing_addr_schemeid": "EM"}
    return found


def _payment(payment: Payment, currency: str) -> Terms:
    transfer = "58" if currency == "EUR" else "30"  # 58: within the payments area of the euro
    return {
        "BT-81": {"transfer": transfer, "cash": "10", "card": "48"}[payment.means],
        "BT-83": payment.reference,
        "BT-84": payment.iban.replace(" ", ""),
        "BT-85": payment.account_name,
        "BT-86": payment.bic.replace(" ", ""),
    }


def _lines(issued: Issued, *, outside: bool) -> Iterator[Terms]:
    document = issued.document
    for line, sums in zip(document.lines, issued.totals.lines, strict=True):
        rate = document.rate(line.tax)
        off = _net_off(document, rate, sums)
        found = {
            "BT-129": f"{line.quantity.normalize():f}",
            "BT-130": line.unit,
            "BT-131": _writer(document.currency)(sums.net_minor),
            "BT-146": _net_price(document, line, sums.net_minor + off),
            **_tax(rate, "BT-151", "BT-152", outside=outside),
            "BT-153": line.text,
            "BT-127-00": [{"BT-127": line.note}] if line.note else [],
        }
        if off and line.discount:
            money = _writer(document.currency)
            found["BG-27"] = [
                {"amount": money(off), "reason": line.discount.reason, "reason_code": "95"}
            ]
        yield found


def _net_off(document: Document, rate: TaxRate, sums: LineSum) -> int:
    """What goes off a line, without tax."""
    if document.prices == "without tax":
        return sums.off_minor
    return half_up(sums.off_minor * 100 / (100 + Fraction(rate.percent)))


def _net_price(document: Document, line: Line, net_minor: int) -> str:
    """The price of one without tax: as typed, or so fine that the quantity brings back the line's sum."""
    if document.prices == "without tax":
        return f"{line.price:f}"
    each = Fraction(net_minor) / Fraction(line.quantity)
    fine = half_up(each * 10**6)  # a millionth of a minor unit, 10 000 times, is a hundredth of it
    return f"{Decimal(fine).scaleb(-6 - exponent(document.currency)):f}"


def _advances(issued: Issued, say: Callable[[str], str], *, outside: bool) -> Iterator[Terms]:
    """A line for each advance and rate, of a quantity below 0: its tax was paid then."""
    money = _writer(issued.document.currency)
    for advance in issued.document.advances:
        for tax in advance.taxes:
            if tax.net_minor:
                sign = 1 if tax.net_minor > 0 else -1
                yield {
                    "BT-129": str(-sign),
                    "BT-130": "C62",
                    "BT-131": money(-tax.net_minor),
                    "BT-146": money(abs(tax.net_minor)),
                    **_tax(tax, "BT-151", "BT-152", outside=outside),
                    "BT-153": f"{say('Advance invoice')} {advance.number}, {advance.day.isoformat()}",
                }


def _paid_net(document: Document) -> int:
    return sum(tax.net_minor for advance in document.advances for tax in advance.taxes)


def _shares(issued: Issued, kind: str, *, outside: bool) -> Iterator[Terms]:
    document = issued.document
    money = _writer(document.currency)
    for share in issued.totals.shares:
        each = document.adjustments[share.adjustment]
        if each.kind == kind:
            found = {
                "amount": money(abs(share.net_minor)),
                "reason": each.reason,
                **_tax(document.rate(share.tax), "vat_category_code", "vat_rate", outside=outside),
            }
            yield found | {"reason_code": "95"} if kind == "discount" else found


def _breakdown(issued: Issued, *, outside: bool) -> Iterator[Terms]:
    """One for each code and per cent: treatments of one code are one there (BR-E-01 and the like)."""
    groups: dict[tuple[str, Decimal], list[TaxSum]] = {}
    for tax in issued.totals.taxes:
        groups.setdefault((tax_code(tax.treatment, outside=outside), tax.percent), []).append(tax)
    money = _writer(issued.document.currency)
    for (code, percent), taxes in groups.items():
        found = {
            "BT-116": money(sum(tax.net_minor for tax in taxes)),
            "BT-117": money(sum(tax.tax_minor for tax in taxes)),
            "BT-118": code,
        }
        if not outside:
            found["BT-119"] = _percent(percent)
        if code not in {"S", "Z"}:
            found["BT-120"] = "; ".join(dict.fromkeys(tax.reason for tax in taxes if tax.reason))
            found["BT-121"] = _reason_code(taxes, outside=outside)
        yield found


def _reason_code(taxes: Sequence[TaxSum], *, outside: bool) -> str:
    if outside:
        return "VATEX-EU-O"
    codes = {REASON_CODES.get(tax.treatment, "") for tax in taxes}
    return codes.pop() if len(codes) == 1 else ""


def _clean(said: Any) -> Any:
    """Without what is empty."""
    if isinstance(said, dict):
        cleaned: Iterable[tuple[str, Any]] = ((key, _clean(value)) for key, value in said.items())
        return {key: value for key, value in cleaned if value not in ("", None, [], {})}
    if isinstance(said, list):
        return [_clean(each) for each in said]
    return said
