"""What may be charged: the accepted prices of what was done, each a ceiling."""

from __future__ import annotations

from decimal import Decimal

from django.utils.translation import gettext as _

from witnessmark.money import Estimate, charge
from witnessmark.shop.work.paperwork.pen import Pen
from witnessmark.shop.work.pricing import agreed
from witnessmark.shop.work.releasing import beside_the_plan, done_whole


def charged(pen: Pen) -> tuple[str, list[tuple[str, str]]]:
    """The sum with tax, and its lines with the taxes of each estimate; nothing where nothing agreed was done.

    Each line counts as it was priced when the owner said yes to it.
    """
    counts = {line.id for line in beside_the_plan(pen.work)} | set(done_whole(pen.work))
    together: dict[str, tuple[Estimate, list[str]]] = {}
    for name, one in agreed(pen.work).items():
        if name in counts:
            together.setdefault(one.estimate.hash, (one.estimate, []))[1].append(name)
    lines: list[tuple[str, str]] = []
    gross, currency = 0, pen.work.visit.shop.currency
    for estimate, names in together.values():
        counted = charge(estimate, estimate, lines=names)
        gross, currency = gross + counted.gross_minor, counted.currency
        lines += [
            (pen.of_book(line.text), pen.money(line.net_minor, currency)) for line in counted.lines
        ]
        lines += [
            (tax_words(pen, tax.name, tax.percent), pen.money(tax.tax_minor, currency))
            for tax in counted.taxes
        ]  # fmt: skip
    return (pen.money(gross, currency) if lines else ""), lines


def tax_words(pen: Pen, name: str, percent: Decimal) -> str:
    """A tax by its name and rate. Example: ``Tax (standard), 19 %``."""
    rate = pen.number(f"{percent.normalize():f}")
    return _("Tax ({name}), {rate} %").format(name=pen.chosen(name), rate=rate)
