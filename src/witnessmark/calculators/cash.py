"""An amount as it is paid in cash, where the smallest coins are gone."""

from __future__ import annotations

from witnessmark.calculators.model import Asked, Calculated, Calculator, Inputs

SOURCE = (
    "cash steps: Unicode CLDR, and national rules from memory; halves away from zero, as invoices are rounded; "
    "the difference is stated apart: EN 16931 BT-114"
)


def _cash(inputs: Inputs) -> Calculated:
    # slow to import, and not for those who only look for a calculator
    from witnessmark.money import amount_text  # noqa: PLC0415
    from witnessmark.money.cash import in_cash  # noqa: PLC0415

    cash = in_cash(str(inputs["amount"]), str(inputs["currency"]), str(inputs.get("step", "")))
    amount, step, paid, off = (
        amount_text(minor, cash.currency)
        for minor in (cash.amount, cash.step, cash.paid, abs(cash.paid - cash.amount))
    )
    way = "more" if cash.paid > cash.amount else "less"
    return Calculated(
        said=f"{paid} in cash.",
        lines=(
            ("invoiced", amount),
            ("rounding", f"{off} {way}" if cash.paid != cash.amount else "none"),
            ("step", f"{step}, {'as put in' if 'step' in inputs else 'of the currency'}"),
        ),
        formula="nearest multiple of the step",
        put_in=(("amount", amount), ("currency", cash.currency)),
        source=SOURCE,
        warnings=(
            "The invoice and its tax stay as they are: only the sum paid in cash is rounded, once.",
            "By card or transfer it is paid to the last unit.",
            "National law says whether rounding is allowed or asked for.",
        ),
    )


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
        also=("coins", "till", "change", "money"),
    ),
)  # fmt: skip
