"""What may be charged: an accepted price is a ceiling."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from witnessmark.money.currency import MoneyError
from witnessmark.money.estimate import Estimate, Line, Tax, tax_on


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

    ``lines``: those of ``accepted`` that the owner said yes to (absent: all). Line by line and tax
    rate by tax rate the lower of both counts; so the whole never exceeds what was accepted, nor
    what was done, with tax or without. Accepted lines that were not done are not charged.
    Raises MoneyError for two currencies.
    """
    if accepted.currency != actual.currency:
        problem = f"accepted in {accepted.currency}, priced in {actual.currency}"
        raise MoneyError("estimate", problem, "price the work in the currency that was accepted")
    agreed = {line.id: line for line in accepted.lines if lines is None or line.id in lines}
    done = [(line, agreed[line.id]) for line in actual.lines if line.id in agreed]
    nets = [_lower(now, before) for now, before in done]
    taxes = _taxes(nets, accepted, actual)
    charged = tuple(
        _charged(now, before, sum(net.values()))
        for (now, before), net in zip(done, nets, strict=True)
    )
    net, tax = sum(line.net_minor for line in charged), sum(each.tax_minor for each in taxes)
    refused = tuple(line.id for line in actual.lines if line.id not in agreed)
    return Charge(accepted.currency, charged, taxes, net, tax, net + tax, refused)


def within_limit(limit_minor: int, taken_minor: Iterable[int], more_minor: int) -> bool:
    """Whether an addition may be done without asking: “up to X” is all such additions together, with tax."""
    return sum(taken_minor) + more_minor <= limit_minor


def _lower(now: Line, before: Line) -> dict[str | None, int]:
    actual, agreed = now.net_by_tax(), before.net_by_tax()
    return {name: min(net, agreed.get(name, 0)) for name, net in actual.items()}


def _charged(now: Line, before: Line, net_minor: int) -> ChargedLine:
    return ChargedLine(now.id, now.text, net_minor, before.net_minor, net_minor < now.net_minor)


def _taxes(
    nets: list[dict[str | None, int]], accepted: Estimate, actual: Estimate
) -> tuple[Tax, ...]:
    """Tax per rate on the charged sums, at the lower per cent where a rate was changed in between."""
    sums: dict[str, int] = {}
    for net in nets:
        for name, amount in net.items():
            if name is not None:
                sums[name] = sums.get(name, 0) + amount
    return tuple(
        tax_on(
            name,
            min(rates.tax[name] for rates in (accepted.rates, actual.rates) if name in rates.tax),
            net,
        )
        for name, net in sorted(sums.items())
    )
