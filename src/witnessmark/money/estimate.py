"""An estimate: an immutable revision, line by line, with the plan and the book it rests on."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Annotated, Literal

from pydantic import Field, model_validator
from pydantic_core import from_json, to_json

from witnessmark.frozen import FrozenModel, KeptModel
from witnessmark.kept_versions import Upcast, as_newest
from witnessmark.money.currency import Currency
from witnessmark.money.rates import LineKind, Minor, Rates
from witnessmark.money.rounding import half_up, share_by_weight

UPCASTS: tuple[Upcast, ...] = ()
Sha256 = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Text = Annotated[str, Field(min_length=1, max_length=2000)]


class Item(FrozenModel):
    """One thing a line is made of. ``net_minor`` None: its price is not known. ``tax``: name of its rate."""

    kind: LineKind
    name: str = ""  # id of the part or fluid
    text: Text
    quantity: Decimal
    unit: str = ""
    net_minor: int | None
    tax: str | None = None


class LineCase(FrozenModel):
    """What a line is made of where its readings decided just so.

    ``steps``: the operations done then of those that they decide; ``terms``: the unknowns that were answered yes for
    them, with "!" before those answered no.
    """

    steps: tuple[str, ...]
    terms: tuple[str, ...]
    labour_tenths: int
    items: tuple[Item, ...]

    @property
    def net_minor(self) -> int:
        """The sum of its items, each rounded."""
        return sum(item.net_minor or 0 for item in self.items)


def _none(said: object) -> bool:
    return not said


class EstimateLine(FrozenModel):
    """What one job, or one addition to it, costs without tax; where readings decide, in the dearest case."""

    id: str  # the job, or what the addition was given
    text: Text
    why: str = ""
    extra: bool = False  # an addition from a finding, outside the plan
    labour_tenths: int = 0  # attended minutes, in tenths
    items: tuple[Item, ...] = ()
    # kept only where readings decide: an estimate of before has the canonical form it had
    cases: Annotated[tuple[LineCase, ...], Field(exclude_if=_none)] = ()
    brought_by: Annotated[str, Field(exclude_if=_none)] = ""  # unknown: done only where that is yes

    @model_validator(mode="after")
    def _stands_at_its_most(self) -> EstimateLine:
        most = max((case.net_minor for case in self.cases), default=self.net_minor)
        if self.net_minor != most:
            raise ValueError(f"line {self.id} does not stand at its dearest case")
        return self

    @property
    def net_minor(self) -> int:
        """The sum of its items, each rounded."""
        return sum(item.net_minor or 0 for item in self.items)

    @property
    def cheapest(self) -> EstimateLine:
        """The line in its cheapest case; as it is where no reading decides."""
        return self._in(min(self.cases, key=lambda case: case.net_minor)) if self.cases else self

    @property
    def dearest(self) -> LineCase | None:
        """The case it stands at; None where no reading decides."""
        return max(self.cases, key=lambda case: case.net_minor, default=None)

    def as_done(self, done: Collection[str]) -> EstimateLine:
        """The line by what was done of it: the case of just these steps; else the cheapest with them; else its most."""
        mine = {step for case in self.cases for step in case.steps if step in done}
        having = [case for case in self.cases if mine <= {*case.steps}]
        if not having:
            return self.model_copy(update={"cases": ()})
        return self._in(min(having, key=lambda case: (mine != {*case.steps}, case.net_minor)))

    def _in(self, case: LineCase) -> EstimateLine:
        told = {"labour_tenths": case.labour_tenths, "items": case.items, "cases": ()}
        return self.model_copy(update=told)

    @property
    def unpriced(self) -> tuple[str, ...]:
        """What has no price yet, in words; what only some case needs, too."""
        return tuple(item.text for item in self.bare)

    @property
    def bare(self) -> tuple[Item, ...]:
        """The items without a price, each once."""
        every = (*self.items, *(item for case in self.cases for item in case.items))
        return tuple({(i.kind, i.name, i.text): i for i in every if i.net_minor is None}.values())

    def net_by_tax(self) -> dict[str | None, int]:
        """The sum of its items per tax rate."""
        sums: dict[str | None, int] = {}
        for item in self.items:
            sums[item.tax] = sums.get(item.tax, 0) + (item.net_minor or 0)
        return sums


class Tax(FrozenModel):
    """One tax rate: the sum of all rounded items under it, and the tax on that sum, rounded once."""

    name: str
    percent: Decimal
    net_minor: int
    tax_minor: int


class ExtraPart(FrozenModel):
    """A part of an addition: what, how many, the price of each without tax."""

    text: Text
    quantity: Annotated[Decimal, Field(gt=0, le=10_000)] = Decimal(1)
    each_minor: Minor


class ExtraLine(FrozenModel):
    """An addition from a finding, written free: words, minutes of work in tenths, parts.

    ``fixed_minor``: a price for the work without tax, in place of its minutes at the labour rate.
    """

    id: Annotated[str, Field(min_length=1, max_length=200)]
    text: Text
    why: str = ""
    labour_tenths: Annotated[int, Field(ge=0, le=1_000_000)] = 0
    fixed_minor: Minor | None = None
    parts: tuple[ExtraPart, ...] = ()


class Estimate(KeptModel):
    """A price as it is shown to the owner. Immutable: another price is another estimate."""

    format: Literal[1] = 1
    currency: Currency
    book: Sha256 | Literal[""]  # revision of the service book; empty without one
    plan: Sha256
    jobs: tuple[str, ...]
    lines: tuple[EstimateLine, ...]
    taxes: tuple[Tax, ...]
    net_minor: int
    tax_minor: int
    gross_minor: int
    attended_tenths: int  # of the plan: what the jobs' lines sum to
    rates: Rates

    @model_validator(mode="after")
    def _sums_agree(self) -> Estimate:
        taxes = taxes_on(self.lines, self.rates.tax)
        tax = sum(each.tax_minor for each in taxes)
        net = sum(line.net_minor for line in self.lines)
        minutes = sum(line.labour_tenths for line in self.lines if not line.extra)
        told = (self.taxes, self.net_minor, self.tax_minor, self.gross_minor, self.attended_tenths)
        if told != (taxes, net, tax, net + tax, minutes):
            raise ValueError("the sums of the estimate do not agree with its lines")
        return self

    @property
    def unpriced(self) -> tuple[str, ...]:
        """What has no price yet, in words, line by line."""
        return tuple(f"{line.text}: {text}" for line in self.lines for text in line.unpriced)

    def gross_by_line(self) -> dict[str, int]:
        """Each line with its tax. The tax of a rate is rounded once, on the sum, and shared: they sum to the whole."""
        gross = {line.id: line.net_minor for line in self.lines}
        for tax in self.taxes:
            nets = [Fraction(line.net_by_tax().get(tax.name, 0)) for line in self.lines]
            for line, share in zip(self.lines, share_by_weight(tax.tax_minor, nets), strict=True):
                gross[line.id] += share
        return gross

    @property
    def undecided(self) -> bool:
        """Whether readings decide about any of its lines: then its sums are the most that it may come to."""
        return any(line.cases for line in self.lines)

    @cached_property
    def least(self) -> Estimate:
        """What it comes to where every line is in its cheapest case; itself where no reading decides."""
        return self.with_lines([line.cheapest for line in self.lines]) if self.undecided else self

    def as_done(self, done: Collection[str]) -> Estimate:
        """What it comes to by the steps that were done of it."""
        return self.with_lines([line.as_done(done) for line in self.lines])

    def with_lines(self, lines: Sequence[EstimateLine]) -> Estimate:
        """The same with other lines, and their sums."""
        return summed(rates=self.rates, book=self.book, plan=self.plan, jobs=self.jobs, lines=lines)

    def line(self, name: str) -> EstimateLine:
        """The line of that job or addition; KeyError where there is none."""
        for line in self.lines:
            if line.id == name:
                return line
        raise KeyError(name)


def from_canonical(form: bytes) -> Estimate:
    """The estimate kept in these bytes, of any format so far.

    Raises pydantic's ValidationError where its sums disagree, KeptError for a newer format.
    """
    said = as_newest("the kept estimate", from_json(form), UPCASTS)
    return Estimate.model_validate_json(to_json(said))


def taxes_on(lines: Iterable[EstimateLine], percents: Mapping[str, Decimal]) -> tuple[Tax, ...]:
    """Tax per rate on the sum of rounded items, rounded half-up once (EN 16931, BR-CO-17)."""
    return taxes_on_nets((line.net_by_tax() for line in lines), percents)


def taxes_on_nets(
    lines: Iterable[Mapping[str | None, int]], percents: Mapping[str, Decimal]
) -> tuple[Tax, ...]:
    """As `taxes_on`, of lines given as their nets by the name of the rate."""
    sums: dict[str, int] = {}
    for nets in lines:
        for name, net in nets.items():
            if name is not None:
                sums[name] = sums.get(name, 0) + net
    return tuple(tax_on(name, percents[name], net) for name, net in sorted(sums.items()))


def tax_on(name: str, percent: Decimal, net_minor: int) -> Tax:
    """The tax of one rate on one sum."""
    tax = half_up(net_minor * Fraction(percent) / 100)
    return Tax(name=name, percent=percent, net_minor=net_minor, tax_minor=tax)


def lower_percents(estimates: Iterable[Estimate]) -> dict[str, Decimal]:
    """Per cent by the name of a tax rate; the lower where estimates tell it differently."""
    percents: dict[str, Decimal] = {}
    for estimate in estimates:
        for name, percent in estimate.rates.tax.items():
            percents[name] = min(percent, percents.get(name, percent))
    return percents


def together(lines: Mapping[str, Estimate]) -> Estimate | None:
    """Lines that stand on several estimates as one, by the one rule of tax; None without any.

    ``lines``: each by its id, with the estimate it stands on. Where a rate was changed in between its lower
    per cent counts.
    """
    if not lines:
        return None
    every = list(lines.values())
    percents = lower_percents(every)
    newest = every[-1]
    return summed(
        rates=newest.rates.model_copy(update={"tax": percents}),
        book=newest.book,
        plan=newest.plan,
        jobs=newest.jobs,
        lines=[estimate.line(name) for name, estimate in lines.items()],
    )


def summed(
    *, rates: Rates, book: str, plan: str, jobs: Sequence[str], lines: Sequence[EstimateLine]
) -> Estimate:
    """The estimate of these lines, with its taxes and sums."""
    taxes = taxes_on(lines, rates.tax)
    net, tax = sum(line.net_minor for line in lines), sum(each.tax_minor for each in taxes)
    return Estimate(
        currency=rates.currency,
        book=book,
        plan=plan,
        jobs=tuple(jobs),
        lines=tuple(lines),
        taxes=taxes,
        net_minor=net,
        tax_minor=tax,
        gross_minor=net + tax,
        attended_tenths=sum(line.labour_tenths for line in lines if not line.extra),
        rates=rates,
    )
