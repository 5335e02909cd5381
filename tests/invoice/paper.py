"""Documents for tests. Everybody in them is invented; the IBAN is the published example of ISO 13616."""

from datetime import date
from decimal import Decimal

from witnessmark.invoice import Document, Line, Party, Payment, TaxRate

SHOP = Party(
    name="Invented Workshop", street="Example Lane 1", postcode="10000", city="Sampleton",
    country="DE", vat_number="DE000000000", email="shop@example.org",
)  # fmt: skip
OWNER = Party(
    name="Robin Invented", street="Test Road 2", postcode="20000", city="Elsewhere", country="DE"
)
FIRM = OWNER.model_copy(update={"name": "Invented Couriers", "vat_number": "AT U00000000"})
FULL = TaxRate(name="full", percent=Decimal(19))
LESS = TaxRate(name="less", percent=Decimal(7))
DEPOSIT = TaxRate(name="deposit", treatment="outside tax", reason="deposit, no price")
SMALL = TaxRate(name="small", treatment="small business", reason="small business: no tax")
REVERSE = TaxRate(name="reverse", treatment="reverse charge", reason="reverse charge")
USED = TaxRate(name="used", treatment="margin scheme", reason="margin scheme, used goods")
ZERO = TaxRate(name="zero", treatment="zero")
RATES = (FULL, LESS, DEPOSIT, SMALL, REVERSE, USED, ZERO)
TRANSFER = Payment(iban="GB82 WEST 1234 5698 7654 32", reference="2026-17")


def line(price, tax="full", **kwargs):
    return Line(text=kwargs.pop("text", "work"), price=Decimal(str(price)), tax=tax, **kwargs)


def document(*lines, **kwargs):
    """An invoice with all that a full one, sent as data, must say."""
    said = {
        "kind": "invoice", "number": "2026-17", "issued_on": date(2026, 5, 4), "supplied_on": date(2026, 5, 2),
        "due_on": date(2026, 5, 18), "currency": "EUR", "seller": SHOP, "buyer": OWNER, "payment": TRANSFER,
        "rates": RATES, "lines": lines or (line(100),),
    }  # fmt: skip
    return Document(**said | kwargs)
