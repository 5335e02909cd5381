"""What a paper says of bottles, waste and shims."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from witnessmark.shop.work.paperwork.pen import Pen


def bottles(pen: Pen, fluid: str, steps: Sequence[str]) -> str:
    """What a fluid was poured from. Example: ``, from Engine oil 10W-40, 1 L (SAE 10W-40, JASO MA2)``."""
    found = [one.bottle for one in pen.work.state.pours if one.fluid == fluid and one.step in steps]
    return f", from {'; '.join(dict.fromkeys(found))}" if found else ""


def said_of_fluids(pen: Pen, steps: Sequence[str]) -> Iterator[str]:
    """Bottles that were refused and used for a reason, what was drained, and shims that were changed."""
    state = pen.work.state
    for pour in state.pours:
        if pour.refused and pour.step in steps:
            why = "; ".join(pour.refused)
            yield f"{pour.bottle} is not what the book allows ({why}). Used because: {pour.because}"
    for drain in state.drains:
        if drain.step in steps:
            where = f" into {drain.into}" if drain.into else ""
            volume = pen.quantity(drain.volume_ml, "volume", "")
            yield f"Drained: {drain.family}, {volume}{where}"
    for step, fitted in state.shims.items():
        if step in steps:
            changed = [one for one in fitted.valves if one.now_mm != one.was_mm]
            words = [f"{one.valve} {one.was_mm:.3f} to {one.now_mm:.3f} mm" for one in changed]
            yield f"Shims: {', '.join(words)}" if words else "Shims: all stay"
