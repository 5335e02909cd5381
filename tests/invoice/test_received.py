"""A supplier's invoice is read back as it was written, and what is hostile is refused."""

import zlib
from contextlib import suppress
from datetime import date
from decimal import Decimal
from io import BytesIO

import pikepdf
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.invoice.cases import CASES
from tests.invoice.paper import FIRM, document, line
from tests.invoice.printed import archive
from tests.invoice.test_totals import adjusted, lines, sides
from witnessmark.invoice import InvoiceError, issue, missing
from witnessmark.invoice.einvoice import cii, ubl
from witnessmark.invoice.hybrid import hybrid
from witnessmark.invoice.received import received
from witnessmark.invoice.safe_xml import MOST_BYTES
from witnessmark.money.currency import major

SYNTAXES = pytest.mark.parametrize("write", [ubl, cii], ids=["UBL", "CII"])
PLAIN = issue(document(line(100, text="gasket", quantity=Decimal(2))))


def carrying(*files, **options):
    """A PDF with files in it."""
    pdf = pikepdf.new()
    pdf.add_blank_page()
    for name, data in files:
        pdf.attachments[name] = pikepdf.AttachedFileSpec(pdf, data, filename=name)
    written = BytesIO()
    pdf.save(written, **options)
    return written.getvalue()


@SYNTAXES
@pytest.mark.parametrize("case", CASES)
def test_every_case_is_read_as_it_was_written(case, write):
    issued = issue(CASES[case], "e-invoice")
    paper, sums, found = issued.document, issued.totals, received(write(issued))

    def money(minor):
        return major(minor, paper.currency)

    assert found.doubts == ()
    assert (found.number, found.issued_on, found.currency) == (
        paper.number, paper.issued_on, paper.currency,
    )  # fmt: skip
    assert found.credit == (paper.kind == "credit note")
    assert (found.net, found.tax, found.gross, found.paid, found.rounding, found.due) == tuple(
        map(money, (sums.net_minor, sums.tax_minor, sums.gross_minor, sums.paid_minor, sums.rounding_minor,
                    sums.due_minor))
    )  # fmt: skip
    for each, one, sum_ in zip(found.lines, paper.lines, sums.lines, strict=False):
        assert (each.quantity, each.unit, each.net) == (
            one.quantity, one.unit, money(sum_.net_minor),
        )  # fmt: skip
    assert len(found.lines) == len(paper.lines) + sum(len(each.taxes) for each in paper.advances)
    assert (found.seller.name, found.buyer.name) == (paper.seller.name, paper.buyer.name)
    assert found.texts == paper.texts


@SYNTAXES
def test_everything_said_of_the_parties_is_read(write):
    issued = issue(CASES["everything said"])
    found = received(write(issued))
    spaceless = issued.document.seller.vat_number.replace(" ", "")
    assert found.seller == issued.document.seller.model_copy(update={"vat_number": spaceless})
    assert found.buyer == issued.document.buyer
    assert (found.order_number, found.iban, found.payment_reference) == (
        "O-9", "GB82WEST12345698765432", "17",
    )  # fmt: skip


@SYNTAXES
@settings(max_examples=20)
@given(lines=lines, adjusted=adjusted, prices=sides)
def test_whatever_is_sold_comes_back_and_its_price_times_quantity_is_its_sum(
    write, lines, adjusted, prices
):
    paper = document(*lines, adjustments=adjusted, prices=prices, buyer=FIRM)
    assume(not missing(paper, "e-invoice"))
    issued = issue(paper)
    found = received(write(issued))
    assert found.doubts == ()
    for each, one, sums in zip(found.lines, lines, issued.totals.lines, strict=True):
        assert each.net == major(sums.net_minor, "EUR")
        if not one.discount:
            assert abs(each.quantity * each.price - each.net) <= Decimal("0.005")


def test_an_invoice_within_a_pdf_is_found_among_other_files():
    data = carrying(("notes.txt", b"x"), ("other.xml", b"<a/>"), ("factur-x.xml", cii(PLAIN)))
    assert received(data).lines == received(cii(PLAIN)).lines
    assert received(hybrid(archive(), PLAIN)) == received(cii(PLAIN))


@pytest.mark.parametrize("country", ["de", "ÄÖ", "DEU", "D1"])
def test_a_country_that_is_none_is_left_open(country):
    data = ubl(PLAIN).replace(b">DE<", f">{country}<".encode())
    assert received(data).seller.country == received(data).buyer.country == ""


def test_sums_that_do_not_agree_are_told_and_not_refused():
    found = received(ubl(PLAIN).replace(b">238.00<", b">283.00<", 1))
    assert found.doubts == (
        "sum and tax: 238.00; the sum with tax: 283.00",
        "what is left of it: 283.00; what is due: 238.00",
    )
    assert (found.gross, found.due) == (Decimal("283.00"), Decimal("238.00"))


@pytest.mark.parametrize(
    ("sum_", "said"),
    [
        (b"LineExtensionAmount", "lines, discounts and charges: 210.00; the sum without tax: 200.00"),
        (b"TaxAmount", "the taxes: 48.00; the tax: 38.00"),
        (b"PayableAmount", "what is left of it: 238.00; what is due: 248.00"),
    ],
)  # fmt: skip
def test_each_sum_that_does_not_agree_is_told(sum_, said):
    """The last of its name: of the line, of the breakdown, of the whole."""
    head, name, tail = ubl(PLAIN).rpartition(b"<cbc:" + sum_)
    value, end, rest = tail.partition(b"</")
    attribute, close, amount = value.partition(b">")
    changed = str(Decimal(amount.decode()) + 10).encode()
    assert received(head + name + attribute + close + changed + end + rest).doubts == (said,)


