"""A document of money: advance invoice, invoice, credit note, corrected invoice, receipt.

What stands in it is put in here; its sums are computed (`totals`). The words are those of EN 16931 where it has one.
Words that a country's law wants on a document (why no tax is charged, say) are the shop's own: none are shipped.
"""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from witnessmark.errors import WitnessError
from witnessmark.frozen import FrozenModel
from witnessmark.money.currency import Currency
from witnessmark.money.rates import Minor, Price

Kind = Literal["advance invoice", "invoice", "credit note", "corrected invoice", "receipt"]
# Why tax is charged, or none. "outside tax": not a price at all, such as the deposit on an exchange part.
Treatment = Literal[
    "standard", "zero", "exempt", "small business", "reverse charge", "margin scheme", "outside tax"
]
# UN/ECE Recommendation 20: one, hour, minute, day, litre, millilitre, kilogram, gram, metre, centimetre, millimetre,
# kilometre, kilowatt hour, set, pair.
Unit = Literal[
    "C62", "HUR", "MIN", "DAY", "LTR", "MLT", "KGM", "GRM", "MTR", "CMT", "MMT", "KMT", "KWH", "SET", "PR"
]  # fmt: skip
# What XML 1.0 has no sign for: paper and data say the same.
_NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def _plain(text: str) -> str:
    return _NO_XML.sub("", text).strip()


Plain = Annotated[str, AfterValidator(_plain)]
Word = Annotated[Plain, Field(max_length=200)]
Text = Annotated[Plain, Field(min_length=1, max_length=2000)]
Note = Annotated[Plain, Field(max_length=2000)]
Percent = Annotated[Decimal, Field(ge=0, le=100, max_digits=7, decimal_places=4)]


class InvoiceError(WitnessError):
    """Something in a document that cannot be used, or is not there and must be."""


class Party(FrozenModel):
    """Who sells, or who buys. ``country``: two letters of ISO 3166. What is not known is empty."""

    name: Word = ""
    street: Word = ""
    more: Word = ""  # a second line of the address
    postcode: Word = ""
    city: Word = ""
    country: Annotated[str, Field(pattern=r"^([A-Z]{2})?$")] = ""
    vat_number: Word = ""  # begins with the letters of its country
    tax_number: Word = ""  # as the local tax office gave it
    registration: Word = ""  # in a public register
    contact: Word = ""
    phone: Word = ""
    email: Word = ""


class TaxRate(FrozenModel):
    """A rate that lines name. Only "standard" has a ``percent``. ``reason``: why no tax, in the shop's own words."""

    name: Word
    treatment: Treatment = "standard"
    percent: Percent = Decimal(0)
    reason: Note = ""

    @model_validator(mode="after")
    def _percent_fits(self) -> TaxRate:
        if (self.treatment == "standard") != (self.percent > 0):
            right = "above 0" if self.treatment == "standard" else "0"
            raise ValueError(f"tax “{self.name}” is {self.treatment}: its per cent must be {right}")
        return self


class Off(FrozenModel):
    """Per cent or an amount in minor units, exactly one of them, and why."""

    percent: Annotated[Percent, Field(gt=0)] | None = None
    amount_minor: Annotated[Minor, Field(gt=0)] | None = None
    reason: Text

    @model_validator(mode="after")
    def _one_of_both(self) -> Off:
        if (self.percent is None) == (self.amount_minor is None):
            raise ValueError("give per cent or an amount, one of them")
        return self


class Line(FrozenModel):
    """One thing sold. ``quantity`` below 0: taken back. ``price``: of one ``unit``, in the currency, before discount.

    ``tax``: the name of a rate of the document.
    """

    text: Text
    note: Note = ""
    quantity: Annotated[Decimal, Field(ge=-10_000, le=10_000, decimal_places=4)] = Decimal(1)
    unit: Unit = "C62"
    price: Price
    discount: Off | None = None
    tax: Word

    @model_validator(mode="after")
    def _something_is_sold(self) -> Line:
        if not self.quantity:
            raise ValueError("a quantity of 0 is no line; leave it out")
        return self


class Adjustment(Off):
    """A discount or charge on the whole: on the lines of one rate, else shared among the rates of all prices.

    What is outside tax is no price, and has no share.
    """

    kind: Literal["discount", "charge"] = "discount"
    tax: Word | None = None


class TaxSum(FrozenModel):
    """What is charged under one treatment and per cent: sum without tax, and the tax on it. ``reason``: why none."""

    treatment: Treatment
    percent: Percent
    net_minor: int
    tax_minor: int
    reason: str = ""


class Reference(FrozenModel):
    """An earlier document, by number and day."""

    number: Annotated[Plain, Field(min_length=1, max_length=60)]
    day: date


class Advance(Reference):
    """An advance invoice to be deducted: its taxes, as they were due when it was paid."""

    taxes: Annotated[tuple[TaxSum, ...], Field(min_length=1)]


class Payment(FrozenModel):
    """How it is to be paid, or was. ``reference``: what the payer is asked to write."""

    means: Literal["transfer", "cash", "card"] = "transfer"
    iban: Annotated[Plain, Field(max_length=42)] = ""
    bic: Annotated[Plain, Field(max_length=11)] = ""
    account_name: Word = ""
    reference: Annotated[Plain, Field(max_length=140)] = ""


class Document(FrozenModel):
    """What stands in a document. A draft has no number yet.

    ``prices``: whether prices, discounts and charges are typed with tax. ``supplied_on``: when the work was done or
    the goods handed over; of an advance invoice: when it was paid. ``paid_minor``: what was paid of it before it was
    written, advance invoices aside. ``cash_step_minor``: what the smallest coin is worth where it is paid in cash, else
    0. ``series``: the run of numbers that its number is from.
    """

    kind: Kind
    series: Word = ""
    number: Annotated[Plain, Field(max_length=60)] = ""
    issued_on: date
    supplied_on: date | None = None
    due_on: date | None = None
    currency: Currency
    seller: Party
    buyer: Party | None = None
    buyer_reference: Word = ""
    order_number: Word = ""
    prices: Literal["without tax", "with tax"] = "without tax"
    rates: tuple[TaxRate, ...] = ()
    lines: tuple[Line, ...] = ()
    adjustments: tuple[Adjustment, ...] = ()
    advances: tuple[Advance, ...] = ()
    references: tuple[Reference, ...] = ()
    payment: Payment | None = None
    terms: Note = ""
    texts: tuple[Text, ...] = ()
    paid_minor: Minor = 0
    cash_step_minor: Annotated[int, Field(ge=0, le=500)] = 0

    @model_validator(mode="after")
    def _names_are_known(self) -> Document:
        names = [rate.name for rate in self.rates]
        if len(set(names)) != len(names):
            raise ValueError("two tax rates have one name")
        for tax in (*(each.tax for each in self.lines), *(each.tax for each in self.adjustments)):
            if tax is not None and tax not in names:
                raise ValueError(
                    f"no tax rate is named “{tax}”; rates are: {', '.join(names) or 'none'}"
                )
        numbers = [advance.number for advance in self.advances]
        if len(set(numbers)) != len(numbers):
            raise ValueError("one advance invoice is deducted twice")
        return self

    def rate(self, name: str) -> TaxRate:
        """The rate of that name; KeyError where there is none."""
        return {rate.name: rate for rate in self.rates}[name]
