"""Money rules against ISO 4217, EN 16931 and worked examples, as gathered in `data/money.csv`.

The table names the source of each row (ISO 4217 list; EN 16931 BR-CO-10, BR-CO-17; published
examples) and, in `how`, whether a text was seen (S), the row computed by us (L) or recalled (M).
"""

import re
from collections import Counter
from decimal import Decimal
from fractions import Fraction

import pytest
from babel.core import get_global

from tests.invoice.paper import document
from tests.invoice.paper import line as invoice_line
from tests.outside.tables import rows_of
from witnessmark.invoice import TaxRate, totals
from witnessmark.money import EstimateLine, Item, exponent, read_amount
from witnessmark.money.cash import STEPS, to_step
from witnessmark.money.currency import major
from witnessmark.money.estimate import tax_on, taxes_on
from witnessmark.money.rounding import half_up, share_by_weight, share_equally

ROWS = rows_of("money")


LEFT_OUT = {
    "vat_rule | validator slack on BR-CO-17 and BR-S-09": "slack of other programs; ours, below it: tests/invoice",
    "vat_rule | level of rounding": "left to national law; we round once per rate, as BR-CO-17 has it",
}


def key(row):
    return f"{row['kind']} | {row['item']}"


TESTED = [row for row in ROWS if key(row) not in LEFT_OUT]


def cents(text):
    return half_up(Fraction(text) * 100)


def test_every_row_is_tested_or_left_out_with_a_reason():
    assert len({key(row) for row in ROWS}) == len(ROWS)
    assert (len(ROWS), len(TESTED), len(LEFT_OUT)) == (72, 70, 2)
    kinds = Counter(row["kind"] for row in TESTED)
    assert kinds == {
        "minor_unit": 27, "vat_breakdown": 8, "rounding": 14, "allocation": 3, "float_trap": 3,
        "vat_rule": 4, "known_error": 1, "cash_rounding": 6,
        "gross_to_net": 4,
    }  # fmt: skip


# ---------------------------------------------------------------- how each kind is held against ours


def _minor_unit(row):
    """ISO 4217. A unit of five parts still has the exponent 2 there: amounts are kept in hundredths."""
    assert exponent(row["item"]) == (2 if row["quantity"] == "subunits" else int(row["value"]))


def _rounding(row):
    """EN 16931 leaves the direction open; the published half-up examples, not the half-even ones."""
    places = 0 if row["condition"] == "whole number" else 2
    rounded = Decimal(half_up(Fraction(row["item"]) * 10**places)).scaleb(-places)
    assert rounded == Decimal(row["value"].split(";")[0])


def _vat_breakdown(row):
    """EN 16931, BR-CO-10 and BR-CO-17: lines are rounded first, the tax once per rate."""
    if row["item"].startswith("credit"):  # half away from zero, not half-even
        assert tax_on("", Decimal(25), cents("-625743.54")).tax_minor == cents(row["value"])
    elif row["item"].startswith("mixed"):
        lines = [line("100.00", "full"), line("50.05", "full"), line("19.99", "less")]
        taxes = taxes_on(lines, {"full": Decimal(19), "less": Decimal(7)})
        assert [each.tax_minor for each in taxes] == [cents(v) for v in row["value"].split(";")]
    elif row["condition"] == "tax per line then summed":  # the published other method: not ours
        (tax,) = taxes_on([line("1.24", "one"), line("1.24", "one")], {"one": Decimal(10)})
        assert (tax.tax_minor, cents(row["value"])) == (25, 24)
    else:
        _one_rate(row)


def _one_rate(row):
    amounts, percent = re.fullmatch(r"(.+) at (\d+) percent", row["item"]).groups()
    taxes = taxes_on(
        [line(amount, "one") for amount in amounts.split(";")], {"one": Decimal(percent)}
    )
    net, tax, gross = (cents(value) for value in row["value"].split(";"))
    assert [(each.net_minor, each.tax_minor) for each in taxes] == [(net, tax)]
    assert net + tax == gross


