"""What documents and payments do to the accounts. Debit is above 0; each transaction sums to 0."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Literal

from pydantic import model_validator

from witnessmark.frozen import FrozenModel
from witnessmark.invoice import Issued, Kind, TaxSum
from witnessmark.journal.accounts import Accounts
from witnessmark.money.currency import Currency

Means = Literal["cash", "card", "transfer"]


class Posting(FrozenModel):
    """An amount in minor units on one account; below 0: credit."""

    account: str
    amount_minor: int


class Transaction(FrozenModel):
    """What one document or payment moves. ``document``: the number that it belongs to, empty without one."""

    day: date
    text: str
    document: str = ""
    currency: Currency
    postings: tuple[Posting, ...]

    @model_validator(mode="after")
    def _it_balances(self) -> Transaction:
        if sum(posting.amount_minor for posting in self.postings):
            raise ValueError("the postings of a transaction must sum to 0")
        return self


def of_document(
    issued: Issued, accounts: Accounts, *, credited: Kind | None = None
) -> Transaction | None:
    """What issuing a document moves; None for a receipt, which only says that a payment came.

    ``credited``: the kind of the document that a credit note takes back. An advance is no income before its work is
    done: it is posted as owed to the buyer, its tax as due.
    """
    document, sums = issued.document, issued.totals
    if document.kind == "receipt":
        return None
    is_advance = "advance invoice" in (document.kind, credited)
    sign = -1 if document.kind == "credit note" else 1
    moved = _Moved()
    for part in sums.whole:
        income = accounts.income_of(part.treatment, part.percent)
        own = accounts.advances if is_advance and part.treatment != "outside tax" else income
        _sell(moved, accounts, part, own, sign)
    for advance in document.advances:
        for part in advance.taxes:
            own = accounts.deposits if part.treatment == "outside tax" else accounts.advances
            _sell(moved, accounts, part, own, -sign)
    moved.add(accounts.rounding, -sign * sums.rounding_minor)
    moved.add(accounts.receivable, sign * (sums.gross_minor + sums.rounding_minor))
    who = document.buyer.name if document.buyer else ""
    text = f"{document.kind}, {who}" if who else document.kind
    return _transaction(document.issued_on, text, document.number, document.currency, moved)


def of_payment(
    day: date,
    amount_minor: int,
    means: Means,
    currency: str,
    accounts: Accounts,
    *,
    text: str,
    document: str = "",
) -> Transaction:
    """What a payment moves; below 0: paid back."""
    to = {"cash": accounts.cash, "card": accounts.card, "transfer": accounts.bank}[means]
    moved = _Moved()
    moved.add(to, amount_minor)
    moved.add(accounts.receivable, -amount_minor)
    return _transaction(day, text, document, currency, moved)


def of_write_off(
    day: date,
    amount_minor: int,
    currency: str,
    accounts: Accounts,
    *,
    text: str,
    document: str = "",
) -> Transaction:
    """What giving up a claim moves. Whether tax may be claimed back for it is the accountant's to say."""
    moved = _Moved()
    moved.add(accounts.written_off, amount_minor)
    moved.add(accounts.receivable, -amount_minor)
    return _transaction(day, text, document, currency, moved)


def of_till_count(
    day: date, difference_minor: int, currency: str, accounts: Accounts, *, text: str
) -> Transaction:
    """What a till that was counted moves: ``difference_minor`` is what was there above what had to be."""
    moved = _Moved()
    moved.add(accounts.cash, difference_minor)
    moved.add(accounts.till, -difference_minor)
    return _transaction(day, text, "", currency, moved)


def balances(transactions: Iterable[Transaction]) -> dict[tuple[str, str], int]:
    """The balance of each account in each currency, in minor units."""
    found: dict[tuple[str, str], int] = {}
    for transaction in transactions:
        for posting in transaction.postings:
            key = (posting.account, transaction.currency)
            found[key] = found.get(key, 0) + posting.amount_minor
    return found


class _Moved(dict[str, int]):
    """Amounts by account, in the order in which they were first named."""

    def add(self, account: str, amount_minor: int) -> None:
        self[account] = self.get(account, 0) + amount_minor

    def postings(self) -> Sequence[Posting]:
        return [Posting(account=name, amount_minor=n) for name, n in self.items() if n]


def _sell(moved: _Moved, accounts: Accounts, part: TaxSum, own: str, sign: int) -> None:
    moved.add(own, -sign * part.net_minor)
    if part.tax_minor:
        moved.add(accounts.tax_of(part.percent), -sign * part.tax_minor)


def _transaction(day: date, text: str, document: str, currency: str, moved: _Moved) -> Transaction:
    return Transaction(
        day=day, text=text, document=document, currency=currency, postings=tuple(moved.postings())
    )
