"""What is charged, issued, paid: the account of one visit, in minor units of its currency."""

from __future__ import annotations

from collections.abc import Iterable

from witnessmark.frozen import FrozenModel
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.kinds.invoicing import (
    ExtraCharged,
    Issued,
    LineCharged,
    Paid,
    WrittenOff,
)
from witnessmark.ledger.story import Story


class DocumentIssued(FrozenModel):
    """A document that was issued; ``cancelled_by``: the entry of the credit note, if any."""

    entry: str
    author: str
    at: str
    said: Issued
    cancelled_by: str = ""
    open_minor: int = 0  # what nobody has paid of it yet

    @property
    def asks(self) -> bool:
        """Whether it asks for money: an invoice or advance invoice that stands."""
        return self.said.what in ("invoice", "advance invoice") and not self.cancelled_by


class Payment(FrozenModel):
    """Money that came, or went back."""

    entry: str
    author: str
    at: str
    said: Paid
    receipt: str = ""  # the entry of the newest receipt for it

    @property
    def minor(self) -> int:
        """What came; below nothing for what went back."""
        return -self.said.minor if self.said.back else self.said.minor


class Off(FrozenModel):
    """What was written off."""

    entry: str
    author: str
    at: str
    said: WrittenOff


class Account(FrozenModel):
    """Everything about the money of a visit, in the order it happened."""

    charged: dict[str, LineCharged] = {}  # by line: the newest that was said of it
    extras: dict[str, ExtraCharged] = {}  # by entry
    documents: tuple[DocumentIssued, ...] = ()
    payments: tuple[Payment, ...] = ()
    written_off: tuple[Off, ...] = ()

    @property
    def currency(self) -> str:
        """Of the documents and payments; empty before the first."""
        told = [each.said.currency for each in self.documents]
        told += [each.said.currency for each in self.payments]
        return told[-1] if told else ""

    @property
    def asked_minor(self) -> int:
        """What the documents that stand ask for."""
        return sum(each.said.due_minor for each in self.documents if each.asks)

    @property
    def paid_minor(self) -> int:
        """What was paid, less what was paid back."""
        return sum(each.minor for each in self.payments)

    @property
    def off_minor(self) -> int:
        """What was written off."""
        return sum(each.said.minor for each in self.written_off)

    @property
    def open_minor(self) -> int:
        """What is owed still; below nothing: what the shop owes the owner."""
        return self.asked_minor - self.paid_minor - self.off_minor

    @property
    def billed(self) -> frozenset[str]:
        """The lines and extras that stand on an invoice."""
        return frozenset(
            name
            for each in self.documents
            if each.asks
            for name in (*each.said.lines, *each.said.extras)
        )

    def document(self, entry: str) -> DocumentIssued | None:
        """The document that an entry issued."""
        return next((each for each in self.documents if each.entry == entry), None)

    def payment(self, entry: str) -> Payment | None:
        """The payment that an entry tells of."""
        return next((each for each in self.payments if each.entry == entry), None)

    def deducted_on(self, advance: str) -> DocumentIssued | None:
        """The standing invoice that deducts an advance invoice."""
        return next(
            (each for each in self.documents if each.asks and advance in each.said.advances), None
        )


def account_of(story: Story) -> Account:
    """The account as the entries tell it."""
    issued = story.of(Issued)
    cancelled = {said.cancels: entry.id for entry, said in issued if said.cancels}
    receipts = {said.payment: entry.id for entry, said in issued if said.payment}
    account = Account(
        charged={said.line: said for _, said in story.of(LineCharged)},
        extras={entry.id: said for entry, said in story.of(ExtraCharged)},
        documents=tuple(
            DocumentIssued(said=said, cancelled_by=cancelled.get(entry.id, ""), **_by(entry))
            for entry, said in issued
        ),
        payments=tuple(
            Payment(said=said, receipt=receipts.get(entry.id, ""), **_by(entry))
            for entry, said in story.of(Paid)
        ),
        written_off=tuple(Off(said=said, **_by(entry)) for entry, said in story.of(WrittenOff)),
    )
    return account.model_copy(update={"documents": tuple(_with_what_is_open(account))})


def why_not_corrected(entry: Entry, every: Iterable[Entry]) -> str:
    """Why an entry can never be taken back, in words; empty where it can.

    What was issued is cancelled by a credit note; what a receipt was given for is paid back.
    """
    if not entry.said.can_be_corrected:
        return "what was issued is never taken back; a credit note cancels it"
    receipt = any(isinstance(e.said, Issued) and e.said.payment == entry.id for e in every)
    return "a receipt was given for it: pay it back" if receipt else ""


def _by(entry: Entry) -> dict[str, str]:
    return {"entry": entry.id, "author": entry.author, "at": entry.at}


def _with_what_is_open(account: Account) -> Iterable[DocumentIssued]:
    """Money goes to what asks for it, the oldest first; what the owner has to get goes to it as money does."""
    money = account.paid_minor + account.off_minor
    money -= sum(min(each.said.due_minor, 0) for each in account.documents if each.asks)
    for each in account.documents:
        owed = max(each.said.due_minor, 0) if each.asks else 0
        gone = min(max(money, 0), owed)
        money -= gone
        yield each.model_copy(update={"open_minor": owed - gone})
