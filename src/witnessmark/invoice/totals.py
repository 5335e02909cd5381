"""The sums of a document: by EN 16931, in integers of minor units, halves away from zero.

Line by line, quantity × price is rounded, then its discount (BT-131, BR-CO-10). Tax is rounded once for each treatment
and per cent, on the sum of its lines, discounts and charges (BR-CO-17). Where prices are typed with tax, the sum with
tax is what was typed, and the tax is taken out of it: a sum that no net and tax by BR-CO-17 make would else change by a
minor unit. What advance invoices taxed when they were paid is deducted, net and tax; so all documents of one job sum to
the whole. Both can lead away from BR-CO-17 by a minor unit for each document, which the published rules allow.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from witnessmark.frozen import FrozenModel
from witnessmark.invoice.document import Document, InvoiceError, Off, TaxRate, TaxSum, Treatment
from witnessmark.money.cash import to_step
from witnessmark.money.currency import MOST_MINOR, amount_text, in_minor
from witnessmark.money.rounding import half_up, share_by_weight, summing_to

Key = tuple[Treatment, Decimal]  # 20 and 20.0 are one


class LineSum(FrozenModel):
    """A line: quantity × price and what goes off it, as typed; what is left, without tax."""

    priced_minor: int
    off_minor: int
    net_minor: int


class ShareSum(FrozenModel):
    """The share that one rate has of a discount or charge on the whole, without tax; a discount is below 0."""

    adjustment: int  # its place in the document
    tax: str
    net_minor: int


class Totals(FrozenModel):
    """All sums. ``whole``: before advances are deducted; ``taxes`` and all below: after.

    ``rounding_minor`` is what the smallest coin makes of the sum (BT-114); ``due_minor`` is left to pay (BT-115):
    ``gross_minor`` less what was paid, rounded. Below 0: to be paid back.
    """

    lines: tuple[LineSum, ...]
    shares: tuple[ShareSum, ...]
    whole: tuple[TaxSum, ...]
    taxes: tuple[TaxSum, ...]
    net_minor: int
    tax_minor: int
    gross_minor: int
    paid_minor: int
    rounding_minor: int
    due_minor: int


@dataclass(slots=True)
class _Part:
    """One line or share: what it adds as typed, under which rate; without tax once that is known."""

    rate: TaxRate
    amount: int
    net: int = 0


def totals(document: Document) -> Totals:
    """The sums of a document.

    Raises InvoiceError where a discount is more than what it is off, or a sum cannot be meant.
    """
    priced, lines = [], []
    for place, line in enumerate(document.lines):
        amount = half_up(Fraction(line.quantity) * in_minor(line.price, document.currency))
        off = _off(line.discount, amount, document, f"lines[{place}].discount")
        priced.append((amount, off))
        lines.append(_Part(document.rate(line.tax), amount - off))
    shares = list(_shares(document, lines))
    parts = [*lines, *(part for _, part in shares)]
    with_tax = document.prices == "with tax"
    whole = tuple(
        _taxed(key, [part for part in parts if _key(part.rate) == key], with_tax=with_tax)
        for key in dict.fromkeys(_key(part.rate) for part in parts)
    )
    taxes = _less(whole, (tax for advance in document.advances for tax in advance.taxes))
    net, tax = sum(each.net_minor for each in taxes), sum(each.tax_minor for each in taxes)
    if any(abs(sum_) > MOST_MINOR for sum_ in (net, tax, *(part.amount for part in parts))):
        raise InvoiceError(
            "lines", "a sum that large cannot be meant", "check quantities and prices"
        )
    left = net + tax - document.paid_minor
    due = to_step(left, document.cash_step_minor) if document.cash_step_minor else left
    return Totals(
        lines=tuple(
            LineSum(priced_minor=amount, off_minor=off, net_minor=part.net)
            for (amount, off), part in zip(priced, lines, strict=True)
        ),
        shares=tuple(
            ShareSum(adjustment=place, tax=part.rate.name, net_minor=part.net)
            for place, part in shares
        ),
        whole=whole,
        taxes=taxes,
        net_minor=net,
        tax_minor=tax,
        gross_minor=net + tax,
        paid_minor=document.paid_minor,
        rounding_minor=due - left,
        due_minor=due,
    )


def margin_tax(sold_minor: int, bought_minor: int, percent: Decimal) -> int:
    """The tax that the shop owes on a used part of the margin scheme: it is within the margin, and on no document.

    Directive 2006/112/EC, Articles 312 to 315. A loss is taxed with 0.
    """
    margin = max(sold_minor - bought_minor, 0)
    return half_up(margin * Fraction(percent) / (100 + Fraction(percent)))


def _key(rate: TaxRate) -> Key:
    return rate.treatment, rate.percent


def _off(off: Off | None, amount: int, document: Document, place: str) -> int:
    """What goes off an amount, with the amount's sign."""
    if off is None:
        return 0
    if off.percent is not None:
        return half_up(amount * Fraction(off.percent) / 100)
    minor = off.amount_minor or 0
    if minor > abs(amount):
        most = amount_text(abs(amount), document.currency)
        problem = f"{amount_text(minor, document.currency)} is more than what it goes off"
        raise InvoiceError(place, problem, f"give at most {most}")
    return minor if amount >= 0 else -minor


