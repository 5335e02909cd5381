"""Tables for other programs: what a spreadsheet would run is a text, and a number stays one."""

import pytest

from witnessmark.shop.responses import harmless


@pytest.mark.parametrize("number", ["-10.0", "1500", "-1e+06", "0.25"])
def test_a_number_stays_a_number(number):
    assert harmless(number) == number


@pytest.mark.parametrize("text", ["=1+1", "+44 20 7946 0000", "-2+3", "@SUM(A1)", "\t=1", "-"])
def test_what_would_be_a_formula_begins_with_an_apostrophe(text):
    assert harmless(text) == f"'{text}"
