"""The price of a visit: the shop's rates, the plan of the jobs, the estimate on it, and what the owner has said."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext as _

from witnessmark import money
from witnessmark.book.model import Book
from witnessmark.book.own_job import prefixed
from witnessmark.book.select import operations, with_brought
from witnessmark.kit import Kit, Pack, kit
from witnessmark.ledger.bodies import LineWritten
from witnessmark.ledger.state import Answer as Answered
from witnessmark.money import (
    Charge,
    Consumables,
    Disposal,
    Estimate,
    EstimateLine,
    ExtraLine,
    ExtraPart,
    MoneyError,
    Rates,
)
from witnessmark.money.estimate import summed, together
from witnessmark.planner import Answer
from witnessmark.shop import content_store
from witnessmark.shop.models import EstimateKept, PartPrice, Shop, StockPack
from witnessmark.shop.work.beyond_book import parts_left
from witnessmark.shop.work.perhaps import LaidOut, brought, set_apart_here
from witnessmark.shop.work.planned import Planned
from witnessmark.shop.work.planning import keep, planned, to_do
from witnessmark.shop.work.visit import Work
from witnessmark.shop.work.wrenches import at_hand, shelf


@dataclass(frozen=True)
class Priced:
    """A plan with its kit and its price; without a plan where only lines written free are priced."""

    planned: Planned | None
    kit: Kit
    estimate: Estimate

    @property
    def hash(self) -> str:
        """The hash the estimate is kept under."""
        return self.estimate.hash


def priced(work: Work, jobs: Sequence[str], extra: Sequence[ExtraLine] = ()) -> Priced:
    """Plan these jobs from where the machine stands, lay out their kit, and price them with the additions.

    Nothing is kept (`keep_offer`). Raises MoneyError where the plan is impossible, CompileError where the states
    found do not allow it. Free lines alone need no plan.
    """
    if not jobs:
        return _without_plan(work, extra)
    book = work.book
    made = planned(work, jobs)
    if not made.possible:
        raise _no_plan(made)
    packs = stock(work.visit.shop, book)
    estimate = money.estimate_by_cases(
        book, made.answer, jobs, rates_of(work), lambda answer: kit(book, answer, packs),
        known=work.state.answers, extra=extra, plan=made.hash, settled=work.state.agreed,
    )  # fmt: skip
    return Priced(made, laid_out(work, made.answer), _pinned(work, estimate))


def laid_out(work: Work, answer: Answer) -> LaidOut:
    """What must lie ready for a plan: from the shop's shelf, with its wrenches as they stand today.

    The parts that only some answer of a reading asks for are apart from it.
    """
    shop = work.visit.shop
    tools, today = at_hand(shelf(shop)), timezone.localdate()
    needed = kit(work.book, answer, stock(shop, work.book), wrenches=tools, on=today)
    whole = replace(needed, parts=(*needed.parts, *parts_left(work)))
    return set_apart_here(work, whole, answer)


def _no_plan(made: Planned) -> MoneyError:
    problem = _("no order of work was found in the time given")
    if made.answer.status == "impossible":
        problem = _("there is no order in which all of this can be done")
    return MoneyError("plan", problem, _("look at the order of work, or book less"))


def _without_plan(work: Work, extra: Sequence[ExtraLine]) -> Priced:
    nothing = Answer(status="optimal", finish_minutes=0, attended_minutes=0)
    plan = work.state.plan or money.plan_hash(nothing)
    asked = rates_of(work)
    made = money.estimate(work.book, nothing, [], asked, Kit(), extra=extra, plan=plan)
    return Priced(None, Kit(), _pinned(work, made))


def _pinned(work: Work, estimate: Estimate) -> Estimate:
    """With the pinned book's revision, none without one: the visit's own figures are entries over the pin."""
    return estimate.model_copy(update={"book": work.state.book or ""})


def on_top(work: Work, jobs: Sequence[str] = (), extra: Sequence[ExtraLine] = ()) -> Priced:
    """What comes on top of the work agreed: these jobs, planned together with what is left, and lines.

    Raises as `priced`.
    """
    if not jobs:
        return _without_plan(work, extra)
    made = priced(work, jobs_with(work, jobs), extra)
    whole, wanted = made.estimate, {*jobs, *(each.id for each in extra)}
    lines = [line for line in whole.lines if line.id in wanted]
    estimate = summed(rates=whole.rates, book=whole.book, plan=whole.plan, jobs=jobs, lines=lines)
    return Priced(made.planned, made.kit, estimate)


def brought_to_come(work: Work) -> dict[str, str]:
    """The jobs that a reading still to come of the jobs taken on may bring, each with its unknown."""
    every = operations(work.book, [job for job in work.state.taken if job in work.book.jobs])
    return brought(work, every.keys() - work.state.over)


def where_brought(work: Work, job: str, unknown: str) -> Estimate:
    """The price of a job, with what it brings, for where a reading brings it; its plan is kept. Raises as `priced`."""
    jobs = [name for name in with_brought(work.book, [job]) if name not in work.state.taken]
    made = supplement(work, jobs)
    return money.if_brought(work.book, made, unknown)


def may_come(work: Work, line: EstimateLine) -> bool:
    """Whether what a line is for is part of this visit's work, or may still be brought by the reading it waits for."""
    if line.id in work.state.taken or line.id not in work.book.jobs:
        return True
    return bool(line.brought_by) and work.state.answers.get(line.brought_by, True)


