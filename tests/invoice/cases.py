"""A document of each case that is sent as data, by name."""

from datetime import date
from decimal import Decimal

from tests.invoice.paper import FIRM, OWNER, SHOP, document, line
from witnessmark.invoice import (
    Adjustment,
    Off,
    Party,
    Payment,
    Reference,
    advance_of,
    credit_of,
    issue,
)

EARLIER = (Reference(number="2026-16", day=date(2026, 5, 1)),)
CHF = {"currency": "CHF", "payment": Payment(means="cash"), "cash_step_minor": 5}
ADVANCE = issue(document(line(300), line(20, "less"), kind="advance invoice", number="A-1"))
BACK = issue(
    document(
        line(300), line(20, "less", quantity=Decimal(-1)), kind="advance invoice", number="A-2"
    )
)
MIXED = (
    line("33.335", quantity=Decimal("2.5"), unit="HUR", note="valves, stone cold"),
    line("9.99", "less", discount=Off(percent=Decimal(10), reason="regular")),
    line("1234.5678", discount=Off(amount_minor=1000, reason="scratched")),
)
OFF = (
    Adjustment(amount_minor=500, reason="goodwill"),
    Adjustment(kind="charge", amount_minor=490, reason="postage", tax="full"),
)

CASES = {
    "one rate": document(),
    "several rates, discounts, charges": document(
        *MIXED, adjustments=OFF, texts=("Thank you.",), terms="14 days"
    ),
    "prices with tax": document(*MIXED, adjustments=OFF, prices="with tax"),
    "prices with tax that no net and tax make": document(line("10.05"), prices="with tax"),
    "nothing to pay": document(line(50), paid_minor=5950, due_on=None),
    "given free": document(line(0)),
    "zero": document(line(20, "zero")),
    "small business": document(
        line(20, "small"),
        seller=SHOP.model_copy(
            update={"vat_number": "", "tax_number": "12/345", "registration": "R1"}
        ),
    ),
    "reverse charge": document(line(20, "reverse"), buyer=FIRM),
    "reverse charge beside a rate": document(line(20, "reverse"), line(5), buyer=FIRM),
    "margin scheme": document(line(80, "used")),
    "margin scheme and deposit beside a rate": document(line(80, "used"), line(5), line(9, "deposit")),
    "deposit given back": document(
        line(200), line(50, "deposit"), line(50, "deposit", quantity=Decimal(-1))
    ),
    "deposit alone": document(line(50, "deposit")),
    "deposit alone, of a registered firm": document(
        line(50, "deposit"), seller=SHOP.model_copy(update={"registration": "R1"})
    ),
    "advance": ADVANCE.document,
    "advance deducted": document(*MIXED, advances=[advance_of(ADVANCE)]),
    "advance deducted, prices with tax": document(*MIXED, advances=[advance_of(ADVANCE)], prices="with tax"),
    "more in advance than it came to": document(line(5), advances=[advance_of(ADVANCE)]),
    "advance deducted that held something taken back": document(line(500), advances=[advance_of(BACK)]),
    "deposit alone, of a registered firm, an advance deducted": document(
        line(50, "deposit"), seller=SHOP.model_copy(update={"registration": "R1"}),
        advances=[advance_of(ADVANCE)],
    ),
    "credit note": credit_of(
        issue(document(*MIXED, adjustments=OFF)), number="C-1", series="C", issued_on=date(2026, 6, 1)
    ).model_copy(update={"terms": "paid back within 14 days"}),
    "corrected invoice": document(line(90), kind="corrected invoice", references=EARLIER),
    "paid in cash, smallest coin": document(line("12.33"), **CHF),
    "no minor unit": document(line(1234), currency="JPY", payment=Payment(means="card")),
    "everything said": document(
        *MIXED, buyer_reference="desk 4", order_number="O-9", paid_minor=100,
        seller=Party(
            name="Invented Workshop", street="Example Lane 1", more="yard", postcode="10000", city="Sampleton",
            country="DE", vat_number="DE 000 000 000", tax_number="12/345", registration="R1",
            contact="Tamsin Invented", phone="+49 30 0", email="shop@example.org",
        ),
        buyer=OWNER.model_copy(update={"registration": "R2", "email": "robin@example.org"}),
        payment=Payment(
            iban="GB82 WEST 1234 5698 7654 32", bic="ABCDEFGH", account_name="Workshop", reference="17"
        ),
    ),
    "signs that XML has not": document(line(5, text="bell\x07 & <b>ö €")),
}  # fmt: skip
