"""From the agreed price to the issued invoice, and what is paid of it."""

import csv
import hashlib
import re
from datetime import timedelta
from decimal import Decimal
from io import BytesIO, StringIO

import pypdf
import pypdfium2 as pdfium
import pytest
import zxingcpp
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from tests.fixtures.tour import put
from tests.shop.day import Person, text_of
from witnessmark.bank import creditor_reference, spaced
from witnessmark.invoice.received import received
from witnessmark.ledger.account import Account
from witnessmark.shop import anchors, guards, store, verifying
from witnessmark.shop.models import DocumentKept, Entry, OwedRow, Owner, Visit
from witnessmark.shop.work import issuing
from witnessmark.shop.work.billing import kept_document

pytestmark = pytest.mark.postgres  # and on SQLite, as everything
IBAN = "GB82WEST12345698765432"


def at(visit: Visit, rest: str = "") -> str:
    return f"/visits/{visit.pk}/invoice/{rest}"


def account(visit: Visit) -> Account:
    return store.state(visit).account


def issue(person: Person, visit: Visit):
    return person.do(at(visit), at(visit, "issue/"))


def pay(person: Person, visit: Visit, amount: str, by: str = "cash", **more):
    return person.do(at(visit), at(visit, "paid/"), "", amount=amount, by=by, **more)


def refused(person: Person, visit: Visit, to: str, holding: str = "", **typed) -> str:
    """A form that is sent and not stored: what the page says."""
    before = Entry.objects.count()
    answer = person.post(at(visit, to), person.form(at(visit), at(visit, to), holding) | typed)
    assert (answer.status_code, Entry.objects.count()) == (422, before)
    return text_of(answer)


def paper(person: Person, visit: Visit, place: int = -1) -> str:
    sha256 = account(visit).documents[place].said.document
    answer = person.client.get(at(visit, f"documents/{sha256}.pdf"))
    assert answer["Content-Type"] == "application/pdf"
    pages = pypdf.PdfReader(BytesIO(answer.content)).pages
    return " ".join(" ".join(page.extract_text().split()) for page in pages)


def pdf_of(person: Person, visit: Visit, place: int = -1) -> bytes:
    sha256 = account(visit).documents[place].said.document
    return person.client.get(at(visit, f"documents/{sha256}.pdf")).content


def codes_on(printed: bytes) -> list[str]:
    """What a general reader of codes sees on the sheets."""
    sheets = [page.render(scale=3).to_numpy() for page in pdfium.PdfDocument(printed)]
    return [found.text for sheet in sheets for found in zxingcpp.read_barcodes(sheet)]


def money(what: str, **period) -> str:
    """What `witnessmark money` writes."""
    written = StringIO()
    call_command("money", what, stdout=written, **period)
    return written.getvalue()


def total(rows: list[dict[str, str]], column: str) -> Decimal:
    return sum((Decimal(row[column] or 0) for row in rows), Decimal(0))


def verify() -> list[str]:
    """What `witnessmark verify` finds wrong with the numbers of documents."""
    told = verifying.report_of(anchors.Places.usual()).told
    return [one.fault.problem for one in told if one.fault.place == "numbers of documents"]


# ---------------------------------------------------------------- agreed, done, charged


def test_three_taps_from_nothing_open_to_the_printed_invoice(mara, to_invoice):
    """Hand-back links to the invoice; issue; print. What is agreed, done and charged stands there before."""
    page = mara.client.get(at(to_invoice)).content.decode()
    row = re.search(r'<tr><td class="amount">.*?</tr>', page, re.DOTALL)[0]
    assert re.findall(r"€([\d.]+)", row) == ["44.00", "44.00", "44.00"]
    answer = issue(mara, to_invoice)
    after = mara.client.get(answer.headers["Location"]).content.decode()
    assert re.search(r'<a class="act" href="[^"]+\.pdf">Print INV-\d{4}-0001</a>', after)
    printed = paper(mara, to_invoice)
    for words in (
        "Invoice", "Cairnhill Motorcycles", "Quay 4", "tax number 500 100", "Ines Calder", "Rua Nova 7",
        "12-QX-81", "Tax, 20 % of €47.00", "€9.40", "Total, with tax €56.40", "Keep this for two years.",
    ):  # fmt: skip
        assert words in printed, (words, printed)


