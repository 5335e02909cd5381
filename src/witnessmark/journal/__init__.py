"""Double entry: documents and payments as transactions that balance, and as text for an accountant."""

from witnessmark.journal.accounts import DEFAULT, Accounts
from witnessmark.journal.export import as_csv, as_plain_text
from witnessmark.journal.transaction import (
    Means,
    Posting,
    Transaction,
    balances,
    of_document,
    of_payment,
    of_till_count,
    of_write_off,
)

__all__ = [
    "DEFAULT",
    "Accounts",
    "Means",
    "Posting",
    "Transaction",
    "as_csv",
    "as_plain_text",
    "balances",
    "of_document",
    "of_payment",
    "of_till_count",
    "of_write_off",
]
