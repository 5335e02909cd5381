"""The code on an invoice that a banking app reads: the open text format for SEPA credit transfers, EPC069-12."""

from __future__ import annotations

from segno.helpers import make_epc_qr
from stdnum import iban as ibans
from stdnum.exceptions import ValidationError

from witnessmark.bank.errors import BankError
from witnessmark.money.currency import major

LONGEST_NAME = 70  # EPC069-12
QUIET_MODULES = 4  # the empty border that ISO/IEC 18004 asks for


def payment_code(
    *, name: str, iban: str, amount_minor: int, currency: str, reference: str, bic: str = ""
) -> str:
    """The code as SVG text, in ink on paper.

    ``reference``: a creditor reference, or else words of at most 140 signs. Raises BankError where it cannot be made:
    another currency than the euro, nothing to pay, an account that is not right.
    """
    if currency != "EUR":
        raise BankError("currency", f"{currency} is not the euro", "leave the payment code out")
    try:
        account = ibans.validate(iban)
    except ValidationError:
        raise BankError("iban", f"“{iban}” is no IBAN", "check it sign by sign") from None
    structured = reference.startswith("RF")
    try:
        code = make_epc_qr(
            name[:LONGEST_NAME],
            account,
            major(amount_minor, currency),
            text=None if structured else reference,
            reference=reference if structured else None,
            bic=bic or None,
            encoding="utf-8",
        )
    except ValueError as error:
        raise BankError("payment code", str(error), "change it, or leave the code out") from None
    inline: str = code.svg_inline(border=QUIET_MODULES, omitsize=True, light="white")
    # Within a page its name space is understood; a printer wants it said.
    return inline.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
