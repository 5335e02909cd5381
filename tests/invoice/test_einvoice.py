"""Each case as data, held against the published schemas and rules."""

from decimal import Decimal

import pytest
from hypothesis import assume, given, settings
from lxml import etree

from tests.invoice.cases import CASES
from tests.invoice.judges import faults
from tests.invoice.paper import FIRM, document, line
from tests.invoice.test_totals import adjusted, lines, sides
from witnessmark.invoice import MissingError, Off, issue, missing, totals
from witnessmark.invoice.einvoice import cii, ubl
from witnessmark.invoice.issued import Issued
from witnessmark.invoice.terms import terms

SYNTAXES = pytest.mark.parametrize("write", [ubl, cii], ids=["UBL", "CII"])
CBC = "urn:oasis:names:specification:ubl:schema:xsd:CommonBasicComponents-2"


@SYNTAXES
@pytest.mark.parametrize("case", CASES)
def test_every_case_passes_schema_and_rules(case, write):
    issued = issue(CASES[case], "e-invoice")
    assert faults(write(issued)) == []
    assert write(issued) == write(issued)


@SYNTAXES
def test_the_judges_can_tell_a_wrong_sum_and_a_wrong_form(write):
    """Else they prove nothing."""
    data = write(issue(document()))
    assert any("BR-CO-15" in fault for fault in faults(data.replace(b"119.00", b"129.00")))
    assert any("code" in fault.lower() for fault in faults(data.replace(b"C62", b"C6X")))
    root = etree.fromstring(data)
    root.append(root[0])
    assert faults(etree.tostring(root)) != []


@SYNTAXES
@settings(max_examples=25)
@given(lines=lines, adjusted=adjusted, prices=sides)
def test_whatever_is_sold_passes_schema_and_rules(write, lines, adjusted, prices):
    paper = document(*lines, adjustments=adjusted, prices=prices, buyer=FIRM)
    assume(not missing(paper, "e-invoice"))  # less than nothing, or no price to take a discount off
    assert faults(write(issue(paper))) == []


@SYNTAXES
def test_what_is_not_complete_is_not_written(write):
    paper = document(buyer=None)
    with pytest.raises(MissingError, match="it names no buyer"):
        write(Issued(document=paper, totals=totals(paper)))


@settings(max_examples=50)
@given(lines=lines, prices=sides)
def test_price_times_quantity_less_discount_is_the_sum_of_each_line(lines, prices):
    paper = document(*lines, prices=prices, buyer=FIRM)
    assume(not missing(paper, "e-invoice"))
    for each in terms(issue(paper))["BG-25"]:
        off = sum(Decimal(one["amount"]) for one in each.get("BG-27", []))
        whole = Decimal(each["BT-129"]) * Decimal(each["BT-146"])
        assert abs(whole - off - Decimal(each["BT-131"])) <= Decimal("0.005")


def test_a_discount_typed_with_tax_goes_off_without_it():
    """119.00 less 11.90, with 19 %: 100 less 10."""
    off = Off(percent=Decimal(10), reason="regular")
    (each,) = terms(issue(document(line(119, discount=off), prices="with tax")))["BG-25"]
    (one,) = each["BG-27"]
    assert (Decimal(each["BT-146"]), one["amount"], each["BT-131"]) == (100, "10.00", "90.00")


def test_the_smallest_coin_is_of_the_documents_currency():
    root = etree.fromstring(ubl(issue(CASES["paid in cash, smallest coin"])))
    (rounding,) = root.iter(f"{{{CBC}}}PayableRoundingAmount")
    assert (rounding.get("currencyID"), rounding.text) == ("CHF", "-0.02")


def test_the_word_for_an_advance_is_translated():
    data = ubl(issue(CASES["advance deducted"]), {"Advance invoice": "Anzahlung"}.__getitem__)
    assert b"Anzahlung A-1, 2026-05-04" in data
