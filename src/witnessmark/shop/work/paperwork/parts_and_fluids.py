"""What a paper says of parts, fluids, waste and shims."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from django.utils.translation import gettext as _

from witnessmark.kit.lay_out import parts_of
from witnessmark.ledger.bodies import Done
from witnessmark.shop.work.cards import figure_shown
from witnessmark.shop.work.paperwork.language_and_heading import Pen


def used(pen: Pen, steps: Sequence[str]) -> Iterator[str]:
    """What these steps fitted and filled, and what they fitted again in place of a new part."""
    book = pen.work.book
    parts: dict[str, Fraction] = {}
    again: dict[str, None] = {}
    reused = _reused(pen)
    for name in steps:
        step = pen.work.steps[name]
        kept = [book.renewals[one] for one in step.renews if (name, one) in reused]
        again |= dict.fromkeys(one.text for one in kept)
        for part, quantity in parts_of(book, step).items():
            count = Fraction(repr(quantity)) - sum(one.part == part for one in kept)
            if count > 0 and not book.parts[part].consumable:
                parts[part] = parts.get(part, Fraction(0)) + count
    if parts:
        said = [
            book.parts[part].text + (f" × {pen.number(f'{float(count):g}')}" if count != 1 else "")
            for part, count in parts.items()
        ]
        yield _("Fitted: {parts}").format(parts="; ".join(said))
    if again:
        yield _("Fitted again, not new: {parts}").format(parts="; ".join(again))
    fluids = {
        (fluid, use.figure) for name in steps for fluid, use in pen.work.steps[name].fluids.items()
    }
    for fluid, figure in sorted(fluids):
        shown = figure_shown(book, figure)
        grade = book.figures.get(book.fluids[fluid].grade or "")
        words = f" ({pen.of_book(grade.value)})" if grade and grade.value else ""
        yield _("Filled: {fluid}, {volume}").format(
            fluid=f"{book.fluids[fluid].text}{words}", volume=pen.figure(shown)
        ) + _bottles(pen, fluid, steps)
    yield from _said_of_fluids(pen, steps)


def _reused(pen: Pen) -> set[tuple[str, str]]:
    """Renewals that a step fitted again, by the step."""
    done = [entry.said for entry in pen.work.standing if isinstance(entry.said, Done)]
    return {
        (step, renewal)
        for said in done
        for step in (*said.along, said.step)
        for renewal in said.reused
    }


def _bottles(pen: Pen, fluid: str, steps: Sequence[str]) -> str:
    """What a fluid was poured from. Example: ``, from Engine oil 10W-40, 1 L (SAE 10W-40, JASO MA2)``."""
    found = [one.bottle for one in pen.work.state.pours if one.fluid == fluid and one.step in steps]
    said = "; ".join(dict.fromkeys(found))
    return ", " + _("from {bottles}").format(bottles=said) if found else ""


def _said_of_fluids(pen: Pen, steps: Sequence[str]) -> Iterator[str]:
    """Bottles that were refused and used for a reason, what was drained, and shims that were changed."""
    state = pen.work.state
    for pour in state.pours:
        if pour.refused and pour.step in steps:
            refused = pen.only_english("; ".join(pour.refused))
            said = _("{bottle} is not what the service book allows. Used because: {why}")
            if refused:
                said = _(
                    "{bottle} is not what the service book allows ({refused}). Used because: {why}"
                )
            yield said.format(bottle=pour.bottle, refused=refused, why=pour.because)
    for drain in state.drains:
        if drain.step in steps:
            said = _("Drained: {fluid}, {volume}")
            if drain.into:
                said = _("Drained: {fluid}, {volume} into {container}")
            yield said.format(
                fluid=pen.chosen(drain.family),
                volume=pen.quantity(drain.volume_ml, "volume", ""),
                container=drain.into,
            )
    for step, fitted in state.shims.items():
        if step in steps:
            changed = [one for one in fitted.valves if one.now_mm != one.was_mm]
            words = [
                _("{valve} {was} to {now} mm").format(
                    valve=one.valve,
                    was=pen.number(f"{one.was_mm:.3f}"),
                    now=pen.number(f"{one.now_mm:.3f}"),
                )
                for one in changed
            ]
            yield _("Shims: {valves}").format(valves=", ".join(words) or _("all stay"))
