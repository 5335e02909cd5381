"""What may be charged: an accepted price is a ceiling."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from witnessmark.money.currency import MoneyError
from witnessmark.money.estimate import (
    Estimate,
    EstimateLine,
    Tax,
    lower_percents,
    taxes_on,
    taxes_on_nets,
)


@dataclass(frozen=True, slots=True)
class ChargedLine:
    """One line as charged, without tax. ``held``: the accepted price held it down."""

    id: str
    text: str
    net_minor: int
    accepted_minor: int
    held: bool


@dataclass(frozen=True, slots=True)
class Charge:
    """What is charged. ``not_accepted``: lines done but never accepted; they are not charged."""

    currency: str
    lines: tuple[ChargedLine, ...]
    taxes: tuple[Tax, ...]
    net_minor: int
    tax_minor: int
    gross_minor: int
    not_accepted: tuple[str, ...] = ()


def charge(accepted: Estimate, actual: Estimate, *, lines: Collection[str] | None = None) -> Charge:
    """What may be charged for the work done, under prices accepted before.

    ``lines``: those of ``accepted`` that the owner said yes to (absent: all). Line by line the lower
    of both counts, with the lower tax; so the whole never exceeds what was accepted, nor
    what was done, with tax or without. Accepted lines that were not done are not charged.
    Raises MoneyError for two currencies.
    """
    if accepted.currency != actual.currency:
        problem = f"accepted in {accepted.currency}, priced in {actual.currency}"
        raise MoneyError("estimate", problem, "price the work in the currency that was accepted")
    agreed = {line.id: line for line in accepted.lines if lines is None or line.id in lines}
    done = [(line, agreed[line.id]) for line in actual.lines if line.id in agreed]
    percents = lower_percents((accepted, actual))
    nets = [_lower(now, before, percents) for now, before in done]
    most = min(
        sum(tax.tax_minor for tax in taxes_on(side, percents))
        for side in ([now for now, _ in done], [before for _, before in done])
    )
    taxes = _at_most(taxes_on_nets(nets, percents), most)
    charged = tuple(
        _charged(now, before, sum(net.values()))
        for (now, before), net in zip(done, nets, strict=True)
    )
    net, tax = sum(line.net_minor for line in charged), sum(each.tax_minor for each in taxes)
    refused = tuple(line.id for line in actual.lines if line.id not in agreed)
    return Charge(accepted.currency, charged, taxes, net, tax, net + tax, refused)


def _lower(
    now: EstimateLine, before: EstimateLine, percents: Mapping[str, Decimal]
) -> dict[str | None, int]:
    """The lower net of a line by tax rate, as on the side that bears less tax: a rate may have got another name."""

    def tax(name: str | None) -> Decimal:
        return percents[name] if name is not None else Decimal(0)

    def share(line: EstimateLine) -> Fraction:
        whole = sum(net * Fraction(tax(name)) for name, net in line.net_by_tax().items())
        return Fraction(whole, line.net_minor or 1)

    left, nets = min(now.net_minor, before.net_minor), {}
    side = min(now, before, key=share).net_by_tax()
    for name in sorted(side, key=lambda name: (tax(name), name or "")):
        if net := min(side[name], left):
            nets[name] = net
            left -= net
    return nets


def _charged(now: EstimateLine, before: EstimateLine, net_minor: int) -> ChargedLine:
    return ChargedLine(now.id, now.text, net_minor, before.net_minor, net_minor < now.net_minor)


def _at_most(taxes: tuple[Tax, ...], most_minor: int) -> tuple[Tax, ...]:
    """Taxes without what rounding under several names added to the tax of either side."""
    over = sum(tax.tax_minor for tax in taxes) - most_minor
    lowered = []
    for tax in taxes:
        less = min(max(over, 0), tax.tax_minor)
        over -= less
        lowered.append(tax.model_copy(update={"tax_minor": tax.tax_minor - less}))
    return tuple(lowered)