def jobs_with(work: Work, jobs: Sequence[str]) -> list[str]:
    """What is agreed, and these jobs."""
    return [*(job for job in to_do(work) if job not in jobs), *jobs]


def supplement(work: Work, jobs: Sequence[str] = (), extra: Sequence[ExtraLine] = ()) -> Estimate:
    """The price of what comes `on_top`, with its plan kept: to be offered at once."""
    made = on_top(work, jobs, extra)
    keep_offer(work.visit.shop, made)
    return made.estimate


def keep_offer(shop: Shop, made: Priced) -> str:
    """Keep an estimate and the plan it rests on; return the estimate's hash."""
    if made.planned:
        keep(shop, made.planned)
    return keep_estimate(shop, made.estimate)


def keep_estimate(shop: Shop, estimate: Estimate) -> str:
    """Keep an estimate; return its hash."""
    return content_store.keep(shop, EstimateKept, estimate.canonical())


def estimate_kept(shop: Shop, sha256: str) -> Estimate:
    """A kept estimate. Raises KeptError where it is gone, changed, or of a newer version."""
    return money.from_canonical(content_store.content(shop.pk, EstimateKept, sha256))


def offered(work: Work) -> Estimate | None:
    """The newest estimate the owner was shown."""
    return (
        estimate_kept(work.visit.shop, work.state.offers[-1].estimate)
        if work.state.offers
        else None
    )


@dataclass(frozen=True)
class Agreed:
    """A line the owner said yes to, on the estimate it stood on: its price is a ceiling."""

    line: EstimateLine
    estimate: Estimate
    answer: Answered

    @property
    def gross_minor(self) -> int:
        """Its price with tax, as it was told."""
        return self.estimate.gross_by_line()[self.line.id]


def agreed(work: Work) -> dict[str, Agreed]:
    """The lines agreed, each by its newest yes, as they were priced then."""
    lines: dict[str, Agreed] = {}
    for offer in work.state.offers:
        for name, answer in offer.answers.items():
            if answer.verdict == "yes" and name in work.state.agreed:
                estimate = estimate_kept(work.visit.shop, offer.estimate)
                lines[name] = Agreed(estimate.line(name), estimate, answer)
    return lines


def accepted(work: Work) -> dict[str, EstimateLine]:
    """The lines the owner said yes to, as they were priced then: each a ceiling."""
    return {name: one.line for name, one in agreed(work).items()}


def ceiling(work: Work, lines: Collection[str] | None = None) -> Estimate | None:
    """What may be charged at most for lines agreed (absent: all), wherever each was offered; None without any."""
    every = agreed(work)
    names = every if lines is None else [name for name in every if name in lines]
    return together({name: every[name].estimate for name in names})


def charged(work: Work, lines: Collection[str]) -> Charge | None:
    """What is charged for lines agreed and done: each as it was done, never above what was agreed; None without any."""
    agreed_to = ceiling(work, lines)
    return money.charge(agreed_to, agreed_to.as_done(work.state.done)) if agreed_to else None


def at_most(work: Work, estimate: Estimate) -> Charge:
    """What an estimate comes to where prices agreed before hold its lines down."""
    shown = {line.id for line in estimate.lines}
    before = {name: one.estimate for name, one in agreed(work).items() if name in shown}
    held = together({line.id: before.get(line.id, estimate) for line in estimate.lines})
    return money.charge(held or estimate, estimate)


@dataclass(frozen=True)
class Waiting:
    """A line that waits for an answer, with the estimate it stands on."""

    line: EstimateLine
    estimate: str
    made: Estimate

    @property
    def gross_minor(self) -> int:
        """Its price with tax."""
        return self.made.gross_by_line()[self.line.id]

    @property
    def currency(self) -> str:
        """The currency of that price."""
        return self.made.currency


