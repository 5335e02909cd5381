"""The price of a visit: the shop's rates, the plan of the jobs, the estimate on it, and what the owner has said."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from witnessmark import money
from witnessmark.book.model import Book
from witnessmark.kit import Kit, Pack, kit
from witnessmark.money import Consumables, Disposal, Estimate, ExtraLine, ExtraPart, Line, Rates
from witnessmark.money.estimate import summed, tax_on
from witnessmark.planner.plan import Answer
from witnessmark.shop import kept
from witnessmark.shop.models import EstimateKept, PartPrice, Shop, StockPack
from witnessmark.shop.work.planning import Planned, keep, planned, to_do
from witnessmark.shop.work.visit import Work


@dataclass(frozen=True)
class Priced:
    """A plan with its kit and its price."""

    planned: Planned
    kit: Kit
    estimate: Estimate


def priced(work: Work, jobs: Sequence[str], extra: Sequence[ExtraLine] = ()) -> Priced:
    """Plan these jobs from where the machine stands, lay out their kit, and price them with the additions.

    Raises MoneyError where the plan is impossible, CompileError where the states found do not allow it.
    """
    shop = work.visit.shop
    made = planned(work, jobs)
    needed = kit(work.book, made.answer, stock(shop, work.book))
    plan = keep(shop, made)
    estimate = money.estimate(
        work.book, made.answer, jobs, rates(shop, work.book), needed, extra=extra, plan=plan
    )
    pinned = estimate.model_copy(
        update={"book": work.state.book}
    )  # its own figures are entries over the pin
    return Priced(made, needed, pinned)


def supplement(work: Work, jobs: Sequence[str] = (), extra: Sequence[ExtraLine] = ()) -> Estimate:
    """The price of what comes on top of the work agreed: these jobs, planned together with what is left, and lines.

    Raises as `priced`; free lines alone need no plan.
    """
    if not jobs:
        nothing = Answer(status="optimal", finish_minutes=0, attended_minutes=0)
        plan = work.state.plan or money.plan_hash(nothing)
        book = work.book
        made = money.estimate(
            book, nothing, [], rates(work.visit.shop, book), Kit(), extra=extra, plan=plan
        )
        return made.model_copy(update={"book": work.state.book})
    whole = priced(work, [*to_do(work), *jobs], extra).estimate
    wanted = {*jobs, *(each.id for each in extra)}
    lines = [line for line in whole.lines if line.id in wanted]
    return summed(rates=whole.rates, book=whole.book, plan=whole.plan, jobs=jobs, lines=lines)


def keep_estimate(shop: Shop, estimate: Estimate) -> str:
    """Keep an estimate; return its hash."""
    return kept.keep(shop, EstimateKept, estimate.canonical())


def estimate_kept(shop: Shop, sha256: str) -> Estimate:
    """A kept estimate. Raises `EstimateKept.DoesNotExist`."""
    return money.from_canonical(kept.content(shop, EstimateKept, sha256))


def offered(work: Work) -> Estimate | None:
    """The newest estimate the owner was shown."""
    return (
        estimate_kept(work.visit.shop, work.state.offers[-1].estimate)
        if work.state.offers
        else None
    )


def accepted(work: Work) -> dict[str, Line]:
    """The lines the owner said yes to, as they were priced when he did: each a ceiling."""
    lines = {}
    for offer in work.state.offers:
        for name, answer in offer.answers.items():
            if answer.verdict == "yes" and name in work.state.agreed:
                lines[name] = estimate_kept(work.visit.shop, offer.estimate).line(name)
    return lines


def additions(work: Work) -> list[ExtraLine]:
    """Lines written free on this visit that were not declined, as they stand on the newest estimate that has them."""
    found: dict[str, ExtraLine] = {}
    for offer in work.state.offers:
        for line in estimate_kept(work.visit.shop, offer.estimate).lines:
            if line.extra and line.id not in work.state.declined:
                found[line.id] = _again(line)
    return list(found.values())


def gross_minor(estimate: Estimate, line: Line) -> int:
    """One line with its tax, each rate rounded half-up on the line alone: for limits, never for the sum."""
    percents = estimate.rates.tax
    nets = line.net_by_tax().items()
    return line.net_minor + sum(
        tax_on(name, percents[name], net).tax_minor for name, net in nets if name is not None
    )


def rates(shop: Shop, book: Book) -> Rates:
    """The shop's prices for the parts and fluids of a book."""
    return Rates(
        currency=shop.currency,
        labour_per_hour=shop.labour_per_hour,
        tax={name: Decimal(percent) for name, percent in shop.tax_rates.items()},
        usual_tax=shop.usual_tax or None,
        taxed=shop.taxed,
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
            yield Pack(name, row.size_ml, row.name, row.price_minor, row.in_stock)


def _part_prices(shop: Shop, book: Book) -> dict[str, int]:
    rows = PartPrice.objects.filter(shop=shop, part__in=list(book.parts), book__in=["", book.name])
    return {row.part: row.price_minor for row in sorted(rows, key=lambda row: row.book)}


def _again(line: Line) -> ExtraLine:
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
