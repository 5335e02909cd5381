"""What was agreed, what was done, what is charged: line by line, under the prices accepted before.

An accepted price is a ceiling. What a line came to beyond it is shown, and charged only where the owner agreed to it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Protocol

from witnessmark.book import steps
from witnessmark.book.model import Book
from witnessmark.book.select import job_of
from witnessmark.money.estimate import (
    Estimate,
    EstimateLine,
    lower_percents,
    taxes_on_nets,
    together,
)
from witnessmark.money.rounding import share_by_weight
from witnessmark.planner import Answer, tenths

Nets = dict[str | None, int]  # minor units without tax, by the name of the rate; None: no tax


class Said(Protocol):
    """What was decided of a line. ``net_minor`` None: as agreed; ``consent``: how the owner agreed to more."""

    @property
    def how(self) -> str: ...  # done, partly done, not done, replaced
    @property
    def net_minor(self) -> int | None: ...
    @property
    def free(self) -> str: ...
    @property
    def consent(self) -> str: ...


@dataclass(frozen=True, slots=True)
class BillLine:
    """One agreed line: amounts in minor units without tax. ``beyond_minor``: done, and not to be charged."""

    line: EstimateLine
    how: str
    free: str
    agreed_minor: int
    done_minor: int
    nets: Nets
    decided: bool

    @property
    def charged_minor(self) -> int:
        """What is charged for it."""
        return sum(self.nets.values())

    @property
    def beyond_minor(self) -> int:
        """What it came to beyond what is charged, where nothing of it is given away."""
        return 0 if self.free else self.done_minor - self.charged_minor

    @property
    def over(self) -> bool:
        """Whether nothing is left to decide of it: an invoice deals with it."""
        return self.decided or self.how == "done"


def bill(
    agreed: Mapping[str, Estimate],
    said: Mapping[str, Said],
    done: Collection[str],
    steps_done: Collection[str] = (),
) -> list[BillLine]:
    """Every agreed line, as it is charged.

    ``agreed``: each line by its id, with the estimate it was accepted on; ``done``: those that the work shows done,
    which hold where nothing was ``said`` of them. Where readings decided, a line came to its case of ``steps_done``.
    """
    lines = [
        _line(one.line(name), one.line(name).as_done(steps_done), said.get(name), name in done)
        for name, one in agreed.items()
    ]
    return _held(lines, agreed, said)


def nets_of(line: EstimateLine, minor: int) -> Nets:
    """An amount shared among the tax rates of a line as its own price is."""
    by_tax = line.net_by_tax() or {None: 0}
    shares = share_by_weight(minor, [Fraction(net) for net in by_tax.values()])
    return dict(zip(by_tax, shares, strict=True))


def _line(
    line: EstimateLine,
    as_done: EstimateLine,
    said: Said | None,
    shown_done: bool,  # noqa: FBT001
) -> BillLine:
    how = said.how if said else ("done" if shown_done else "not done")
    agreed = line.net_minor
    came_to = as_done.net_minor if said is None or said.net_minor is None else said.net_minor
    came_to = came_to if how in ("done", "partly done") else 0
    charged = came_to if said and said.consent else min(came_to, agreed)
    free = said.free if said else ""
    return BillLine(
        line, how, free, agreed, came_to, nets_of(as_done, 0 if free else charged), said is not None
    )


def _held(
    lines: list[BillLine], agreed: Mapping[str, Estimate], said: Mapping[str, Said]
) -> list[BillLine]:
    """With tax never above what was accepted: rates put together may round up what they rounded down apart."""
    more = {name for name, one in said.items() if one.consent}
    under = [one for one in lines if one.line.id not in more]
    accepted = together({one.line.id: agreed[one.line.id] for one in under})
    if accepted is None:
        return lines
    over = gross_of(under, agreed.values()) - accepted.gross_minor
    if over <= 0:
        return lines
    largest = max(under, key=lambda one: one.charged_minor)
    rate = max(largest.nets, key=lambda name: largest.nets[name])
    held = replace(largest, nets={**largest.nets, rate: largest.nets[rate] - over})
    return [held if one is largest else one for one in lines]


def gross_of(lines: Iterable[BillLine], estimates: Iterable[Estimate]) -> int:
    """Lines with tax, the tax rounded once for each per cent, however many names it has."""
    percents = lower_percents(estimates)
    merged = {f"{percent.normalize()}": percent for percent in percents.values()}
    every = list(lines)
    nets = list(_by_percent(every, {name: f"{p.normalize()}" for name, p in percents.items()}))
    taxes = taxes_on_nets(nets, merged)
    return sum(one.charged_minor for one in every) + sum(tax.tax_minor for tax in taxes)


def _by_percent(lines: Iterable[BillLine], rate_of: Mapping[str, str]) -> Iterator[Nets]:
    for one in lines:
        nets: Nets = {}
        for name, net in one.nets.items():
            key = rate_of[name] if name is not None else None
            nets[key] = nets.get(key, 0) + net
        yield nets


def shared_minutes(book: Book, answer: Answer) -> float:
    """Attended minutes of shared access: a plan has them once, each of its jobs alone would have had them."""
    known = steps(book)
    saved = 0
    for planned in answer.steps:
        jobs = {job_of(name) for name in planned.for_} - {""}
        if planned.name in known and not job_of(planned.name) and len(jobs) > 1:
            effort = known[planned.name].hands * (tenths(planned.end) - tenths(planned.start))
            saved += effort * (len(jobs) - 1)
    return saved / 10
