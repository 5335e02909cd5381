"""Money rules against ISO 4217, EN 16931 and worked examples, as gathered in `data/money.csv`.

The table names the source of each row (ISO 4217 list; EN 16931 BR-CO-10, BR-CO-17; published
examples) and, in `how`, whether a text was seen (S), the row computed by us (L) or recalled (M).
Rows on cash rounding and on prices that include tax are of no use here: nothing is priced so.
"""

import csv
import re
from collections import Counter
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from witnessmark.money import Item, Line, exponent, read_amount
from witnessmark.money.currency import major
from witnessmark.money.estimate import tax_on, taxes_on
from witnessmark.money.rounding import half_up, share_by_weight, share_equally

ROWS = list(csv.DictReader((Path(__file__).parent / "data" / "money.csv").open(encoding="utf-8")))


def rows(kind, quantity=None):
    return [row for row in ROWS if row["kind"] == kind and quantity in {None, row["quantity"]}]


def cents(text):
    return half_up(Fraction(text) * 100)


def test_the_table_is_whole():
    kinds = Counter(row["kind"] for row in ROWS)
    assert (
        kinds["minor_unit"],
        kinds["vat_breakdown"],
        kinds["rounding"],
        kinds["allocation"],
    ) == (27, 8, 14, 3)


@pytest.mark.parametrize("row", rows("minor_unit", "exponent"), ids=lambda row: row["item"])
def test_a_currency_has_the_decimals_of_iso_4217(row):
    assert exponent(row["item"]) == int(row["value"])


@pytest.mark.parametrize("row", rows("rounding"), ids=lambda row: row["item"])
def test_rounding_is_half_up_away_from_zero(row):
    """EN 16931 leaves the direction open; the published half-up examples, not the half-even ones."""
    places = 0 if row["condition"] == "whole number" else 2
    rounded = Decimal(half_up(Fraction(row["item"]) * 10**places)).scaleb(-places)
    assert rounded == Decimal(row["value"].split(";")[0])


@pytest.mark.parametrize(
    "row", rows("vat_breakdown", "net;tax;gross"), ids=lambda row: row["item"][:40]
)
def test_tax_is_taken_once_per_rate_on_the_sum_of_rounded_lines(row):
    """EN 16931, BR-CO-10 and BR-CO-17: lines are rounded first, the tax once."""
    amounts, percent = re.fullmatch(r"(.+) at (\d+) percent", row["item"]).groups()
    taxes = taxes_on(
        [line(amount, "one") for amount in amounts.split(";")], {"one": Decimal(percent)}
    )
    net, tax, gross = (cents(value) for value in row["value"].split(";"))
    assert [(each.net_minor, each.tax_minor) for each in taxes] == [(net, tax)]
    assert net + tax == gross


def test_each_rate_has_its_own_tax():
    """The row on two rates: 28.51 and 1.40."""
    (row,) = (row for row in ROWS if row["item"].startswith("mixed"))
    lines = [line("100.00", "full"), line("50.05", "full"), line("19.99", "less")]
    taxes = taxes_on(lines, {"full": Decimal(19), "less": Decimal(7)})
    assert [each.tax_minor for each in taxes] == [cents(value) for value in row["value"].split(";")]


def test_a_credit_is_rounded_as_its_charge_is():
    """The Danish example of EN 16931: half away from zero, not half-even."""
    (row,) = (row for row in ROWS if row["item"].startswith("credit"))
    assert tax_on("", Decimal(25), cents("-625743.54")).tax_minor == cents(row["value"])


def test_tax_is_not_summed_up_line_by_line():
    """The published example of the other method (0.24 for twice 1.24 at 10 %): not ours."""
    (row,) = (row for row in ROWS if row["condition"] == "tax per line then summed")
    (tax,) = taxes_on([line("1.24", "one"), line("1.24", "one")], {"one": Decimal(10)})
    assert (tax.tax_minor, cents(row["value"])) == (25, 24)


@pytest.mark.parametrize("row", rows("allocation"), ids=lambda row: row["item"])
def test_sharing_leaves_no_minor_unit_over(row):
    shares = [cents(value) for value in row["value"].split(";")]
    if " in 3" in row["item"]:
        assert share_equally(cents(row["item"].split(" ")[0]), 3) == shares
    else:
        total, weights = re.fullmatch(r"discount (\S+) over (\S+)", row["item"]).groups()
        assert (
            share_by_weight(cents(total), [Fraction(weight) for weight in weights.split(";")])
            == shares
        )


@pytest.mark.parametrize("amount", ["0.30", "3.30", "434.99", "4.35", "1.10"])
def test_an_amount_typed_is_the_amount_kept(amount):
    """The rows on binary floats: 4.35 * 100 is 434.999… there, so no amount ever is one."""
    assert major(read_amount(amount, "EUR"), "EUR") == Decimal(amount)
    assert len(rows("float_trap")) == 3


def line(amount, tax):
    """A line of one item, rounded as an item is."""
    item = Item(kind="other", text="x", quantity=Decimal(1), net_minor=cents(amount), tax=tax)
    return Line(id="x", text="x", items=(item,))