def _shares(document: Document, lines: Sequence[_Part]) -> Iterable[tuple[int, _Part]]:
    """Discounts and charges on the whole, shared among the rates in proportion, by largest remainder."""
    sums: dict[str, int] = {}
    for part in lines:
        if part.rate.treatment != "outside tax":
            sums[part.rate.name] = sums.get(part.rate.name, 0) + part.amount
    for place, each in enumerate(document.adjustments):
        over = {name: sums.get(name, 0) for name in ([each.tax] if each.tax else sums)}
        base = sum(over.values())
        if each.kind == "discount" or each.percent is not None:
            amount = _off(each, max(base, 0), document, f"adjustments[{place}]")
        else:
            amount = each.amount_minor or 0
        if not over:
            problem = "there is no price to put it on"
            raise InvoiceError(f"adjustments[{place}]", problem, "name the tax rate it falls under")
        weights = [Fraction(max(sum_, 0)) for sum_ in over.values()]
        for name, share in zip(over, share_by_weight(amount, weights), strict=True):
            if share:
                signed = -share if each.kind == "discount" else share
                yield place, _Part(document.rate(name), signed)


def _taxed(key: Key, parts: Sequence[_Part], *, with_tax: bool) -> TaxSum:
    """The sum of one treatment and per cent, its tax; notes each part's net."""
    treatment, percent = key
    reason = "; ".join(dict.fromkeys(part.rate.reason for part in parts if part.rate.reason))
    amount = sum(part.amount for part in parts)
    if with_tax:
        exact = [part.amount * 100 / (100 + Fraction(percent)) for part in parts]
        net = half_up(sum(exact, Fraction(0)))
        tax = amount - net
        for part, share in zip(parts, summing_to(net, exact), strict=True):
            part.net = share
    else:
        net, tax = amount, half_up(amount * Fraction(percent) / 100)
        for part in parts:
            part.net = part.amount
    return TaxSum(treatment=treatment, percent=percent, net_minor=net, tax_minor=tax, reason=reason)


def _less(whole: Sequence[TaxSum], advances: Iterable[TaxSum]) -> tuple[TaxSum, ...]:
    """What is left of each treatment and per cent. An advance under a rate that is no longer there stands below 0."""
    left = {(each.treatment, each.percent): each for each in whole}
    for paid in advances:
        key = (paid.treatment, paid.percent)
        now = left.get(key) or paid.model_copy(update={"net_minor": 0, "tax_minor": 0})
        net, tax = now.net_minor - paid.net_minor, now.tax_minor - paid.tax_minor
        left[key] = now.model_copy(update={"net_minor": net, "tax_minor": tax})
    return tuple(left.values())
