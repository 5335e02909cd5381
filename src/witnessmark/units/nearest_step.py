"""What a scale can be set to: the nearest of its steps, and whether the rounding matters."""

from __future__ import annotations

from typing import NamedTuple

from witnessmark.units.show import convert, on_scale, show, usual_unit
from witnessmark.units.table import BASE, Quantity

SHARE_THAT_MATTERS = 0.1
"""A rounding of a tenth of the tolerance or less need not be told (common practice, no source)."""


class Setting(NamedTuple):
    """A value as a tool's scale can show it.

    ``value``, ``error`` (what is set less what is wanted) are in the base unit; ``share`` is the
    error's part of the tolerance, None without one; ``shown`` is for people.
    """

    shown: str
    value: float
    error: float
    share: float | None

    @property
    def matters(self) -> bool:
        """Whether the rounding takes a noticeable part of the tolerance."""
        return self.share is not None and self.share > SHARE_THAT_MATTERS

    @property
    def outside(self) -> bool:
        """Whether the scale cannot be set within the tolerance at all."""
        return self.share is not None and self.share > 1


def setting(
    value: float, quantity: Quantity, unit: str, step: float, tolerance: float | None = None
) -> Setting:
    """The step of the scale nearest to a value (in the base unit), half-up.

    ``unit`` is that of the scale, ``step`` what it resolves, in that unit; ``tolerance`` is either
    side, in the base unit. Raises ShowError as `show` does, and for a step that is not above 0.
    """
    shown = show(value, quantity, unit=unit, step=step)
    set_to = on_scale(value, quantity, unit, step)
    error = set_to - value
    share = None if tolerance is None else (abs(error) / tolerance if tolerance else None)
    return Setting(shown, set_to, error, share)


def error_in_words(made: Setting, quantity: Quantity, unit: str, tolerance: float | None) -> str:
    """The rounding in a sentence. Example: ``0.34 N·m more than wanted, 11 % of the tolerance``."""
    if abs(made.error) < 1e-9 * max(1.0, abs(made.value)):
        return "no rounding: the scale shows it exactly"
    name = unit or BASE[quantity] or usual_unit(made.value, quantity)
    off = convert(made.value, quantity, name) - convert(made.value - made.error, quantity, name)
    told = (
        f"{float(f'{abs(off):.2g}'):g} {name}".strip()
        + f" {'more' if off > 0 else 'less'} than wanted"
    )
    if tolerance is None or made.share is None:
        return told
    return f"{told}, {made.share:.0%} of the tolerance".replace("%", " %")
