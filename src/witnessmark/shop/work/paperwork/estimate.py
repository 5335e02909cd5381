"""The estimate as it was offered, with the owner's answers to it."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from witnessmark.ledger.state import Answer, Offer
from witnessmark.money import Estimate, EstimateLine
from witnessmark.money.estimate import Item
from witnessmark.papers import EstimatePaper
from witnessmark.papers.contents import PriceLine
from witnessmark.shop.work.likely import found
from witnessmark.shop.work.paperwork.language_and_heading import NoPaperError, Pen
from witnessmark.shop.work.paperwork.sum_and_taxes import tax_words
from witnessmark.shop.work.pricing import estimate_kept
from witnessmark.shop.work.visit import Work


def estimates(work: Work) -> list[tuple[int, Offer]]:
    """Every estimate that was offered, numbered from 1 in the order they were."""
    return list(enumerate(work.state.offers, 1))


def estimate(pen: Pen, revision: int | None = None) -> EstimatePaper:
    """The newest estimate, or the one with that number. Raises NoPaperError where there is none."""
    every = dict(estimates(pen.work))
    number = max(every, default=0) if revision is None else revision
    if number not in every:
        if number:
            raise NoPaperError(noop("no estimate {number} was offered"), number=number)
        raise NoPaperError(noop("nothing was offered"))
    offer = every[number]
    made = estimate_kept(pen.work.visit.shop, offer.estimate)
    return EstimatePaper(
        heading=pen.heading(f"-{number}"),
        revision=_("{number} of {count}").format(number=number, count=len(every)),
        lines=[_line(pen, made, line, offer.answers.get(line.id)) for line in made.lines],
        net=pen.money(made.net_minor, made.currency),
        taxes=[
            (_("{tax} of {sum}").format(
                tax=tax_words(pen, tax.name, tax.percent), sum=pen.money(tax.net_minor, made.currency)),
             pen.money(tax.tax_minor, made.currency))
            for tax in made.taxes
        ],
        total=pen.money(made.gross_minor, made.currency),
        total_words=_("At most, with tax") if made.taxes else _("At most"),
        least=pen.money(made.least.gross_minor, made.currency) if made.undecided else "",
        limit=_limit(pen),
        notes=_notes(pen, made),
    )  # fmt: skip


def _line(pen: Pen, made: Estimate, line: EstimateLine, answer: Answer | None) -> PriceLine:
    return PriceLine(
        text=pen.of_book(line.text),
        why=pen.of_book(line.why),
        parts=[
            (_item(pen, item), _price(pen, item, made.currency))
            for item in line.items
            if item.net_minor or item.net_minor is None
        ],
        sum=_sum(pen, made, line),
        decided=_decided(pen, line),
        verdict=_verdict(pen, answer) if answer else "",
    )


def _sum(pen: Pen, made: Estimate, line: EstimateLine) -> str:
    most = pen.money(line.net_minor, made.currency)
    if not line.cases:
        return most
    least = pen.money(line.cheapest.net_minor, made.currency)
    return _("{least} to at most {most}").format(least=least, most=most)


def _decided(pen: Pen, line: EstimateLine) -> str:
    if line.dearest is None:
        return ""
    told = found(pen.work.book, line.dearest.terms)
    return _("Readings decide. At most, as listed, if: {found}").format(found=", ".join(told))


def _item(pen: Pen, item: Item) -> str:
    text = _text(pen, item)
    if item.kind == "consumables" or (item.quantity == 1 and item.unit in {"", "piece"}):
        return text
    if item.unit == "piece" and item.quantity < 1:
        return _("share of: {part}").format(part=text)
    many = pen.number(f"{item.quantity.normalize():f}")
    return (
        f"{text} × {many}" if item.unit == "piece" else f"{text}, {many} {pen.of_book(item.unit)}"
    )


def _text(pen: Pen, item: Item) -> str:
    """An item in words: what the shop charges for by its kind, all else by the book, or as it was typed."""
    fluid = pen.work.book.fluids.get(item.name)
    if item.kind == "disposal" and fluid:
        return _("Disposal: {fluid}").format(fluid=fluid.text)
    return pen.chosen(item.text) if item.kind in _OURS else pen.of_book(item.text)


_OURS = ("labour", "consumables", "disposal")


def _price(pen: Pen, item: Item, currency: str) -> str:
    return _("no price yet") if item.net_minor is None else pen.money(item.net_minor, currency)


def _verdict(pen: Pen, answer: Answer) -> str:
    said = _("Agreed {how}, {when}") if answer.verdict == "yes" else _("Declined {how}, {when}")
    return said.format(
        how=pen.chosen(answer.how), when=pen.moment(answer.at).replace(" ", "\u00a0")
    )


def _limit(pen: Pen) -> str:
    limit = pen.work.state.limit
    if limit is None:
        return ""
    return _("May be done without asking: up to {sum} in all, with tax ({how}).").format(
        sum=pen.money(limit.minor, limit.currency), how=pen.chosen(limit.how)
    )


def _notes(pen: Pen, made: Estimate) -> list[str]:
    notes = [line for line in pen.work.visit.shop.estimate_text.splitlines() if line.strip()]
    if made.unpriced:
        items = [item for line in made.lines for item in line.bare]
        several = "; ".join(_text(pen, item) for item in items)
        notes.append(_("Not priced yet, so not in the sum: {items}.").format(items=several))
    return notes
