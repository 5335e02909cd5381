"""What a payment is for: by reference, by amount and name; unsure ones are never proposed."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.bank import BankEntry, OpenInvoice, creditor_reference, names_agree, proposals


def invoice(number: str, buyer: str) -> OpenInvoice:
    reference = creditor_reference(number)
    return OpenInvoice(
        number=number, reference=reference, buyer=buyer, open_minor=5000, currency="EUR"
    )


MARA, NUNO = invoice("2026-1", "Mara Quell"), invoice("2026-11", "Nuno Falk")


def paid(minor: int = 5000, **said) -> BankEntry:
    return BankEntry(key="k", day=date(2026, 11, 30), amount_minor=minor, currency="EUR", **said)


@pytest.mark.parametrize(
    ("entry", "invoice", "by"),
    [
        (paid(references=(MARA.reference,), name="Somebody Else"), "2026-1", "reference"),
        (paid(1200, references=(MARA.reference,)), "2026-1", "reference"),  # a part of it
        (paid(text="Rechnung 2026/11"), "2026-11", "reference"),  # not 2026-1
        (paid(text="RG 20261"), "2026-1", "reference"),
        (paid(name="QUELL, MARA"), "2026-1", "amount and name"),
    ],
)
def test_what_is_sure_is_proposed(entry, invoice, by):
    (made,) = proposals([entry], [MARA, NUNO])
    assert (made.invoice, made.by, made.possible) == (invoice, by, ())


@pytest.mark.parametrize(
    ("entry", "possible"),
    [
        (paid(), ("2026-1", "2026-11")),  # two of that amount
        (paid(4900, name="Mara Quell"), ("2026-1",)),  # the name alone
        (paid(text="2026-1 and 2026-11"), ("2026-1", "2026-11")),  # both at once
        (paid(name="Quell"), ("2026-1", "2026-11")),  # one word of a name is many people's
        (paid(text="12026-1"), ("2026-1", "2026-11")),  # a part of another number
        (paid(77), ()),
    ],
)
def test_what_is_not_sure_is_left_to_a_person(entry, possible):
    (made,) = proposals([entry], [MARA, NUNO])
    assert (made.invoice, made.by, made.possible) == ("", None, possible)


def test_two_payments_of_one_amount_by_one_name_are_not_both_for_one_invoice():
    alike = [paid(name="Mara Quell"), paid(name="Mara Quell")]
    assert [one.invoice for one in proposals(alike, [MARA, NUNO])] == ["", ""]
    sure = [paid(references=(MARA.reference,)), paid(name="Mara Quell")]
    assert [one.invoice for one in proposals(sure, [MARA, NUNO])] == ["2026-1", ""]


def test_what_left_the_account_or_came_back_is_for_no_invoice():
    assert proposals([paid(-5000), paid(5000, reversal=True)], [MARA]) == ()
    dollars = paid(references=(MARA.reference,)).model_copy(update={"currency": "USD"})
    assert proposals([dollars], [MARA])[0].possible == ()


@pytest.mark.parametrize(
    ("one", "other", "agree"),
    [
        ("Jörg Müller", "MUELLER JOERG", True), ("Jörg Müller", "Muller, Jorg", True),
        ("Groß & Söhne", "GROSS SOEHNE", True), ("Mara Quell", "Mara Anna Quell", True),
        ("Mara Quell", "Mara Falk", False), ("Mara", "Mara Quell", False), ("", "", False),
    ],
)  # fmt: skip
def test_names(one, other, agree):
    assert names_agree(one, other) is agree
    assert names_agree(other, one) is agree


numbers = st.from_regex(r"[A-Z]{0,2}20[0-9]{2}-[0-9]{1,4}", fullmatch=True)


@given(st.lists(numbers, unique_by=lambda n: n.replace("-", ""), min_size=1, max_size=8), st.data())
def test_a_reference_as_written_finds_its_own_invoice_alone(drawn, data):
    """However it is spaced and whatever stands around it."""
    invoices = [invoice(number, "Mara Quell") for number in drawn]
    meant = data.draw(st.sampled_from(invoices))
    (made,) = proposals([paid(1, references=(meant.reference,))], invoices)
    assert (made.invoice, made.by) == (meant.number, "reference")