def waiting(work: Work) -> dict[str, Waiting]:
    """Every line that was offered and has no answer since, on the newest estimate that has it."""
    found: dict[str, Waiting] = {}
    for offer in work.state.offers:
        estimate = estimate_kept(work.visit.shop, offer.estimate)
        for name in offer.lines:
            found.pop(name, None)
            if (
                name not in offer.answers
                and name not in work.state.agreed
                and _stands(work, estimate.line(name))
            ):
                found[name] = Waiting(estimate.line(name), offer.estimate, estimate)
    return found


def _stands(work: Work, line: EstimateLine) -> bool:
    """Whether a line is still part of this visit's work; one of its own: whether it was not taken back."""
    if line.id in work.state.own:
        return line.id in work.state.lines
    return may_come(work, line)


def additions(work: Work) -> list[ExtraLine]:
    """Own lines that were not declined; of before they had entries, as they stand on the newest estimate."""
    found: dict[str, ExtraLine] = {}
    for offer in work.state.offers:
        for line in estimate_kept(work.visit.shop, offer.estimate).lines:
            if line.extra and line.id not in work.state.own:
                found[line.id] = _again(line)
    found |= {name: extra_of(name, line) for name, line in work.state.lines.items()}
    return [line for name, line in found.items() if name not in work.state.declined]


def extra_of(name: str, line: LineWritten) -> ExtraLine:
    """An own line as it is priced."""
    return ExtraLine(
        id=name,
        text=line.words,
        why=line.why,
        labour_tenths=round(line.minutes * 10),
        fixed_minor=line.fixed_minor,
        parts=tuple(
            ExtraPart(
                text=part.text, quantity=Decimal(repr(part.quantity)), each_minor=part.each_minor
            )
            for part in line.parts
        ),
    )


def rates_of(work: Work) -> Rates:
    """The shop's prices for the parts and fluids of the book, and those written with its repairs."""
    own = {
        prefixed(said.job, name)["parts"][part]: price
        for name, said in work.state.repairs.items()
        for part, price in said.prices.items()
    }
    usual = rates(work.visit.shop, work.book)
    return usual.model_copy(update={"part_prices": {**usual.part_prices, **own}})


def rates(shop: Shop, book: Book) -> Rates:
    """The shop's prices for the parts and fluids of a book."""
    return Rates(
        currency=shop.currency,
        labour_per_hour=shop.labour_per_hour,
        tax={name: Decimal(percent) for name, percent in shop.tax_rates.items()},
        usual_tax=shop.usual_tax or None,
        taxed=shop.taxed,
        labour_minimum=shop.labour_minimum,
        labour_step=shop.labour_step,
        flat=shop.flat_prices.get(book.name, {}),
        part_prices=_part_prices(shop, book),
        fluids=shop.fluids,
        consumables=Consumables(rule=shop.consumables, amount=shop.consumables_amount),
        disposal=Disposal(rule=shop.disposal, amount=shop.disposal_amount),
    )


def stock(shop: Shop, book: Book) -> list[Pack]:
    """The packs the shop has of each fluid of a book: named for the fluid, or else for its family."""
    rows = list(StockPack.objects.filter(shop=shop))
    return list(_packs(rows, book))


def _packs(rows: Iterable[StockPack], book: Book) -> Iterator[Pack]:
    rows = list(rows)
    for name, fluid in book.fluids.items():
        own = [row for row in rows if row.fluid == name] or [
            row for row in rows if row.family == fluid.family
        ]
        for row in own:
            yield Pack(
                name, row.size_ml, row.name, row.price_minor, row.in_stock,
                row.family, row.grade, row.rating, str(row.pk),
            )  # fmt: skip


def _part_prices(shop: Shop, book: Book) -> dict[str, int]:
    rows = PartPrice.objects.filter(shop=shop, part__in=list(book.parts), book__in=["", book.name])
    return {row.part: row.price_minor for row in sorted(rows, key=lambda row: row.book)}


def _again(line: EstimateLine) -> ExtraLine:
    parts = []
    for item in line.items:
        if item.kind == "part":
            each, rest = divmod(item.net_minor or 0, int(item.quantity) or 1)
            whole = item.quantity == int(item.quantity) and not rest
            parts.append(
                ExtraPart(text=item.text, quantity=item.quantity, each_minor=each)
                if whole
                else ExtraPart(
                    text=f"{item.quantity} × {item.text}", each_minor=item.net_minor or 0
                )
            )
    return ExtraLine(
        id=line.id,
        text=line.text,
        why=line.why,
        labour_tenths=line.labour_tenths,
        parts=tuple(parts),
    )
