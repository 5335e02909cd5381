"""Sums and taxes of a document, against fractions and by hand."""

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from pydantic import ValidationError

from tests.invoice.paper import FULL, LESS, document, line
from witnessmark.invoice import (
    Adjustment,
    Advance,
    InvoiceError,
    Line,
    Off,
    TaxRate,
    TaxSum,
    margin_tax,
    totals,
)

prices = st.decimals(0, 5000, places=3)
quantities = st.decimals(-20, 20, places=2).filter(bool)
taxes = st.sampled_from(["full", "less", "deposit", "small", "reverse", "used", "zero"])
offs = st.none() | st.builds(
    Off, percent=st.decimals(Decimal("0.01"), 100, places=2), reason=st.just("regular")
)
lines = st.lists(
    st.builds(Line, text=st.just("x"), quantity=quantities, price=prices, tax=taxes, discount=offs),
    min_size=1,
    max_size=8,
)
adjusted = st.lists(
    st.builds(
        Adjustment,
        kind=st.sampled_from(["discount", "charge"]),
        percent=st.decimals(Decimal("0.01"), 60, places=2),
        reason=st.just("season"),
        tax=st.none() | taxes,
    ),
    max_size=2,
)
sides = st.sampled_from(["without tax", "with tax"])


def sums(found):
    return [
        (each.treatment, str(each.percent), each.net_minor, each.tax_minor) for each in found.taxes
    ]


