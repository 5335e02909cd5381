"""What the shop charges: labour, prices, rules for fluids, consumables and disposal, and taxes."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Literal

from pydantic import Field, model_validator

from witnessmark.frozen import FrozenModel
from witnessmark.money.currency import MOST_MINOR, Currency, in_minor
from witnessmark.money.rounding import half_up

LineKind = Literal["labour", "part", "fluid", "consumables", "disposal", "other"]
Minor = Annotated[int, Field(ge=0, le=MOST_MINOR)]
Percent = Annotated[Decimal, Field(ge=0, le=1000, max_digits=8)]
Price = Annotated[Decimal, Field(ge=0, le=10**9, max_digits=14)]


def _unset(value: object) -> bool:
    return not value


class Consumables(FrozenModel):
    """What is charged for rags, cleaner, grease and the like, and which are not priced one by one.

    ``amount``: per cent of labour or of parts, line by line, or an amount per visit (in the
    currency), shared equally among the jobs.
    """

    rule: Literal["none", "percent of labour", "percent of parts", "per visit"] = "none"
    amount: Price = Decimal(0)


class Disposal(FrozenModel):
    """What is charged for what was drained (``disposal`` of a job): per litre, or per fluid of a job.

    A litre drained is a litre filled: nobody measures waste. ``amount`` in the currency.
    """

    rule: Literal["none", "per litre", "per fluid"] = "none"
    amount: Price = Decimal(0)


class Rates(FrozenModel):
    """The shop's prices, all without tax.

    ``labour_per_hour`` in the currency; ``tax``: per cent by name; ``taxed``: which of these a kind
    of item falls under, ``usual_tax`` for kinds not named (None: no tax). ``part_prices``: minor
    units per unit of a part; ``fluid_per_litre``: minor units per litre of a fluid, which goes
    before the price of packs. The labour of a line is ``flat`` for a job that has such a price (minor
    units), else by its minutes, rounded to a multiple of ``labour_step`` (0: to the minor unit), and
    at least ``labour_minimum``. Fluids are charged by the volume used, at the price of the packs
    opened, or by whole bottles and cans opened.
    """

    currency: Currency
    labour_per_hour: Price = Decimal(0)
    # kept only where they are set: an estimate of before has the canonical form it had
    labour_minimum: Annotated[Price, Field(exclude_if=_unset)] = Decimal(0)
    labour_step: Annotated[Price, Field(exclude_if=_unset)] = Decimal(0)
    flat: Annotated[dict[str, Minor], Field(exclude_if=_unset)] = {}
    tax: dict[str, Percent] = {}
    usual_tax: str | None = None
    taxed: dict[LineKind, str] = {}
    part_prices: dict[str, Minor] = {}
    fluids: Literal["by volume", "by opened packs"] = "by volume"
    fluid_per_litre: dict[str, Minor] = {}
    consumables: Consumables = Consumables()
    disposal: Disposal = Disposal()

    @model_validator(mode="after")
    def _taxes_are_known(self) -> Rates:
        for name in (self.usual_tax, *self.taxed.values()):
            if name is not None and name not in self.tax:
                known = ", ".join(self.tax) or "none"
                raise ValueError(f"no tax rate is named “{name}”; rates are: {known}")
        return self

    def labour_minor(self, tenths: int, job: str = "") -> int:
        """The price of a line's labour in minor units; no minutes cost nothing."""
        if job in self.flat:
            return self.flat[job]
        exact = in_minor(self.labour_per_hour, self.currency) * Fraction(tenths, 600)
        step = in_minor(self.labour_step, self.currency) or Fraction(1)
        least = half_up(in_minor(self.labour_minimum, self.currency))
        return max(half_up(half_up(exact / step) * step), least) if tenths else 0

    def tax_of(self, kind: LineKind) -> str | None:
        """The name of the tax rate that a kind of item falls under; None: no tax."""
        return self.taxed.get(kind, self.usual_tax)
