"""The sum on a service record and its taxes: what was done at the accepted prices, each a ceiling."""

from __future__ import annotations

from decimal import Decimal

from django.utils.translation import gettext as _

from witnessmark.shop.work import pricing
from witnessmark.shop.work.hand_back import beside_the_plan, done_whole
from witnessmark.shop.work.paperwork.language_and_heading import Pen


def charged(pen: Pen) -> tuple[str, list[tuple[str, str]]]:
    """The sum with tax, and its lines with the taxes; nothing where nothing agreed was done.

    Each line counts as it was priced when the owner said yes to it; where readings decided, in the case that was done.
    """
    counts = {line.id for line in beside_the_plan(pen.work)} | set(done_whole(pen.work))
    made = pricing.charged(pen.work, counts)
    if made is None:
        return "", []
    lines = [
        (pen.of_book(line.text), pen.money(line.net_minor, made.currency)) for line in made.lines
    ]
    lines += [
        (tax_words(pen, tax.name, tax.percent), pen.money(tax.tax_minor, made.currency))
        for tax in made.taxes
    ]  # fmt: skip
    return pen.money(made.gross_minor, made.currency), lines


def tax_words(pen: Pen, name: str, percent: Decimal) -> str:
    """A tax by its name and rate. Example: ``Tax (standard), 19 %``."""
    rate = pen.number(f"{percent.normalize():f}")
    return _("Tax ({name}), {rate} %").format(name=pen.chosen(name), rate=rate)
