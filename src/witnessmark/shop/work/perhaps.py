"""Parts that a reading may ask for: with what chance, and whether they are better ordered now; in words."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, fields
from fractions import Fraction

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from witnessmark.book.select import decided_by, job_of, operations
from witnessmark.kit import Kit, Perhaps, set_apart, weigh
from witnessmark.ledger.answers import only_if_of
from witnessmark.money import amount_text
from witnessmark.money.currency import in_minor
from witnessmark.planner import Answer
from witnessmark.shop.models import PartPrice, Shop
from witnessmark.shop.work.likely import Chance, chances, found, percent
from witnessmark.shop.work.visit import Work


@dataclass(frozen=True, slots=True)
class PerhapsShown:
    """A part that may be needed: what, how likely and by what, and whether to order it now."""

    text: str
    chance: str
    advice: str
    order: bool  # ordering it now costs less than waiting for it


@dataclass(frozen=True, slots=True)
class LaidOut(Kit):
    """A kit of which ``parts`` are surely needed, and what is perhaps."""

    perhaps: tuple[PerhapsShown, ...] = ()


def set_apart_here(work: Work, laid: Kit, answer: Answer) -> LaidOut:
    """The kit of a plan, and apart the parts that readings to come may ask for: by steps, or by a job they bring."""
    every = operations(work.book, work.book.jobs)
    undecided = _undecided(work, answer)
    brings = brought(work, {step.name for step in answer.steps} & every.keys())
    if not undecided and not brings:
        return _laid_out(laid, ())
    told = chances(work.visit.shop, work.book)
    likely = {name: one.likely for name, one in told.items()}
    sure, perhaps = set_apart(work.book, laid, answer, undecided, brings, likely)
    rows = _rows(work, [one.part for one in perhaps])
    return _laid_out(sure, [_shown(work, one, told, rows.get(one.part)) for one in perhaps])


def _laid_out(laid: Kit, perhaps: Iterable[PerhapsShown]) -> LaidOut:
    said = {field.name: getattr(laid, field.name) for field in fields(Kit)}
    return LaidOut(**said, perhaps=tuple(perhaps))


def _undecided(work: Work, answer: Answer) -> dict[str, str]:
    """The steps left of a plan's jobs that a reading to come will decide, each with its term."""
    jobs = {job_of(step.name) for step in answer.steps} - {""}
    rules, left = work.folded.table.unknowns, {}
    every = operations(work.book, [job for job in work.book.jobs if job in jobs])
    to_come = every.keys() - work.state.over
    for name, step in every.items():
        row = only_if_of(step).split("|") if decided_by(step, work.state.taken) else []
        known = work.state.answers
        if name not in to_come or any(
            known.get(one.removeprefix("!")) == (one[0] != "!") for one in row
        ):
            continue
        asked = [
            one
            for one in row
            if (unknown := one.removeprefix("!")) not in known
            and set(rules[unknown].readers) & to_come - {name}
        ]
        if asked:
            left[name] = "|".join(asked)
    return left


def brought(work: Work, steps: Iterable[str]) -> dict[str, str]:
    """The jobs not taken on that a reading of these operations may bring, each with its unknown."""
    book, known = work.book, work.state.answers
    read = {reading for step in steps for reading in work.steps[step].readings}
    settled = {*work.state.taken, *work.state.declined}
    brings = {}
    for name, job in book.jobs.items():
        reading = next((one for one in job.early if one in read), None)
        if name not in settled and reading is not None and job.likely is not None:
            brings[name] = f"{reading} outside"
    return {job: unknown for job, unknown in brings.items() if unknown not in known}


def _rows(work: Work, parts: Collection[str]) -> dict[str, PartPrice]:
    rows = PartPrice.objects.filter(
        shop=work.visit.shop, part__in=parts, book__in=["", work.book.name]
    )
    return {row.part: row for row in sorted(rows, key=lambda row: row.book)}


def _shown(
    work: Work, one: Perhaps, told: Mapping[str, Chance], row: PartPrice | None
) -> PerhapsShown:
    known = told[one.unknowns[0]].words if len(one.unknowns) == 1 else _several(one, told)
    because = ", ".join(found(work.book, one.terms))
    how = _("{percent}, if: {found} ({known})").format(
        percent=percent(one.chance), found=because, known=known
    )
    many = f"{one.quantity:g}" if one.unit == "piece" else f"{one.quantity:g} {one.unit}"
    text = one.text if many == "1" else f"{one.text} × {many}"
    advice, order = _advice(work.visit.shop, one, row)
    return PerhapsShown(text, how, advice, order)


def _several(one: Perhaps, told: Mapping[str, Chance]) -> str:
    if any(told[name].asked for name in one.unknowns):
        return _("by what was counted here and the book’s invented figures")
    return _("invented figures of the book")


def _advice(shop: Shop, one: Perhaps, row: PartPrice | None) -> tuple[str, bool]:
    if not shop.delay_per_day:
        return _("Not weighed: what a day’s delay costs is not entered (Shop, Money)."), False
    if row is None:
        return _("Not weighed: the part has no price."), False
    if row.delivery_days is None:
        return _("Not weighed: how many days its delivery takes is not entered."), False
    each = Fraction(repr(one.quantity)) * row.price_minor
    lost = each * Fraction(shop.return_percent) / 100 + in_minor(shop.return_cost, shop.currency)
    delay = in_minor(shop.delay_per_day, shop.currency)
    weighed = weigh(one.chance, row.delivery_days, delay, lost)
    days = ngettext("{n} day", "{n} days", row.delivery_days).format(n=row.delivery_days)
    words = (
        _(
            "Order now: {chance} × {days} × {delay} = {waiting}, more than {back} for sending it back."
        )
        if weighed.order
        else _(
            "Do not order yet: {chance} × {days} × {delay} = {waiting}, no more than {back} for sending it back."
        )
    )
    return words.format(
        chance=percent(one.chance),
        days=days,
        delay=_money(shop, delay),
        waiting=_money(shop, weighed.waiting_minor),
        back=_money(shop, weighed.back_minor),
    ), weighed.order


def _money(shop: Shop, minor: Fraction | int) -> str:
    return amount_text(round(minor), shop.currency, shop.locale)