@pytest.mark.parametrize(
    ("typed", "charged"),
    [
        ({"how": "partly done", "amount": "30"}, 3000),
        ({"how": "not done", "amount": ""}, 0),
        ({"how": "replaced", "amount": ""}, 0),
        ({"how": "done", "amount": "60"}, 4400),  # never above what was accepted …
        ({"how": "done", "amount": "60", "consent": "by telephone"}, 6000),  # … without a yes
        ({"how": "done", "free": "goodwill", "because": "came back", "cost": "44"}, 0),
    ],
)
def test_a_line_is_charged_as_was_decided_and_never_above_the_yes(mara, to_invoice, typed, charged):
    mara.do(at(to_invoice, "lines/tyre/"), **typed)
    issue(mara, to_invoice)
    (one,) = account(to_invoice).documents
    assert one.said.gross_minor == round((charged + 300) * 1.2)
    assert set(one.said.lines) == {"tyre", "lights"}


def test_what_is_given_away_says_why_and_what_it_cost(mara, to_invoice):
    typed = {"how": "done", "free": "warranty"}
    path = at(to_invoice, "lines/tyre/")
    answer = mara.post(path, mara.form(path) | typed)
    assert answer.status_code == 422
    mara.do(path, **typed, because="valve leaked again", cost="38,50")
    issue(mara, to_invoice)
    text = text_of(mara.client.get(at(to_invoice)))
    assert "warranty: valve leaked again" in paper(mara, to_invoice)
    assert "38.50" not in paper(mara, to_invoice)
    assert store.state(to_invoice).account.charged["tyre"].cost_minor == 3850
    assert "Nothing is owed" not in text


def test_a_deposit_is_not_charged_before_the_owner_agreed_and_comes_back(mara, to_invoice):
    """Outside tax, for it is no price."""
    mara.do(at(to_invoice, "beside/"), what="deposit", text="Old calliper", amount="25")
    assert account(to_invoice).documents == ()
    page = text_of(mara.client.get(at(to_invoice)))
    assert "not charged: the owner has not agreed" in page
    assert "€56.40 with tax" in page
    mara.do(at(to_invoice), at(to_invoice, "beside/agreed/"), how="by telephone")
    assert "€81.40 with tax" in text_of(mara.client.get(at(to_invoice)))
    mara.do(at(to_invoice, "beside/"), what="deposit returned", text="Old calliper", amount="25")
    issue(mara, to_invoice)
    assert account(to_invoice).documents[0].said.gross_minor == 5640


def test_storage_is_days_times_a_day_after_the_day_told(mara, to_invoice):
    told = timezone.localdate() - timedelta(days=5)
    mara.do(at(to_invoice, "beside/"), what="storage", text="Storage", since=told.isoformat(),
            day="8", consent="in writing")  # fmt: skip
    issue(mara, to_invoice)
    assert account(to_invoice).documents[0].said.gross_minor == round((4700 + 4000) * 1.2)
    assert "5 days at €8.00" in paper(mara, to_invoice)


def test_a_discount_has_a_reason_and_is_never_more_than_is_charged(mara, to_invoice):
    path = at(to_invoice, "beside/")
    form = mara.form(path) | {"what": "discount", "text": "Rebate", "amount": "5"}
    assert "Say why" in text_of(mara.post(path, form))
    form |= {"because": "long wait", "amount": "500"}
    assert "more than is charged" in text_of(mara.post(path, form))
    mara.do(path, **(form | {"amount": "5"}))
    issue(mara, to_invoice)
    assert account(to_invoice).documents[0].said.gross_minor == 5040


def test_a_rate_changed_in_mid_visit_is_told_and_what_was_agreed_stands(mara, shop, to_invoice):
    shop.tax_rates = {"standard": "25"}
    shop.save()
    page = text_of(mara.client.get(at(to_invoice)))
    assert "standard: 20 % when it was agreed, 25 % now" in page
    issue(mara, to_invoice)
    assert account(to_invoice).documents[0].said.gross_minor == 5640


# ---------------------------------------------------------------- documents


def test_an_owner_without_an_address_is_said_with_the_field(mara, to_invoice):
    Owner.objects.update(address="")
    page = mara.client.get(at(to_invoice)).content.decode()
    assert "The buyer has no address" in page
    assert re.search(r'href="/owners/[^"]+#id_address"', page)
    assert 'action="' + at(to_invoice, "issue/") not in page


def test_what_changed_since_the_page_was_made_is_not_issued(mara, to_invoice):
    form = mara.form(at(to_invoice), at(to_invoice, "issue/"))
    mara.do(at(to_invoice, "lines/tyre/"), how="not done")
    answer = mara.post(at(to_invoice, "issue/"), form)
    assert answer.status_code in (409, 422)
    assert not DocumentKept.objects.exists()


