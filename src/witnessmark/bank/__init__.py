"""What goes to the bank and what comes from it: references, the payment code, statements and what they are for."""

from witnessmark.bank.errors import BankError
from witnessmark.bank.matching import OpenInvoice, Proposal, names_agree, proposals
from witnessmark.bank.payment_code import payment_code
from witnessmark.bank.references import creditor_reference, names_number, references_in, spaced
from witnessmark.bank.statement import BankEntry, Statement, statements

__all__ = [
    "BankEntry",
    "BankError",
    "OpenInvoice",
    "Proposal",
    "Statement",
    "creditor_reference",
    "names_agree",
    "names_number",
    "payment_code",
    "proposals",
    "references_in",
    "spaced",
    "statements",
]
