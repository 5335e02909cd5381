"""A supplier's e-invoice as plain lines: UBL or CII, alone or within a PDF."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from datetime import date
from decimal import Decimal, InvalidOperation
from io import BytesIO
from itertools import islice
from typing import Any, Literal

from facturx import parse_ubl_cii_xml
from lxml import etree
from pypdf import PdfReader, apply_configuration
from pypdf.errors import PyPdfError

from witnessmark.frozen import FrozenModel
from witnessmark.invoice.document import InvoiceError, Party, Reference
from witnessmark.invoice.safe_xml import MOST_BYTES, parse

PLACE = "file"
MOST_PDF_BYTES = 30_000_000  # judged by us: a paper with pictures is a few million
MOST_FILES = 20  # judged by us: within a PDF
MOST_LINES = 2000  # judged by us
Syntax = Literal["UBL", "CII"]
_SYNTAXES: dict[str, Syntax] = {
    "Invoice": "UBL",
    "CreditNote": "UBL",
    "CrossIndustryInvoice": "CII",
}
_FLAVOURS = {
    "Invoice": "ubl-2.1-invoice", "CreditNote": "ubl-2.1-creditnote", "CrossIndustryInvoice": "factur-x",
}  # fmt: skip
_CREDITS = {
    "81",
    "83",
    "261",
    "262",
    "296",
    "308",
    "381",
    "396",
    "420",
    "458",
    "532",
}  # UNTDID 1001, in EN 16931


class ReceivedLine(FrozenModel):
    """One line. ``price`` of ``per`` units, and ``net`` of the whole line, both without tax, in the invoice's currency.

    ``article``: the supplier's number. ``percent`` None: none is told. ``unit``: a code of UN/ECE Recommendation 20.
    """

    text: str
    note: str = ""
    article: str = ""
    quantity: Decimal
    unit: str
    price: Decimal
    per: Decimal = Decimal(1)
    net: Decimal
    tax_code: str = ""
    percent: Decimal | None = None


class ReceivedTax(FrozenModel):
    """The tax of one code and per cent."""

    tax_code: str
    percent: Decimal | None = None
    net: Decimal
    tax: Decimal
    reason: str = ""


class Received(FrozenModel):
    """A supplier's invoice, as it says itself; ``credit``: it is a credit note. Amounts are of ``currency``.

    ``doubts``: where its sums do not agree, in words. It is never refused for that: what it says is what was sent.
    """

    syntax: Syntax
    credit: bool
    number: str
    issued_on: date
    due_on: date | None = None
    supplied_on: date | None = None
    currency: str
    seller: Party
    buyer: Party
    order_number: str = ""
    lines: tuple[ReceivedLine, ...]
    adjustments: tuple[
        tuple[str, Decimal], ...
    ] = ()  # on the whole: why, and how much; a discount is below 0
    taxes: tuple[ReceivedTax, ...]
    net: Decimal
    tax: Decimal
    gross: Decimal
    paid: Decimal
    rounding: Decimal
    due: Decimal
    iban: str = ""
    payment_reference: str = ""
    terms: str = ""
    texts: tuple[str, ...] = ()
    references: tuple[Reference, ...] = ()
    doubts: tuple[str, ...] = ()


def received(data: bytes) -> Received:
    """The invoice in a file: XML of either syntax, or a PDF that carries one.

    Raises InvoiceError at ``file`` for what is no e-invoice, is hostile, too large, or lacks what each invoice has.
    """
    if data.lstrip()[:5] == b"%PDF-":
        return _read(_within(data))
    return _read(parse(data, place=PLACE))


def _within(pdf: bytes) -> etree._Element:
    """The root of the invoice that a PDF carries."""
    if len(pdf) > MOST_PDF_BYTES:
        raise InvoiceError(PLACE, "it is too large for an invoice", _ask())
    for data in _files(pdf):
        with suppress(InvoiceError):  # some other file of the PDF
            root = parse(data, place=PLACE)
            if _name(root) in _SYNTAXES:
                return root
    raise InvoiceError(PLACE, "no e-invoice is in this PDF", "type it in from the paper")


def _files(pdf: bytes) -> list[bytes]:
    """The files named .xml in a PDF; the library refuses what unfolds to more than an invoice."""
    try:
        with apply_configuration(
            zlib_maximum_output_length=MOST_BYTES,
            lzw_maximum_output_length=MOST_BYTES,
            run_length_maximum_output_length=MOST_BYTES,
            array_based_stream_maximum_output_length=MOST_BYTES,
        ):
            reader = PdfReader(BytesIO(pdf))
            if not reader.is_encrypted:
                files = islice(reader.attachment_list, MOST_FILES)
                return [file.content for file in files if file.name.lower().endswith(".xml")]
    # whatever is wrong with a PDF, the library says it by errors of many kinds
    except (
        PyPdfError,
        ValueError,
        LookupError,
        TypeError,
        AttributeError,
        RecursionError,
    ) as problem:
        raise InvoiceError(PLACE, "this PDF cannot be read", _ask()) from problem
    raise InvoiceError(PLACE, "this PDF is locked", "ask the supplier for one that is not")


def _ask() -> str:
    return "ask the supplier for an invoice by EN 16931, or type it in"


def _name(root: etree._Element) -> str:
    return str(etree.QName(root).localname)


def _read(root: etree._Element) -> Received:
    name = _name(root)
    if name not in _SYNTAXES:
        raise InvoiceError(PLACE, f"it is no invoice but: {name[:40]}", _ask())
    for indicator in root.iter("{*}ChargeIndicator", "{*}Indicator"):
        # XML writes a truth in two ways, and the library reads one of them
        indicator.text = {"0": "false", "1": "true"}.get(indicator.text, indicator.text)
    try:
        said = parse_ubl_cii_xml(root, flavor=_FLAVOURS[name], level="en16931", check_xsd=False)
    except KeyError as problem:  # nothing else is looked up by what an invoice says
        raise InvoiceError(PLACE, "it names no currency", _ask()) from problem
    except (ValueError, TypeError, AttributeError, etree.LxmlError) as problem:
        raise InvoiceError(PLACE, "it cannot be read as an invoice", _ask()) from problem
    if len(said.get("BG-25") or ()) > MOST_LINES:
        raise InvoiceError(PLACE, "it has more lines than an invoice", _ask())
    return _plain(_Said(said), _SYNTAXES[name])


class _Said:
    """The terms of EN 16931 that an invoice tells, read one by one."""

    def __init__(self, terms: Mapping[str, Any], of: str = "") -> None:
        self.terms, self.of = terms, of

    def text(self, term: str) -> str:
        value = self.terms.get(term)
        value = value[0] if isinstance(value, list) and value else value
        return value.strip() if isinstance(value, str) else ""

    def day(self, term: str) -> date | None:
        value = self.terms.get(term)
        return value if isinstance(value, date) else None

    def number(self, term: str) -> Decimal | None:
        text = self.text(term)
        if not text:
            return None
        try:
            value = Decimal(text)
        except InvalidOperation:
            value = Decimal("NaN")
        if not value.is_finite() or abs(value) > 10**12:
            problem = f"{self.of}{term} is no amount that can be meant: {text[:40]}"
            raise InvoiceError(PLACE, problem, _ask())
        return value

    def amount(self, term: str) -> Decimal:
        value = self.number(term)
        if value is None:
            raise InvoiceError(PLACE, f"{self.of}{term} of EN 16931 is not there", _ask())
        return value

    def each(self, group: str, of: str = "") -> list[_Said]:
        found = self.terms.get(group)
        entries = found if isinstance(found, list) else []
        return [
            _Said(entry, f"{of} {number}: " if of else self.of)
            for number, entry in enumerate(entries, 1)
            if isinstance(entry, Mapping)
        ]


def _plain(said: _Said, syntax: Syntax) -> Received:
    issued_on, number = said.day("BT-2"), said.text("BT-1")
    if issued_on is None or not number:
        raise InvoiceError(PLACE, "it has no number or no date", _ask())
    found = Received(
        syntax=syntax,
        credit=said.text("BT-3") in _CREDITS,
        number=number,
        issued_on=issued_on,
        due_on=said.day("BT-9"),
        supplied_on=said.day("BT-72"),
        currency=said.text("BT-5"),
        seller=_party(said.terms.get("BG-4")),
        buyer=_party(said.terms.get("BG-7")),
        order_number=said.text("BT-13"),
        lines=tuple(_line(each) for each in said.each("BG-25", "line")),
        adjustments=tuple(_adjustments(said)),
        taxes=tuple(_tax(each) for each in said.each("BG-23", "tax")),
        net=said.amount("BT-109"),
        tax=said.number("BT-110") or Decimal(0),
        gross=said.amount("BT-112"),
        paid=said.number("BT-113") or Decimal(0),
        rounding=said.number("BT-114") or Decimal(0),
        due=said.amount("BT-115"),
        iban=said.text("BT-84"),
        payment_reference=said.text("BT-83"),
        terms=said.text("BT-20"),
        texts=tuple(text for each in said.each("BG-1") if (text := each.text("BT-22"))),
        references=tuple(_references(said)),
    )
    return found.model_copy(update={"doubts": tuple(_doubts(found))})


def _line(said: _Said) -> ReceivedLine:
    notes = [each.text("BT-127") for each in said.each("BT-127-00")]
    return ReceivedLine(
        text=said.text("BT-153"),
        note="\n".join(text for text in (said.text("BT-154"), *notes) if text),
        article=said.text("BT-155"),
        quantity=said.amount("BT-129"),
        unit=said.text("BT-130"),
        price=said.amount("BT-146"),
        per=said.number("BT-149") or Decimal(1),
        net=said.amount("BT-131"),
        tax_code=said.text("BT-151"),
        percent=said.number("BT-152"),
    )


def _tax(said: _Said) -> ReceivedTax:
    return ReceivedTax(
        tax_code=said.text("BT-118"),
        percent=said.number("BT-119"),
        net=said.amount("BT-116"),
        tax=said.amount("BT-117"),
        reason=said.text("BT-120"),
    )


def _adjustments(said: _Said) -> Iterator[tuple[str, Decimal]]:
    for group, sign in (("BG-20", -1), ("BG-21", 1)):
        for each in said.each(group, "discount" if sign < 0 else "charge"):
            yield each.text("reason"), sign * each.amount("amount")


def _references(said: _Said) -> Iterator[Reference]:
    """Earlier documents that are named with their day; without one, a number is found again in the file alone."""
    for each in said.each("BG-3"):
        number, day = each.text("BT-25"), each.day("BT-26")
        if number and day:
            yield Reference(number=number[:60], day=day)


def _party(said: object) -> Party:
    party = _Said(said if isinstance(said, Mapping) else {})
    (contact, *_) = party.each("contacts") or [_Said({})]
    country = party.text("country_code")
    told = {
        "name": party.text("name") or party.text("biz_name"),
        "street": party.text("addr_l1"),
        "more": party.text("addr_l2"),
        "postcode": party.text("postcode"),
        "city": party.text("city"),
        "vat_number": party.text("vat_identifier"),
        "tax_number": party.text("tax_identifier"),
        "registration": party.text("legal_identifier"),
        "contact": contact.text("name"),
        "phone": contact.text("phone"),
        "email": contact.text("email"),
    }
    known = re.fullmatch("[A-Z]{2}", country)
    return Party(
        country=country if known else "", **{key: value[:200] for key, value in told.items()}
    )


def _doubts(found: Received) -> Iterator[str]:
    """Where the sums do not agree: EN 16931, BR-CO-10, 13 to 16. A line's own sum may be rounded."""
    lines = sum(line.net for line in found.lines) + sum(each for _, each in found.adjustments)
    taxed = sum(each.tax for each in found.taxes)
    yield from _unequal("lines, discounts and charges", lines, "the sum without tax", found.net)
    yield from _unequal("the taxes", taxed, "the tax", found.tax)
    yield from _unequal("sum and tax", found.net + found.tax, "the sum with tax", found.gross)
    left = found.gross - found.paid + found.rounding
    yield from _unequal("what is left of it", left, "what is due", found.due)


def _unequal(what: str, one: Decimal | int, other: str, two: Decimal) -> Iterable[str]:
    return [] if one == two else [f"{what}: {one}; {other}: {two}"]