def test_a_form_sent_twice_issues_once(mara, to_invoice):
    form = mara.form(at(to_invoice), at(to_invoice, "issue/"))
    first, again = (mara.post(at(to_invoice, "issue/"), form) for _ in range(2))
    assert first.headers["Location"] == again.headers["Location"]
    assert DocumentKept.objects.count() == 1
    other = mara.post(at(to_invoice, "issue/"), form | {"entry_id": store.ledger.new_entry_id()})
    assert other.status_code == 422  # nothing is left to issue
    assert DocumentKept.objects.count() == 1


def test_a_mistake_is_cancelled_by_a_credit_note_and_issued_anew(mara, to_invoice):
    issue(mara, to_invoice)
    page = at(to_invoice)
    assert "Why" in refused(mara, to_invoice, "cancel/", because="")
    mara.do(page, at(to_invoice, "cancel/"), because="wrong address")
    wrong, credit = account(to_invoice).documents
    assert wrong.cancelled_by == credit.entry
    assert account(to_invoice).open_minor == 0
    assert f"takes back {wrong.said.name}" in paper(mara, to_invoice)
    mara.do(at(to_invoice, "lines/lights/"), how="not done")
    issue(mara, to_invoice)
    right = account(to_invoice).documents[-1]
    assert right.said.corrects == wrong.entry
    assert right.said.name.endswith("-0002")
    assert credit.said.name.startswith("CRN-")
    assert f"in place of {wrong.said.name}" in paper(mara, to_invoice)
    assert account(to_invoice).open_minor == 5280


def test_an_issued_document_can_neither_be_taken_back_nor_changed(mara, desk, to_invoice):
    issue(mara, to_invoice)
    entry = account(to_invoice).documents[0].entry
    with pytest.raises(Exception, match="credit note"):
        put(desk, to_invoice, ("corrected", {"entry": entry}))
    for change in ("UPDATE shop_documentkept SET number = 2", "DELETE FROM shop_documentkept"):
        with (
            pytest.raises(DatabaseError) as error,
            transaction.atomic(),
            connection.cursor() as at_it,
        ):
            at_it.execute(change)
        assert guards.REFUSED in str(error.value)
    assert account(to_invoice).documents[0].said.number == 1


def test_a_change_of_the_shop_leaves_an_issued_document_as_it_was(mara, shop, to_invoice):
    issue(mara, to_invoice)
    shop.address, shop.name = "Elsewhere 1\n1000 Lisboa", "Another name"
    shop.save()
    printed = paper(mara, to_invoice)
    assert "Quay 4" in printed
    assert "Another name" not in printed


def test_an_advance_is_paid_issued_and_deducted(mara, to_invoice):
    form = {"amount": "20", "by": "card"}
    said = refused(mara, to_invoice, "advance/", **(form | {"amount": "56.41"}))
    assert "At most €56.40" in said
    mara.do(at(to_invoice), at(to_invoice, "advance/"), **form)
    first = account(to_invoice)
    assert (first.asked_minor, first.paid_minor, first.open_minor) == (2000, 2000, 0)
    assert "Advance invoice" in paper(mara, to_invoice)
    issue(mara, to_invoice)
    last = account(to_invoice)
    assert last.documents[-1].said.gross_minor == 5640
    assert (last.documents[-1].said.due_minor, last.open_minor) == (3640, 3640)
    assert "less advance" in paper(mara, to_invoice)
    advance = last.documents[0].entry
    form = mara.form(at(to_invoice), at(to_invoice, "cancel/")) | {"because": "x", "entry": advance}
    assert "deducts it" in text_of(mara.post(at(to_invoice, "cancel/"), form))


def test_a_document_of_another_shop_is_not_there(mara, to_invoice, stranger, client_of):
    issue(mara, to_invoice)
    sha256 = account(to_invoice).documents[0].said.document
    other = client_of(stranger)
    assert other.get(at(to_invoice, f"documents/{sha256}.pdf")).status_code == 404
    assert other.get("/owed/").status_code == 200
    assert "Ines Calder" not in text_of(other.get("/owed/"))


def test_every_number_of_a_series_is_there_and_kept_whole(mara, shop, to_invoice):
    issue(mara, to_invoice)
    mara.do(at(to_invoice), at(to_invoice, "cancel/"), because="again")
    issue(mara, to_invoice)
    assert issuing.gaps(shop) == []
    for row in DocumentKept.objects.all():
        assert kept_document(shop, row.sha256).document.number == row.name


