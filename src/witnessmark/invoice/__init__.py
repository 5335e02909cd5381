"""Documents of money: what stands in them, their sums and taxes, what they must say."""

from witnessmark.invoice.document import (
    Adjustment,
    Advance,
    Document,
    InvoiceError,
    Kind,
    Line,
    Off,
    Party,
    Payment,
    Reference,
    TaxRate,
    TaxSum,
    Treatment,
)
from witnessmark.invoice.issued import (
    Issued,
    MissingError,
    advance_of,
    credit_of,
    from_canonical,
    issue,
)
from witnessmark.invoice.particulars import PARTICULARS, Form, Particular, form_of, missing
from witnessmark.invoice.totals import LineSum, ShareSum, Totals, margin_tax, totals

__all__ = [
    "PARTICULARS",
    "Adjustment",
    "Advance",
    "Document",
    "Form",
    "InvoiceError",
    "Issued",
    "Kind",
    "Line",
    "LineSum",
    "MissingError",
    "Off",
    "Particular",
    "Party",
    "Payment",
    "Reference",
    "ShareSum",
    "TaxRate",
    "TaxSum",
    "Totals",
    "Treatment",
    "advance_of",
    "credit_of",
    "form_of",
    "from_canonical",
    "issue",
    "margin_tax",
    "missing",
    "totals",
]