def half_away(value):
    """Rounding as `money.rounding` has it, said otherwise."""
    whole = int(abs(value) * 2)
    return (whole // 2 + whole % 2) * (1 if value >= 0 else -1)


@given(lines, adjusted, sides)
def test_lines_shares_and_taxes_sum_exactly_and_tax_is_within_a_minor_unit(lines, adjusted, prices):
    paper = document(*lines, adjustments=adjusted, prices=prices)
    assume(not adjusted or any(each.tax != "deposit" for each in lines))  # else there is no price
    found = totals(paper)
    parts = sum(each.net_minor for each in (*found.lines, *found.shares))
    assert found.net_minor == parts == sum(each.net_minor for each in found.taxes)
    assert found.gross_minor == found.net_minor + found.tax_minor == found.due_minor
    for each in found.taxes:
        exact = each.net_minor * Fraction(each.percent) / 100
        if prices == "without tax":
            assert each.tax_minor == half_away(exact)
        assert abs(each.tax_minor - exact) < 1


@given(lines)
def test_with_tax_the_whole_is_what_was_typed(lines):
    found = totals(document(*lines, prices="with tax"))
    assert found.gross_minor == sum(each.priced_minor - each.off_minor for each in found.lines)
    for each, one in zip(found.lines, lines, strict=True):
        percent = {"full": 19, "less": 7}.get(one.tax, 0)
        exact = Fraction(100 * (each.priced_minor - each.off_minor), 100 + percent)
        assert abs(each.net_minor - exact) <= 1


@given(lines, adjusted, sides)
def test_a_document_taken_back_is_its_mirror(lines, adjusted, prices):
    """Halves are rounded away from zero: what was charged is what comes back, to the minor unit."""
    back = [each.model_copy(update={"quantity": -each.quantity}) for each in lines]
    one, other = (totals(document(*some, prices=prices)) for some in (lines, back))
    assert (one.net_minor, one.tax_minor) == (-other.net_minor, -other.tax_minor)


@given(lines, st.lists(st.fractions(0, 1), min_size=1, max_size=3), sides)
def test_advances_and_the_rest_sum_to_the_whole(lines, fractions, prices):
    """Whatever was taxed when it was paid, by rate, nothing is taxed twice or lost."""
    whole = totals(document(*lines, prices=prices))
    advances = [
        Advance(
            number=f"A{place}",
            day=date(2026, 4, 1 + place),
            taxes=[
                each.model_copy(
                    update={
                        "net_minor": int(each.net_minor * part),
                        "tax_minor": half_away(
                            int(each.net_minor * part) * Fraction(each.percent) / 100
                        ),
                    }
                )
                for each in whole.taxes
            ],
        )
        for place, part in enumerate(fractions)
    ]
    rest = totals(document(*lines, prices=prices, advances=advances))
    before = [tax for advance in advances for tax in advance.taxes]
    assert rest.whole == whole.taxes
    assert rest.net_minor + sum(tax.net_minor for tax in before) == whole.net_minor
    assert rest.tax_minor + sum(tax.tax_minor for tax in before) == whole.tax_minor
    for each in rest.taxes:
        exact = each.net_minor * Fraction(each.percent) / 100
        assert abs(each.tax_minor - exact) <= Fraction(len(advances) + 2, 2)


def test_several_rates_one_by_hand():
    """2 h at 60 and a part of 12.50 at 19 %, a book of 9.99 at 7 %: 132.50 and 9.99; 25.175 and 0.6993 of tax."""
    found = totals(document(line(60, quantity=Decimal(2)), line("12.50"), line("9.99", "less")))
    assert sums(found) == [("standard", "19", 13250, 2518), ("standard", "7", 999, 70)]
    assert (found.net_minor, found.tax_minor, found.gross_minor) == (14249, 2588, 16837)


def test_two_names_of_one_per_cent_are_taxed_as_one():
    twin = TaxRate(name="parts", percent=Decimal("19.00"))
    found = totals(document(line("0.03"), line("0.03", "parts"), rates=(FULL, twin)))
    assert sums(found) == [("standard", "19", 6, 1)]


@pytest.mark.parametrize("name", ["small", "reverse", "used", "zero", "deposit"])
def test_without_tax_nothing_is_charged_but_the_price(name):
    found = totals(document(line("89.90", name)))
    assert (found.net_minor, found.tax_minor, found.due_minor) == (8990, 0, 8990)


def test_a_deposit_stands_outside_tax_and_discounts_leave_it_alone():
    """An exchange part at 200, its deposit 50, the old part given back: 10 % off the price alone."""
    paper = document(
        line(200), line(50, "deposit"), line(50, "deposit", quantity=Decimal(-1)),
        adjustments=[Adjustment(percent=Decimal(10), reason="regular")],
    )  # fmt: skip
    found = totals(paper)
    assert sums(found) == [("standard", "19", 18000, 3420), ("outside tax", "0", 0, 0)]
    assert [(each.tax, each.net_minor) for each in found.shares] == [("full", -2000)]


def test_a_discount_is_shared_over_the_rates_by_largest_remainder():
    """10.00 over 75.00, 19.99 and 5.01: 7.50, 2.00, 0.50 (the worked example of the table of money)."""
    third = TaxRate(name="third", percent=Decimal(3))
    paper = document(
        line("75.00"), line("19.99", "less"), line("5.01", "third"), rates=(FULL, LESS, third),
        adjustments=[Adjustment(amount_minor=1000, reason="goodwill")],
    )  # fmt: skip
    assert [each.net_minor for each in totals(paper).shares] == [-750, -200, -50]


def test_a_discount_and_a_charge_of_one_rate():
    off = Adjustment(amount_minor=500, reason="scratched", tax="less")
    on = Adjustment(kind="charge", amount_minor=490, reason="postage", tax="full")
    found = totals(document(line(100), line(50, "less"), adjustments=[off, on]))
    assert sums(found) == [("standard", "19", 10490, 1993), ("standard", "7", 4500, 315)]


def test_a_line_is_rounded_before_its_discount():
    found = totals(document(line("33.335", discount=Off(percent=Decimal(50), reason="half"))))
    (one,) = found.lines
    assert (one.priced_minor, one.off_minor, one.net_minor) == (3334, 1667, 1667)


def test_a_discount_beyond_the_price_is_refused_where_it_stands():
    with pytest.raises(InvoiceError, match=r"lines\[1\].discount.*€10.01 is more.*at most €10.00"):
        totals(document(line(1), line(10, discount=Off(amount_minor=1001, reason="x"))))
    with pytest.raises(InvoiceError, match=r"adjustments\[0\].*more than"):
        totals(document(line(1), adjustments=[Adjustment(amount_minor=101, reason="x")]))
    with pytest.raises(InvoiceError, match=r"adjustments\[0\].*more than"):
        totals(document(line(0), adjustments=[Adjustment(amount_minor=1, reason="x")]))


def test_in_cash_the_sum_left_is_rounded_once_and_told():
    """12.33 in a currency whose smallest coin is 0.05: 12.35 (Unicode CLDR, cash rounding of CHF)."""
    paper = document(
        line("12.33", "zero"), currency="CHF", cash_step_minor=5, payment=None, kind="receipt"
    )
    found = totals(paper)
    assert (found.gross_minor, found.rounding_minor, found.due_minor) == (1233, 2, 1235)


def test_what_was_paid_is_taken_off_what_is_due_and_off_nothing_else():
    found = totals(document(line(100), paid_minor=5000))
    assert (found.tax_minor, found.gross_minor, found.paid_minor, found.due_minor) == (
        1900, 11900, 5000, 6900,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("currency", "price", "gross"), [("JPY", "1234.5", 1470), ("KWD", "1.2345", 1470)]
)
def test_a_currency_is_rounded_to_its_own_minor_unit(currency, price, gross):
    """ISO 4217: none for JPY, three decimals for KWD. 1235 and 19 % of it, 234.65."""
    assert totals(document(line(price), currency=currency)).gross_minor == gross


def test_the_tax_of_the_margin_is_within_the_margin():
    """Bought for 100, sold for 219: 119 of margin hold 19 of tax (Directive 2006/112/EC, Article 315)."""
    assert margin_tax(21900, 10000, Decimal(19)) == 1900
    assert margin_tax(9000, 10000, Decimal(19)) == 0


def test_an_advance_under_a_rate_that_is_gone_stands_below_zero():
    old = TaxSum(treatment="standard", percent=Decimal(16), net_minor=1000, tax_minor=160)
    paper = document(line(100), advances=[Advance(number="A1", day=date(2026, 1, 1), taxes=[old])])
    assert sums(totals(paper)) == [("standard", "19", 10000, 1900), ("standard", "16", -1000, -160)]


@pytest.mark.parametrize(
    ("said", "wrong"),
    [
        (lambda: line(-1), "greater than or equal to 0"),
        (lambda: line("1e10"), "less than or equal"),
        (lambda: line(1, quantity=Decimal(0)), "leave it out"),
        (lambda: line(1, quantity=Decimal("1e6")), "10000"),
        (lambda: line("NaN"), "finite"),
        (lambda: line(1, text=" \x07 "), "at least 1 item"),
        (lambda: TaxRate(name="x", percent=Decimal(101)), "100"),
        (lambda: TaxRate(name="x", percent=Decimal(-1)), "0"),
        (lambda: TaxRate(name="x", percent=Decimal(0)), "above 0"),
        (lambda: TaxRate(name="x", treatment="exempt", percent=Decimal(5)), "must be 0"),
        (lambda: Off(reason="x"), "one of them"),
        (lambda: Off(percent=Decimal(5), amount_minor=5, reason="x"), "one of them"),
        (lambda: document(line(1, "none")), "no tax rate is named “none”"),
        (lambda: document(rates=(FULL, FULL)), "one name"),
        (lambda: document(currency="EUX"), "ISO 4217"),
        (lambda: document(paid_minor=-1), "greater than or equal to 0"),
    ],
)
def test_what_cannot_be_meant_is_refused(said, wrong):
    with pytest.raises(ValidationError, match=wrong):
        said()


def test_a_sum_too_large_to_be_meant_is_refused():
    with pytest.raises(InvoiceError, match="that large"):
        totals(document(line(10**9, quantity=Decimal(100))))
