"""An issued document as data by EN 16931, in either of its syntaxes, written by a library."""

from __future__ import annotations

from collections.abc import Callable

from facturx import generate_cii_xml, generate_ubl_xml

from witnessmark.invoice.issued import Issued, MissingError
from witnessmark.invoice.particulars import missing
from witnessmark.invoice.terms import terms

LEVEL = "en16931"  # all of the standard and nothing beyond it


def ubl(issued: Issued, say: Callable[[str], str] = str) -> bytes:
    """The document as UBL 2.1 (ISO/IEC 19845): an Invoice, or a CreditNote.

    Raises MissingError with all that an e-invoice must say and it does not.
    """
    _complete(issued)
    written: bytes = generate_ubl_xml(
        terms(issued, say), level=LEVEL, check_xsd=False, check_schematron=None
    )
    # the library writes EUR at this amount, whatever the currency is
    right = f'PayableRoundingAmount currencyID="{issued.document.currency}"'
    return written.replace(b'PayableRoundingAmount currencyID="EUR"', right.encode())


def cii(issued: Issued, say: Callable[[str], str] = str) -> bytes:
    """The document as UN/CEFACT Cross Industry Invoice. Raises MissingError as `ubl`."""
    _complete(issued)
    written: bytes = generate_cii_xml(
        terms(issued, say), level=LEVEL, check_xsd=False, check_schematron=None
    )
    return written


def _complete(issued: Issued) -> None:
    if faults := missing(issued.document, "e-invoice"):
        raise MissingError(faults)