def test_a_number_that_is_missing_in_a_series_is_a_fault_of_the_store(mara, shop, to_invoice):
    """The gap is made by keeping a document under the number after the next."""
    issue(mara, to_invoice)
    assert verify() == []
    row = DocumentKept.of(shop).get()
    series, content = row.series, bytes(row.content) + b" "
    sha256 = hashlib.sha256(content).hexdigest()
    DocumentKept(
        shop=shop, sha256=sha256, content=content, series=series, number=3, name="INV-3"
    ).save(force_insert=True)
    assert verify() == [f"{series}: number 2 is missing"]


# ---------------------------------------------------------------- what the bank and a program read


def test_the_printed_code_asks_for_the_sum_with_the_reference_of_the_number(mara, shop, to_invoice):
    """EPC069-12, version 2, line by line, read off the sheet by a general reader; IBAN: the example of ISO 13616."""
    shop.iban, shop.bic = IBAN, "WESTGB22"
    shop.save()
    issue(mara, to_invoice)
    (code,) = codes_on(pdf_of(mara, to_invoice))
    name = account(to_invoice).documents[0].said.name
    reference = creditor_reference(name)
    assert code.splitlines() == [
        "BCD", "002", "1", "SCT", "WESTGB22", shop.name, IBAN, "EUR56.4", "", reference,
    ]  # fmt: skip
    assert f"please write {spaced(reference)}" in paper(mara, to_invoice)
    mara.do(at(to_invoice), at(to_invoice, "cancel/"), because="again")
    assert codes_on(pdf_of(mara, to_invoice, 0)) == []  # cancelled: nobody is asked to pay it
    assert codes_on(pdf_of(mara, to_invoice, 1)) == []


def test_without_an_account_of_the_shop_there_is_no_code(mara, to_invoice):
    issue(mara, to_invoice)
    assert codes_on(pdf_of(mara, to_invoice)) == []


def test_an_issued_document_is_sent_as_data_in_both_syntaxes_and_in_its_paper(
    mara, shop, to_invoice
):
    """Read again by our reader of suppliers' e-invoices; what they say by the standard: tests/invoice."""
    shop.iban, shop.vat_number = IBAN, "PT500100"
    shop.save()
    issue(mara, to_invoice)
    said = account(to_invoice).documents[0].said
    for syntax, media in (("ubl", "xml"), ("cii", "xml"), ("hybrid", "pdf")):
        answer = mara.client.get(at(to_invoice, f"documents/{said.document}/{syntax}/"))
        assert answer["Content-Type"] == f"application/{media}"
        assert f"{said.name}-{syntax}.{media}" in answer["Content-Disposition"]
        read = received(answer.content)
        assert (read.number, read.gross) == (said.name, Decimal("56.40"))
        assert creditor_reference(said.name).encode() in answer.content or media == "pdf"
    assert mara.client.get(at(to_invoice, f"documents/{said.document}/x/")).status_code == 404
    assert mara.client.get(at(to_invoice, f"documents/{'0' * 64}/ubl/")).status_code == 404


def test_what_cannot_be_sent_as_data_says_why_on_the_page(mara, to_invoice):
    """The paper prints all the same. A shop without a VAT number: BR-CO-26 of EN 16931; a receipt is no invoice."""
    issue(mara, to_invoice)
    named = account(to_invoice).documents[0].said.document
    answer = mara.client.get(at(to_invoice, f"documents/{named}/ubl/"))
    assert answer.status_code == 422
    assert "VAT number or its number in a public register" in text_of(answer)
    pay(mara, to_invoice, "10")
    mara.do(at(to_invoice), at(to_invoice, "receipt/"))
    said = account(to_invoice).documents[-1].said
    for syntax in ("ubl", "cii", "hybrid"):
        answer = mara.client.get(at(to_invoice, f"documents/{said.document}/{syntax}/"))
        assert answer.status_code == 422
        assert f"{said.name} cannot be sent as data." in text_of(answer)
    assert "Received" in paper(mara, to_invoice)


