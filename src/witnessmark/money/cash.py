"""What is paid in cash, where the smallest coins are gone: the sum alone is rounded, once."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from babel.numbers import list_currencies

from witnessmark.errors import nearest
from witnessmark.money.currency import MoneyError, amount_text, read_amount
from witnessmark.money.rounding import half_up

# What the smallest coin is worth, in minor units. CHF, CAD, DKK, CZK, NOK, SEK: Unicode CLDR, cash rounding and cash
# digits; AUD, NZD, HUF: national rules, from memory.
STEPS = {
    "CHF": 5, "CAD": 5, "AUD": 5, "NZD": 10, "DKK": 50, "CZK": 100, "NOK": 100, "SEK": 100, "HUF": 500,
}  # fmt: skip
LARGEST_STEP = 100  # minor units; judged by us: beyond, a decimal point was forgotten


@dataclass(frozen=True, slots=True)
class Cash:
    """An amount, its step and what is paid, in minor units."""

    currency: str
    amount: int
    step: int
    paid: int


def to_step(minor: Fraction | int, step: int) -> int:
    """The nearest multiple of a step; halves away from zero, as invoices are rounded."""
    return half_up(Fraction(minor) / step) * step


def in_cash(amount: str, currency: str, step: str = "") -> Cash:
    """What is paid of an amount as it was typed, to the step put in, else to that of the currency.

    Raises MoneyError at ``amount``, ``currency`` or ``step``.
    """
    code = _known(currency)
    minor = read_amount(amount, code, place="amount")
    smallest = _step(step, code)
    return Cash(code, minor, smallest, to_step(minor, smallest))


def _known(text: str) -> str:
    code = text.strip().upper()
    if code in list_currencies():
        return code
    like = nearest(code, list_currencies())
    expected = f"did you mean {like}?" if like else "give its code, such as EUR or CHF"
    raise MoneyError("currency", f"“{text.strip()[:40]}” is no currency of ISO 4217", expected)


def _step(text: str, currency: str) -> int:
    known = STEPS.get(currency, 0)
    if not text and not known:
        problem = f"no cash step of {currency} is known"
        expected = "put in what the smallest coin is worth; each country of the euro has its rule"
        raise MoneyError("step", problem, expected)
    if not text:
        return known
    step = read_amount(text, currency, place="step")
    if not 0 < step <= max(known, LARGEST_STEP):
        problem = f"{amount_text(step, currency)} is no smallest coin"
        expected = f"five of the smallest unit are {amount_text(5, currency)}"
        raise MoneyError("step", problem, expected)
    return step
