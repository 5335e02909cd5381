"""Our sums against the published examples of EN 16931 (CEN/TC 434, eInvoicing-EN16931, `ubl/examples`).

Prices, quantities and sums are those of the files named; nothing else of them stands here.
"""

from decimal import Decimal

from tests.invoice.paper import document, line
from witnessmark.invoice import Adjustment, TaxRate, totals

RATES = (
    TaxRate(name="25", percent=Decimal(25)),
    TaxRate(name="15", percent=Decimal(15)),
    TaxRate(name="12", percent=Decimal(12)),
    TaxRate(name="E", treatment="exempt", reason="exempt"),
)


def sold(*lines, **kwargs):
    """Quantity, price and rate of each line."""
    made = [line(price, tax, quantity=Decimal(quantity)) for quantity, price, tax in lines]
    return totals(document(*made, rates=RATES, **kwargs))


def taxes(found):
    return [(each.net_minor, each.tax_minor) for each in found.taxes]


def test_example_2_things_taken_back_a_discount_a_charge_and_half_a_cent():
    """25 % of 1460.50 is 365.125; the example has 365.13. Its line 1 has a discount and a charge of 12.00 that meet."""
    found = sold(
        ("1", "1273.00", "25"), ("-1", "3.96", "15"), ("2", "2.48", "15"), ("-1", "25.00", "E"), ("250", "0.75", "25"),
        currency="NOK", paid_minor=100000,
        adjustments=[
            Adjustment(amount_minor=10000, reason="Promotion discount", tax="25"),
            Adjustment(kind="charge", amount_minor=10000, reason="Freight", tax="25"),
        ],
    )  # fmt: skip
    assert [each.net_minor for each in found.lines] == [127300, -396, 496, -2500, 18750]
    assert taxes(found) == [(146050, 36513), (100, 15), (-2500, 0)]
    assert (found.net_minor, found.tax_minor, found.gross_minor) == (143650, 36528, 180178)
    assert (found.paid_minor, found.due_minor) == (100000, 80178)


def test_example_4_two_rates():
    found = sold(
        ("1000", "1.00", "25"), ("100", "5.00", "25"), ("500", "5.00", "12"), currency="DKK"
    )
    assert taxes(found) == [(150000, 37500), (250000, 30000)]
    assert (found.net_minor, found.tax_minor, found.due_minor) == (400000, 67500, 467500)


def test_example_5_a_tenth_off_and_on_and_half_of_it_paid_before():
    found = sold(
        ("1000", "1.00", "25"), ("100", "5.00", "25"), ("500", "5.00", "12"), currency="DKK", paid_minor=233750,
        adjustments=[
            Adjustment(percent=Decimal(10), reason="Loyal customer", tax="25"),
            Adjustment(kind="charge", percent=Decimal(10), reason="Packaging", tax="25"),
        ],
    )  # fmt: skip
    assert [each.net_minor for each in found.shares] == [-15000, 15000]
    assert (found.gross_minor, found.due_minor) == (467500, 233750)


def test_creditnote_1_of_no_tax():
    found = sold(("1.00", "100.11", "E"), kind="credit note")
    assert (taxes(found), found.due_minor) == ([(10011, 0)], 10011)
