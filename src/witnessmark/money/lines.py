"""The items of each job's line: labour, parts, fluids, consumables, disposal."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from witnessmark.book import steps
from witnessmark.book.model import Book, Step
from witnessmark.book.select import job_of
from witnessmark.kit import FluidNeed, Kit
from witnessmark.kit.fluids import pour
from witnessmark.kit.lay_out import parts_of
from witnessmark.money.currency import in_minor
from witnessmark.money.estimate import ExtraLine, Item
from witnessmark.money.minutes import Carried, lines_of, served
from witnessmark.money.rates import LineKind, Rates
from witnessmark.money.rounding import half_up, share_by_weight, share_equally
from witnessmark.planner import Answer, PlanStep

Shares = dict[str, dict[str, Fraction]]  # of each part or fluid, per job: how much of it


def items_of_jobs(
    book: Book,
    answer: Answer,
    jobs: Sequence[str],
    rates: Rates,
    kit: Kit,
    minutes: Mapping[str, int],
    by: Carried,
) -> dict[str, list[Item]]:
    """The items of every line, priced; an item whose price is not known has none. ``by``: `carried`."""
    items: dict[str, list[Item]] = {
        line: [_labour(tenths, rates, line)] for line, tenths in minutes.items()
    }
    parts, fluids = _used(book, answer, jobs, by)
    for part, shares in parts.items():
        for job, item in _part(book, part, shares, rates):
            items[job].append(item)
    for need in kit.fluids:
        for job, item in _fluid(need, fluids[need.fluid], rates):
            items[job].append(item)
    for job, item in _disposal(book, jobs, fluids, rates, by):
        items[job].append(item)
    for job, item in _consumables(items, rates):
        items[job].append(item)
    return items


def items_of_extra(extra: ExtraLine, rates: Rates) -> list[Item]:
    """The items of a free line: its work by minutes or at a fixed price, its parts at their own prices."""
    items = [_labour(extra.labour_tenths, rates)] if extra.labour_tenths else []
    if extra.fixed_minor is not None:
        quantity = Decimal(1)
        items = [_item("labour", "", "Labour, fixed price", quantity, "", extra.fixed_minor, rates)]
    for part in extra.parts:
        net = half_up(Fraction(part.quantity) * part.each_minor)
        items.append(_item("part", "", part.text, part.quantity, "", net, rates))
    return items


def _item(
    kind: LineKind,
    name: str,
    text: str,
    quantity: Decimal,
    unit: str,
    net: int | None,
    rates: Rates,
) -> Item:
    tax = rates.tax_of(kind)
    return Item(
        kind=kind, name=name, text=text, quantity=quantity, unit=unit, net_minor=net, tax=tax
    )


def _labour(tenths: int, rates: Rates, job: str = "") -> Item:
    text = "Labour, flat price" if job in rates.flat else "Labour"
    net = rates.labour_minor(tenths, job)
    return _item("labour", "", text, Decimal(tenths) / 10, "min", net, rates)


def _used(book: Book, answer: Answer, jobs: Sequence[str], by: Carried) -> tuple[Shares, Shares]:
    """Parts (in their unit) and fluids (in mL) that the plan uses, by line; access steps' shared equally.

    What replaces something disturbed belongs to those for whom it was disturbed; closed again it is for others, too.
    """
    known = steps(book)
    parts: Shares = {}
    fluids: Shares = {}
    disturbed: dict[str, list[str]] = {}  # by renewal: the jobs
    for planned in sorted(answer.steps, key=lambda each: each.start):
        step, work = known[planned.name], served(planned, jobs)
        those = lines_of(by, work)
        for name in step.disturbs:
            disturbed.setdefault(name, []).extend(_wanting(known, planned, work))
        for part, quantity in parts_of(book, step).items():
            opened_for = [
                job
                for name in step.renews
                if book.renewals[name].part == part and not job_of(planned.name)
                for job in disturbed.get(name, ())
            ]
            needing = lines_of(by, opened_for) or those
            _add(parts, part, needing, Fraction(repr(quantity)))
        for fluid, use in step.fluids.items():
            volume = pour(book, planned.name, planned.start, use).volume_ml
            _add(fluids, fluid, those, Fraction(repr(volume or 0.0)))
    return parts, fluids


def _wanting(known: Mapping[str, Step], planned: PlanStep, work: list[str]) -> list[str]:
    """Of the jobs that a step is done for, those that could not have done with what was there before it."""
    opening = known[planned.name]
    wanting = {
        job_of(name)
        for name in planned.for_
        if not any(
            {*known[name].needs[one]} & {*opening.needs.get(one, ())}
            for one in opening.sets.keys() & known[name].needs.keys()
        )
    }
    return [job for job in work if job in wanting] or work


def _add(shares: Shares, name: str, jobs: Sequence[str], quantity: Fraction) -> None:
    mine = shares.setdefault(name, {})
    for job in jobs:
        mine[job] = mine.get(job, Fraction(0)) + quantity / len(jobs)


def _part(
    book: Book, part: str, shares: Mapping[str, Fraction], rates: Rates
) -> Iterator[tuple[str, Item]]:
    text, price = book.parts[part], rates.part_prices.get(part)
    if text.consumable and price is None:
        return  # covered by the rule for consumables
    total = None if price is None else half_up(sum(shares.values(), Fraction(0)) * price)
    yield from _shared("part", part, text.text, text.unit, shares, total, rates)


def _fluid(
    need: FluidNeed, shares: Mapping[str, Fraction], rates: Rates
) -> Iterator[tuple[str, Item]]:
    litres = {job: volume / 1000 for job, volume in shares.items()}
    yield from _shared(
        "fluid", need.fluid, need.text, "L", litres, _fluid_price(need, rates), rates
    )


def _fluid_price(need: FluidNeed, rates: Rates) -> int | None:
    """What the fluid costs in all, None where its volume or a price is not known."""
    volume = Fraction(repr(need.volume_ml))
    per_litre = rates.fluid_per_litre.get(need.fluid)
    if not need.whole:
        return None
    if per_litre is not None and rates.fluids == "by volume":
        return half_up(volume * per_litre / 1000)
    prices = [(each.pack.price_minor, each.count) for each in need.packs or ()]
    if need.containers is None or any(price is None for price, _ in prices):
        return None
    opened = sum((price or 0) * count for price, count in prices)
    if rates.fluids == "by opened packs":
        return opened
    return half_up(opened * volume / Fraction(repr(need.containers.total_ml)))


def _shared(
    kind: LineKind,
    name: str,
    text: str,
    unit: str,
    shares: Mapping[str, Fraction],
    total: int | None,
    rates: Rates,
) -> Iterator[tuple[str, Item]]:
    """One item per job that uses it; the whole price shared by how much each uses."""
    nets: Sequence[int | None] = [None] * len(shares)
    if total is not None:
        nets = share_by_weight(total, list(shares.values()))
    for (job, quantity), net in zip(shares.items(), nets, strict=True):
        yield job, _item(kind, name, text, _decimal(quantity), unit, net, rates)


def _decimal(quantity: Fraction) -> Decimal:
    """To the thousandth, for showing; prices are computed from the fraction."""
    return Decimal(half_up(quantity * 1000)) / 1000


def _disposal(
    book: Book, jobs: Sequence[str], fluids: Shares, rates: Rates, by: Carried
) -> Iterator[tuple[str, Item]]:
    """Per litre: of what each line uses; per fluid: once for each job that drains it."""
    if rates.disposal.rule == "none":
        return
    each = in_minor(rates.disposal.amount, rates.currency)
    drained: dict[tuple[str, str], int] = {}
    for job in jobs:
        for fluid in book.jobs[job].disposal:
            shares = share_equally(half_up(each), len(by[job]))
            for line, share in zip(by[job], shares, strict=True):
                drained[line, fluid] = drained.get((line, fluid), 0) + share
    for (line, fluid), net in drained.items():
        text = f"Disposal: {book.fluids[fluid].text}"
        if rates.disposal.rule == "per fluid":
            yield line, _item("disposal", fluid, text, Decimal(1), "", net, rates)
        else:
            litres = fluids.get(fluid, {}).get(line, Fraction(0)) / 1000
            priced = half_up(each * litres) if litres else None
            yield line, _item("disposal", fluid, text, _decimal(litres), "L", priced, rates)


def _consumables(items: Mapping[str, Sequence[Item]], rates: Rates) -> Iterator[tuple[str, Item]]:
    rule, amount = rates.consumables.rule, rates.consumables.amount
    if rule == "none" or not items:
        return
    if rule == "per visit":
        nets = share_equally(half_up(in_minor(amount, rates.currency)), len(items))
    else:
        kind = "labour" if rule == "percent of labour" else "part"
        nets = [half_up(_net(mine, kind) * Fraction(amount) / 100) for mine in items.values()]
    for job, net in zip(items, nets, strict=True):
        if net:
            yield job, _item("consumables", "", "Consumables", Decimal(1), "", net, rates)


def _net(items: Sequence[Item], kind: str) -> int:
    return sum(item.net_minor or 0 for item in items if item.kind == kind)