def _vat_rule(row):
    """The rules by a case that would come out otherwise: three times 33.335 at 19 %, rounded half-up."""
    thrice = [line("33.335", "one")] * 3
    (tax,) = taxes_on(thrice, {"one": Decimal(19)})
    if row["item"] == "line net amount":
        assert tax.net_minor == 3 * half_up(Fraction("3333.5")) == 10002
    elif row["item"] == "direction of rounding":
        assert tax_on("", Decimal(10), 5).tax_minor == 1  # half a cent, up
    elif row["item"] == "amount due":
        _amount_due(row)
    else:
        per_line = 3 * half_up(Fraction(3334 * 19, 100))
        assert (tax.tax_minor, per_line) == (1900, 1899)


def _amount_due(_row):
    """EN 16931, BR-CO-16: the sum with tax, less what was paid, and rounding."""
    paper = document(
        invoice_line("12.33", "zero"), currency="CHF", paid_minor=200, cash_step_minor=5
    )
    found = totals(paper)
    assert found.due_minor == 1233 - 200 + found.rounding_minor == 1035


def _gross_to_net(row):
    amount, percent = re.fullmatch(r"(\S+) including (\d+) percent", row["item"]).groups()
    rate = TaxRate(name="one", percent=Decimal(percent))
    paper = document(invoice_line(amount, "one"), rates=(rate,), prices="with tax")
    found = totals(paper)
    assert [found.net_minor, found.tax_minor] == [cents(v) for v in row["value"].split(";")]


def _allocation(row):
    shares = [cents(value) for value in row["value"].split(";")]
    if " in 3" in row["item"]:
        assert share_equally(cents(row["item"].split(" ")[0]), 3) == shares
        return
    total, weights = re.fullmatch(r"discount (\S+) over (\S+)", row["item"]).groups()
    parts = [Fraction(weight) for weight in weights.split(";")]
    assert share_by_weight(cents(total), parts) == shares


def _float_trap(row):
    """What a binary float makes of it is wrong; the amounts typed there are kept as they are."""
    amounts = re.findall(r"\d+\.\d+", row["item"])
    for amount in amounts:
        assert major(read_amount(amount, "EUR"), "EUR") == Decimal(amount)
    assert Decimal(row["value"]) not in {Decimal("0.3"), Decimal("3.3"), Decimal(435)}


def _known_error(row):
    """A slack of 0.01 is no rule: ours is the exact amount, rounded, and nothing else."""
    for net in range(1, 400):
        tax = tax_on("", Decimal(19), net).tax_minor
        assert abs(Fraction(net * 19, 100) - tax) <= Fraction(1, 2)


def _cash_rounding(row):
    """To 0.05, halves away from zero; the difference is stated apart."""
    amount = Fraction(row["item"]) * 100
    paid, off = (Fraction(value) * 100 for value in row["value"].split(";"))
    assert (to_step(amount, 5), to_step(amount, 5) - amount) == (paid, off)


def test_cash_steps_are_those_of_the_common_locale_data():
    """CLDR: cash rounding, and cash digits of none where there are two. Where it is silent, ours is from memory."""
    common = {
        code: (rounding or 1) * 10 ** (digits - cash)
        for code, (digits, _, cash, rounding) in get_global("currency_fractions").items()
        if code != "DEFAULT"
    }
    ours = {code: STEPS[code] for code in ("CHF", "CAD", "DKK", "CZK", "NOK", "SEK")}
    assert ours == {code: common[code] for code in ours}
    assert not STEPS.keys() & {"EUR", "USD", "GBP", "JPY"}


TESTERS = {
    "minor_unit": _minor_unit, "rounding": _rounding, "vat_breakdown": _vat_breakdown, "vat_rule": _vat_rule,
    "allocation": _allocation, "float_trap": _float_trap, "known_error": _known_error, "cash_rounding": _cash_rounding,
    "gross_to_net": _gross_to_net,
}  # fmt: skip


@pytest.mark.parametrize(
    "row", TESTED, ids=lambda row: f"{key(row)}{' (from memory)' if row['how'] == 'M' else ''}"
)
def test_a_row_of_the_table_holds(row):
    TESTERS[row["kind"]](row)


def line(amount, tax):
    """A line of one item, rounded as an item is."""
    item = Item(kind="other", text="x", quantity=Decimal(1), net_minor=cents(amount), tax=tax)
    return EstimateLine(id="x", text="x", items=(item,))
