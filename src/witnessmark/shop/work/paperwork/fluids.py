"""What a paper says of bottles, waste and shims."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from django.utils.translation import gettext as _

from witnessmark.fluids.drain import drains
from witnessmark.shop.work.paperwork.language_and_heading import Pen


def bottles(pen: Pen, fluid: str, steps: Sequence[str]) -> str:
    """What a fluid was poured from. Example: ``, from Engine oil 10W-40, 1 L (SAE 10W-40, JASO MA2)``."""
    found = [one.bottle for one in pen.work.state.pours if one.fluid == fluid and one.step in steps]
    said = "; ".join(dict.fromkeys(found))
    return ", " + _("from {bottles}").format(bottles=said) if found else ""


def said_of_fluids(pen: Pen, steps: Sequence[str]) -> Iterator[str]:
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
    yield from _drained(pen, steps)
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


def _drained(pen: Pen, steps: Sequence[str]) -> Iterator[str]:
    """What came out, and where to; the amount alone where somebody measured it."""
    as_filled = {  # what the card reckons with where nobody measures: as much as goes in
        (one.fluid, one.volume_ml) for step in steps for one in drains(pen.work.book, step)
    }
    for drain in pen.work.state.drains:
        if drain.step in steps:
            measured = (drain.fluid, drain.volume_ml) not in as_filled
            said = _("Drained: {fluid}, amount not measured")
            if measured:
                said = _("Drained: {fluid}, {volume}")
            if drain.container and measured:
                said = _("Drained: {fluid}, {volume} into {container}")
            elif drain.container:
                said = _("Drained: {fluid} into {container}, amount not measured")
            yield said.format(
                fluid=pen.chosen(drain.family),
                volume=pen.quantity(drain.volume_ml, "volume", ""),
                container=drain.into,
            )
