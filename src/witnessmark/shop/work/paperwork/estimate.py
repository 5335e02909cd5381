"""The estimate as it was offered, with the owner's answers to it."""

from __future__ import annotations

from decimal import Decimal

from witnessmark.ledger.state import Answer, Offer
from witnessmark.money import Estimate, Line
from witnessmark.money.estimate import Item
from witnessmark.papers import Estimate as EstimateForm
from witnessmark.papers.forms import PriceLine
from witnessmark.shop.work.paperwork.pen import NoPaperError, Pen
from witnessmark.shop.work.pricing import estimate_kept
from witnessmark.shop.work.visit import Work


def estimates(work: Work) -> list[tuple[int, Offer]]:
    """Every estimate that was offered, numbered from 1 in the order they were."""
    return list(enumerate(work.state.offers, 1))


def estimate(pen: Pen, revision: int | None = None) -> EstimateForm:
    """The newest estimate, or the one with that number. Raises NoPaperError where there is none."""
    every = dict(estimates(pen.work))
    number = max(every, default=0) if revision is None else revision
    if number not in every:
        raise NoPaperError(f"no estimate {number} was offered" if number else "nothing was offered")
    offer = every[number]
    made = estimate_kept(pen.work.visit.shop, offer.estimate)
    return EstimateForm(
        heading=pen.heading(f"-{number}"),
        revision=f"{number} of {len(every)}",
        lines=[_line(pen, made, line, offer.answers.get(line.id)) for line in made.lines],
        net=pen.money(made.net_minor, made.currency),
        taxes=[
            (f"{tax.name.capitalize()} tax, {_number(tax.percent)} % of {pen.money(tax.net_minor, made.currency)}",
             pen.money(tax.tax_minor, made.currency))
            for tax in made.taxes
        ],
        total=pen.money(made.gross_minor, made.currency),
        total_words="At most, with tax" if made.taxes else "At most",
        limit=_limit(pen),
        notes=_notes(pen, made),
    )  # fmt: skip


def _line(pen: Pen, made: Estimate, line: Line, answer: Answer | None) -> PriceLine:
    return PriceLine(
        text=line.text,
        why=line.why,
        parts=[
            (_item(item), _price(pen, item, made.currency))
            for item in line.items
            if item.net_minor or item.net_minor is None
        ],
        sum=pen.money(line.net_minor, made.currency),
        verdict=_verdict(pen, answer) if answer else "",
    )


def _item(item: Item) -> str:
    if item.kind == "consumables" or (item.quantity == 1 and item.unit in {"", "piece"}):
        return item.text
    unit = "" if item.unit == "piece" else f" {item.unit}"
    return f"{item.text}, {_number(item.quantity)}{unit}"


def _price(pen: Pen, item: Item, currency: str) -> str:
    return "no price yet" if item.net_minor is None else pen.money(item.net_minor, currency)


def _verdict(pen: Pen, answer: Answer) -> str:
    said = "Agreed" if answer.verdict == "yes" else "Declined"
    return f"{said} {answer.how}, {pen.moment(answer.at)}"


def _limit(pen: Pen) -> str:
    limit = pen.work.state.limit
    if limit is None:
        return ""
    return f"May be done without asking: up to {pen.money(limit.minor, limit.currency)} in all, with tax ({limit.how})."


def _notes(pen: Pen, made: Estimate) -> list[str]:
    notes = [line for line in pen.work.visit.shop.estimate_text.splitlines() if line.strip()]
    if made.unpriced:
        notes.append("Not priced yet, so not in the sum: " + "; ".join(made.unpriced) + ".")
    return notes


def _number(number: Decimal) -> str:
    return f"{number.normalize():f}"
