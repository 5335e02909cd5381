"""ISO 11649 and EPC069-12, against general libraries."""

import json
import re
from io import BytesIO

import pytest
import typst
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st
from numpy import asarray
from PIL import Image
from stdnum import iso11649

from witnessmark.bank import (
    BankError,
    creditor_reference,
    names_number,
    payment_code,
    references_in,
    spaced,
)

IBAN = "DE02120300000000202051"
PAY = {"name": "Halle Neun", "iban": IBAN, "amount_minor": 12_345, "currency": "EUR"}


def test_the_example_of_the_standard():
    """RF18 5390 0754 7034: the example printed with ISO 11649 (from memory; python-stdnum 2.2 has it too)."""
    assert creditor_reference("539007547034") == "RF18539007547034"
    assert spaced("RF18539007547034") == "RF18 5390 0754 7034"


@given(
    st.from_regex(r"[0-9A-Z]{1,3}[-/ ]?[0-9A-Z]{1,16}", fullmatch=True),
    st.text(" .,:;-/", max_size=3),
)
def test_each_is_valid_and_found_in_a_text(number, around):
    reference = creditor_reference(number)
    assert iso11649.is_valid(reference)
    assert references_in(f"{around}{spaced(reference)}{around}") == (reference,)
    assert references_in(f"paid {reference.lower()}, thanks") == (reference,)


@given(st.from_regex(r"[0-9]{4,16}", fullmatch=True), st.integers(4, 15), st.integers(1, 9))
def test_a_slip_of_one_digit_is_seen(number, at, by):
    """ISO 7064 MOD 97-10 finds each single wrong digit (ISO/IEC 7064, from memory)."""
    good = creditor_reference(number)
    at = min(at, len(good) - 1)
    slipped = good[:at] + str((int(good[at]) + by) % 10) + good[at + 1 :]
    assert good not in references_in(slipped)
    assert slipped not in references_in(slipped)


@pytest.mark.parametrize("number", ["", "---", "A" * 22])
def test_what_gives_no_reference_is_refused(number):
    with pytest.raises(BankError, match="gives no creditor reference"):
        creditor_reference(number)


def test_a_number_is_not_found_within_a_longer_one():
    assert names_number("invoice 2026 - 11!", "2026-11")
    assert not names_number("invoice 2026-111", "2026-11")
    assert not names_number("invoice 12026-11", "2026-11")
    assert not names_number("anything", "--")


def read(svg: str) -> str:
    """What a general reader sees in the picture, printed as on a paper."""
    paper = f"#set page(width: 60mm, height: 60mm)\n#image(bytes({json.dumps(svg)}), width: 40mm)"
    picture = Image.open(BytesIO(typst.compile(paper.encode(), format="png", ppi=200))).convert(
        "RGB"
    )
    (found,) = zxingcpp.read_barcodes(asarray(picture))
    return str(found.text)


@pytest.mark.parametrize("reference", [creditor_reference("2026-0417"), "Invoice ä 2026/417"])
def test_a_reader_reads_the_lines_of_the_standard(reference):
    """EPC069-12, version 2 (from memory): BIC and purpose empty; a reference or a text, never both."""
    lines = read(payment_code(**PAY, reference=reference)).split("\n")
    structured = reference.startswith("RF")
    told = [reference] if structured else ["", reference]
    want = ["BCD", "002", "1", "SCT", "", "Halle Neun", IBAN, "EUR123.45", "", *told]
    assert lines == want


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"currency": "USD"}, "not the euro"),
        ({"iban": IBAN[:-1] + "2"}, "no IBAN"),
        ({"amount_minor": 0}, "amount"),
        ({"amount_minor": -5}, "amount"),
        ({"name": " "}, "name"),
        ({"reference": ""}, "text"),
        ({"reference": "x" * 141}, "140"),
    ],
)
def test_what_no_code_can_be_made_of_is_said(change, told):
    with pytest.raises(BankError, match=re.compile(told, re.IGNORECASE)):
        payment_code(**{**PAY, "reference": "RF5120260417", **change})
