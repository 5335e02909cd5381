"""An amount as it is paid in cash, where the smallest coins are gone."""

from __future__ import annotations

from witnessmark.calculators.model import Asked, Calculated, CalculationError, Calculator, Inputs
from witnessmark.money import amount_text, cash_step, known_currency, read_amount, to_step

LARGEST_STEP = 100  # minor units; judged by us: beyond, a decimal point was forgotten
SOURCE = (
    "cash steps: Unicode CLDR, and national rules from memory; halves away from zero, as invoices are rounded; "
    "the difference is stated apart: EN 16931 BT-114"
)


def _cash(inputs: Inputs) -> Calculated:
    currency = known_currency(str(inputs["currency"]), place="currency")
    amount = read_amount(str(inputs["amount"]), currency, place="amount")
    step = _step(inputs, currency)
    paid = to_step(amount, step)
    off = paid - amount
    way = "more" if off > 0 else "less"
    return Calculated(
        said=f"{_text(paid, currency)} in cash.",
        lines=(
            ("invoiced", _text(amount, currency)),
            ("rounding", f"{_text(abs(off), currency)} {way}" if off else "none"),
            ("step", f"{_text(step, currency)}, {'as put in' if 'step' in inputs else 'of the currency'}"),
        ),
        formula="nearest multiple of the step",
        put_in=(("amount", _text(amount, currency)), ("currency", currency)),
        source=SOURCE,
        warnings=(
            "The invoice and its tax stay as they are: only the sum paid in cash is rounded, once.",
            "By card or transfer it is paid to the last unit.",
            "National law says whether rounding is allowed or asked for.",
        ),
    )  # fmt: skip


def _step(inputs: Inputs, currency: str) -> int:
    """In minor units, as put in, else that of the currency."""
    known = cash_step(currency)
    if "step" in inputs:
        step = read_amount(str(inputs["step"]), currency, place="step")
        if not 0 < step <= max(known or 0, LARGEST_STEP):
            problem = f"{_text(step, currency)} is no smallest coin"
            raise CalculationError(
                "step", problem, f"five of the smallest unit are {_text(5, currency)}"
            )
        return step
    if known is None:
        problem = f"no cash step of {currency} is known"
        expected = (
            "put in what the smallest coin is worth; in the euro area each country has its rule"
        )
        raise CalculationError("step", problem, expected)
    return known


def _text(minor: int, currency: str) -> str:
    return amount_text(minor, currency)


CALCULATORS: tuple[Calculator, ...] = (
    Calculator(
        name="cash-rounding",
        title="Paid in cash",
        text="An amount rounded to the smallest coin, and the difference to be stated.",
        asked=(
            Asked("amount", "Amount", "words", "187.33"),
            Asked("currency", "Currency", "words", "CHF", help="Its code: EUR, CHF, SEK."),
            Asked("step", "Smallest coin", "words", "0.05", optional=True,
                  help="Left empty: that of the currency, where one is known."),
        ),
        calculate=_cash,
    ),
)  # fmt: skip