@SYNTAXES
def test_a_truth_written_as_a_digit_is_read(write):
    """As the published UBL example 2 of EN 16931 has it."""
    issued = issue(CASES["several rates, discounts, charges"])
    data = write(issued).replace(b">false<", b">0<").replace(b">true<", b">1<")
    assert received(data) == received(write(issued))


@pytest.mark.parametrize("encoding", ["iso-8859-1", "windows-1252", "utf-8"])
def test_letters_are_read_as_they_are_declared(encoding):
    text = ubl(issue(document(line(1, text="Dichtung für Öl")))).decode().partition("?>")[2]
    data = f'<?xml version="1.0" encoding="{encoding}"?>{text}'.encode(encoding)
    assert received(data).lines[0].text == "Dichtung für Öl"


BOMB = '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa">{}]><Invoice>&j;</Invoice>'.format(
    "".join(f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefghi", "bcdefghij", strict=True))
)  # fmt: skip
FILE = '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY f SYSTEM "file:///etc/passwd">]><Invoice>&f;</Invoice>'
NS = "urn:oasis:names:specification:ubl:schema:xsd:Invoice-2"


@pytest.mark.parametrize(
    ("data", "wrong"),
    [
        (b"", "no XML"),
        (b"\x00\x01\x02", "no XML"),
        (b"not XML at all", "no XML"),
        (b"<Invoice>", "no XML"),
        (b"<order/>", "no invoice but: order"),
        (f'<Invoice xmlns="{NS}"><ID/></Invoice>'.encode(), "no currency"),
        (ubl(PLAIN).replace(b">2026-17<", b"> <"), "no number or no date"),
        (f'<Invoice xmlns="{NS}"/>'.encode(), "cannot be read"),
        (BOMB.encode(), "document type"),
        (FILE.encode(), "document type"),
        (FILE.encode("utf-16"), "cannot be read"),
        (b'<?xml version="1.0" encoding="utf-7"?><Invoice/>', "cannot be read"),
        (b"<Invoice>" + b" " * MOST_BYTES + b"</Invoice>", "too large"),
        (b"<a>" * 200 + b"</a>" * 200, "larger than an invoice"),
        (b"<a>" + b"<b/>" * 60_000 + b"</a>", "larger than an invoice"),
        (ubl(PLAIN).replace(b">238.00<", b">much<"), "no amount"),
        (ubl(PLAIN).replace(b">238.00<", b">NaN<"), "no amount"),
        (ubl(PLAIN).replace(b">238.00<", b">1e99<"), "no amount"),
        (ubl(PLAIN).replace(b">2026-05-04<", b">yesterday<"), "cannot be read"),
        (cii(PLAIN).replace(b">20260504<", b">20261399<"), "cannot be read"),
        (ubl(PLAIN).replace(b"PriceAmount", b"PriceGuess"), "line 1: BT-146"),
        (b"%PDF-1.7\n", "cannot be read"),
        (b"%PDF-1.7\n" + b"\xff" * 5000, "cannot be read"),
        (carrying(), "no e-invoice is in"),
        (carrying(("a.xml", b"<a/>"), ("factur-x.xml", BOMB.encode())), "no e-invoice is in"),
        (
            carrying(
                ("factur-x.xml", cii(PLAIN)), encryption=pikepdf.Encryption(user="x", owner="x")
            ),
            "locked",
        ),
    ],
)
def test_what_is_no_invoice_or_hostile_is_refused_in_words(data, wrong):
    with pytest.raises(InvoiceError, match=wrong) as error:
        received(data)
    assert (error.value.place, bool(error.value.expected)) == ("file", True)


def test_a_file_that_unfolds_without_end_is_refused():
    """A small PDF that would be sixty megabytes, less than the library would bear."""
    pdf = pikepdf.new()
    pdf.add_blank_page()
    spec = pikepdf.AttachedFileSpec(pdf, b"<a/>", filename="factur-x.xml")
    pdf.attachments["factur-x.xml"] = spec
    packer = zlib.compressobj(9)
    packed = b"".join(packer.compress(b" " * 10**6) for _ in range(60)) + packer.flush()
    spec.obj.EF.F.write(packed, filter=pikepdf.Name.FlateDecode)
    written = BytesIO()
    pdf.save(written)
    assert len(written.getvalue()) < 10**5
    with pytest.raises(InvoiceError, match="cannot be read"):
        received(written.getvalue())


def test_files_that_point_at_one_another_end():
    pdf = pikepdf.new()
    pdf.add_blank_page()
    names = pdf.make_indirect(pikepdf.Dictionary())
    names.Kids = pikepdf.Array([names])
    pdf.Root.Names = pikepdf.Dictionary(EmbeddedFiles=names)
    written = BytesIO()
    pdf.save(written)
    with pytest.raises(InvoiceError):
        received(written.getvalue())


@given(st.binary(max_size=400), st.integers(0, 5000), st.booleans())
@settings(max_examples=60)
def test_a_damaged_file_is_read_or_refused_in_words(noise, place, in_pdf):
    data = hybrid(archive(), PLAIN) if in_pdf else ubl(PLAIN)
    damaged = data[:place] + noise + data[place + len(noise) :]
    with suppress(InvoiceError):  # every other error fails
        assert received(damaged).number


def test_days_and_references_of_a_correction_are_read():
    found = received(cii(issue(CASES["corrected invoice"])))
    assert [(each.number, each.day) for each in found.references] == [("2026-16", date(2026, 5, 1))]
    assert (found.due_on, found.supplied_on) == (date(2026, 5, 18), date(2026, 5, 2))