def test_the_journal_and_the_open_list_agree_to_the_cent(mara, to_invoice):
    """After each act; what is given out as CSV sums to nothing, and a period has its days alone."""
    acts = [
        lambda: mara.do(at(to_invoice), at(to_invoice, "advance/"), amount="20", by="card"),
        lambda: issue(mara, to_invoice),
        lambda: pay(mara, to_invoice, "10"),
        lambda: mara.do(at(to_invoice), at(to_invoice, "cancel/"), because="again"),
        lambda: pay(mara, to_invoice, "5", back="1"),
        lambda: issue(mara, to_invoice),
        lambda: mara.do(at(to_invoice), at(to_invoice, "written-off/"), because="moved away"),
    ]
    for act in acts:
        act()
        rows = list(csv.DictReader(StringIO(money("csv"))))
        claims = [row for row in rows if row["account"] == "Assets:Receivable"]
        owed = list(csv.DictReader(StringIO(money("open"))))
        assert total(claims, "debit") - total(claims, "credit") == total(owed, "open")
        assert total(rows, "debit") == total(rows, "credit") > 0
    today = timezone.localdate()
    assert money("csv", first=today, last=today) == money("csv")
    assert len(money("csv", last=today - timedelta(days=1)).splitlines()) == 1
    assert "Expenses:Written-Off" in money("text", first=today)
    with pytest.raises(CommandError, match="exchange them"):
        money("csv", first=today, last=today - timedelta(days=1))


# ---------------------------------------------------------------- payment


def test_several_payments_a_receipt_and_a_refund(mara, to_invoice):
    issue(mara, to_invoice)
    pay(mara, to_invoice, "20", "card")
    assert OwedRow.objects.get().open_minor == 3640
    pay(mara, to_invoice, "36.40")
    assert not OwedRow.objects.exists()
    mara.do(at(to_invoice), at(to_invoice, "receipt/"))
    assert account(to_invoice).payments[0].receipt
    assert "Received €20.00" in paper(mara, to_invoice)
    mara.do(at(to_invoice), at(to_invoice, "paid/"), 'name="back"', amount="6.40", by="cash")
    assert account(to_invoice).open_minor == 640


@pytest.mark.parametrize(
    ("amount", "why"),
    [
        ("0", "Write more than nothing"),
        ("-5", "cannot be meant"),
        ("1,234", "may be"),
        ("1.234", "may be"),
        ("99999999999999", "cannot be meant"),
        ("abc", "is no amount"),
        ("56.41", "Only €56.40 is owed"),
    ],
)
def test_an_amount_that_cannot_be_meant_is_asked_about(mara, to_invoice, amount, why):
    issue(mara, to_invoice)
    assert why in refused(mara, to_invoice, "paid/", amount=amount, by="cash")


def test_more_than_is_owed_stays_to_the_credit_of_the_owner(mara, to_invoice):
    issue(mara, to_invoice)
    pay(mara, to_invoice, "60", more="on")
    assert OwedRow.objects.get().open_minor == -360
    assert "To be paid back" in text_of(mara.client.get("/owed/"))


def test_a_payment_of_tomorrow_or_of_long_ago_is_not_meant(mara, to_invoice):
    issue(mara, to_invoice)
    for day in (
        timezone.localdate() + timedelta(days=1),
        timezone.localdate() - timedelta(days=9999),
    ):
        assert "up to today" in refused(
            mara, to_invoice, "paid/", amount="5", by="cash", on=day.isoformat()
        )


def test_a_mistyped_payment_is_taken_back_but_not_once_there_is_a_receipt(mara, to_invoice):
    issue(mara, to_invoice)
    pay(mara, to_invoice, "50")
    mara.do(at(to_invoice), at(to_invoice, "paid/off/"))
    assert account(to_invoice).paid_minor == 0
    pay(mara, to_invoice, "5")
    form = mara.form(at(to_invoice), at(to_invoice, "paid/off/"))
    mara.do(at(to_invoice), at(to_invoice, "receipt/"))
    assert mara.post(at(to_invoice, "paid/off/"), form).status_code in (409, 422)
    assert account(to_invoice).paid_minor == 500


def test_what_will_not_be_paid_is_written_off_with_a_reason(mara, to_invoice):
    issue(mara, to_invoice)
    mara.do(at(to_invoice), at(to_invoice, "written-off/"), because="moved away")
    assert account(to_invoice).open_minor == 0
    assert not OwedRow.objects.exists()


def test_who_owes_what_is_listed_by_age(mara, to_invoice):
    issue(mara, to_invoice)
    text = text_of(mara.client.get("/owed/"))
    assert "Ines Calder" in text
    assert "1 document open, €56.40; late: 0." in text


@pytest.mark.parametrize(
    ("rule", "needs"), [("issued", "invoice is issued"), ("paid", "all is paid")]
)
def test_a_machine_leaves_unpaid_only_by_the_rule_of_the_shop(mara, shop, to_invoice, rule, needs):
    shop.leaves = rule
    shop.save()
    put_back = f"/visits/{to_invoice.pk}/handback/"
    if rule == "paid":
        issue(mara, to_invoice)
    answer = mara.post(put_back + "return/", {"keys": "2"})
    assert answer.status_code == 422
    assert needs in text_of(answer)
