"""What a document must say, and how it is kept once it is issued."""

import json
from datetime import date
from decimal import Decimal

import pytest
from pydantic import ValidationError

from tests.invoice.paper import FIRM, OWNER, SHOP, TRANSFER, document, line
from witnessmark.invoice import (
    PARTICULARS,
    InvoiceError,
    MissingError,
    Party,
    Payment,
    Reference,
    TaxRate,
    advance_of,
    credit_of,
    from_canonical,
    issue,
    missing,
    totals,
)
from witnessmark.kept_versions import KeptError

EARLIER = (Reference(number="2026-16", day=date(2026, 5, 1)),)


def places(paper, form=None):
    return [fault.place for fault in missing(paper, form)]


def without(**kwargs):
    return SHOP.model_copy(update=kwargs)


def test_what_says_everything_may_be_issued_in_every_form():
    paper = document()
    registered = paper.model_copy(update={"seller": SHOP})
    for form in ("receipt", "small invoice", "invoice", "e-invoice"):
        assert missing(registered, form) == ()


def test_every_particular_names_its_source():
    known = ("Directive 2006/112/EC, Article", "BR-", "ISO 13616", "common practice, no source")
    assert all(each.source.startswith(known) for each in PARTICULARS)


@pytest.mark.parametrize(
    ("paper", "place", "held_by"),
    [
        (document(number=""), "number", "receipt small full data"),
        (document(seller=without(name="")), "seller.name", "receipt small full data"),
        (document(seller=without(street="")), "seller.street", "small full data"),
        (document(seller=without(country="")), "seller.country", "data"),
        (
            document(seller=without(vat_number="", registration="HRB 1")),
            "seller.tax_number",
            "small full data",
        ),
        (
            document(seller=without(vat_number="", tax_number="12/345")),
            "seller.registration",
            "data",
        ),
        (document(buyer=None), "buyer.name", "full data"),
        (document(buyer=OWNER.model_copy(update={"city": ""})), "buyer.street", "full data"),
        (document(buyer=OWNER.model_copy(update={"country": ""})), "buyer.country", "data"),
        (document(line(9, "reverse")), "buyer.vat_number", "small full data"),
        (
            document(
                line(9, "reverse"), seller=without(vat_number="", registration="1"), buyer=FIRM
            ),
            "seller.vat_number",
            "small full data",
        ),
        (document(supplied_on=None), "supplied_on", "small full data"),
        (document(kind="credit note"), "references", "receipt small full data"),
        (document(kind="corrected invoice"), "references", "receipt small full data"),
        (document(due_on=None), "due_on", "data"),
        (document(due_on=date(2026, 5, 3)), "due_on", "receipt small full data"),
        (document(payment=Payment()), "payment.iban", "data"),
        (
            document(payment=Payment(iban="GB82 WEST 1234 5698 7654 23")),
            "payment.iban",
            "receipt small full data",
        ),
        (
            document(line(9, "free"), rates=(TaxRate(name="free", treatment="exempt"),)),
            "rates[0].reason",
            "small full data",
        ),
        (document(kind="receipt"), "kind", "data"),
        (document(seller=without(country="XX")), "seller.country", "data"),
        (document(seller=without(vat_number="U1234")), "seller.vat_number", "data"),
        (document(currency="KWD"), "currency", "data"),
        (document(line(9, quantity=Decimal(-1)), due_on=None), "lines", "receipt small full data"),
    ],
)
def test_what_is_missing_is_told_at_its_field_in_the_forms_that_want_it(paper, place, held_by):
    forms = {
        "receipt": "receipt",
        "small": "small invoice",
        "full": "invoice",
        "data": "e-invoice",
    }
    found = [short for short, form in forms.items() if place in places(paper, form)]
    assert found == held_by.split()


def test_an_empty_document_tells_all_that_it_needs_at_once():
    paper = document(
        seller=Party(),
        buyer=None,
        number="",
        supplied_on=None,
        payment=None,
    ).model_copy(update={"lines": ()})
    assert places(paper) == [
        "number", "seller.name", "seller.street", "buyer.name", "buyer.street", "lines", "supplied_on",
    ]  # fmt: skip
    with pytest.raises(MissingError, match="number: it has no number; give the next") as error:
        issue(paper)
    assert [fault.place for fault in error.value.faults] == places(paper)


def test_a_receipt_is_held_to_less_than_an_invoice():
    till = document(kind="receipt", buyer=None, supplied_on=None, payment=None)
    assert missing(till) == ()
    assert "buyer.name" in places(till, "invoice")


def test_a_fault_of_the_sums_is_told_among_the_others():
    from witnessmark.invoice import Off

    paper = document(line(1, discount=Off(amount_minor=500, reason="x")), number="")
    assert places(paper) == ["number", "lines[0].discount"]


def test_an_issued_document_is_read_back_as_it_was():
    issued = issue(document(line("33.335"), line(50, "deposit"), prices="with tax"))
    again = from_canonical(issued.canonical())
    assert (again, again.hash) == (issued, issued.hash)


def test_sums_that_were_changed_are_not_read():
    said = json.loads(issue(document()).canonical())
    said["totals"]["due_minor"] -= 1
    with pytest.raises(ValidationError, match="do not agree"):
        from_canonical(json.dumps(said).encode())


@pytest.mark.parametrize("form", [b"[]", b"{}", b'{"format": 2}'])
def test_what_is_no_document_or_of_a_newer_version_is_refused_in_words(form):
    with pytest.raises(KeptError, match="the kept document"):
        from_canonical(form)


def test_a_paid_advance_is_deducted_with_its_tax():
    """1000 of work; 300 and its tax paid before: 700 and its tax are left."""
    advance = issue(document(line(300), kind="advance invoice", number="A1"))
    final = issue(document(line(1000), advances=[advance_of(advance)]))
    assert (final.totals.net_minor, final.totals.tax_minor) == (70000, 13300)
    assert final.totals.due_minor + advance.totals.due_minor == 119000
    with pytest.raises(InvoiceError, match="no advance invoice"):
        advance_of(final)


def test_an_advance_is_deducted_once():
    advance = advance_of(issue(document(line(3), kind="advance invoice", number="A1")))
    with pytest.raises(ValidationError, match="deducted twice"):
        document(line(9), advances=[advance, advance])


def test_more_in_advance_than_it_came_to_is_paid_back():
    advance = advance_of(issue(document(line(300), kind="advance invoice", number="A1")))
    assert issue(document(line(200), advances=[advance])).totals.due_minor == -11900


def test_a_credit_note_takes_the_whole_back_and_names_it():
    issued = issue(document(line("89.90"), line(50, "deposit"), paid_minor=100))
    note = credit_of(issued, number="C-1", series="C", issued_on=date(2026, 6, 1))
    assert note.references == (Reference(number="2026-17", day=date(2026, 5, 4)),)
    assert totals(note).gross_minor == issued.totals.gross_minor
    assert (note.payment, note.due_on, note.paid_minor) == (None, None, 0)
    credit = issue(note)
    with pytest.raises(InvoiceError, match="not credited"):
        credit_of(credit, number="C-2", series="C", issued_on=date(2026, 6, 2))


def test_the_account_of_the_tests_is_the_published_example():
    """ISO 13616, the example of the registry of IBANs."""
    assert TRANSFER.iban.replace(" ", "") == "GB82WEST12345698765432"
