"""What is charged for the work, the documents issued for it, and what was paid."""

from __future__ import annotations

from datetime import date
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, StringConstraints, model_validator

from witnessmark.book.fields import Id
from witnessmark.ledger.body import Body, BodyError, Hash, How, Role, ShortText, Subject, Text, Uuid
from witnessmark.ledger.phrases import line_words, with_reason
from witnessmark.ledger.table import Table
from witnessmark.money import amount_text

Minor = Annotated[int, Field(ge=0, le=10**12)]
SomeMinor = Annotated[int, Field(gt=0, le=10**12)]
Code = Annotated[str, StringConstraints(pattern=r"^[A-Z]{3}$")]
Done = Literal["done", "partly done", "not done", "replaced"]
Free = Literal["", "goodwill", "warranty", "comeback", "free for the owner"]
Extra = Literal["discount", "deposit", "deposit returned", "storage", "other"]
DocumentKind = Literal["advance invoice", "invoice", "credit note", "receipt"]
PaidBy = Literal["cash", "card", "transfer"]
LESS: tuple[Extra, ...] = ("discount", "deposit returned")  # taken off
ACCOUNT: Subject = ("account",)


class LineCharged(Body):
    """What becomes of an agreed line on the invoice, in place of its agreed price.

    ``net_minor``: what it came to without tax (None: as agreed). More than was agreed is charged only with
    the owner's ``consent``. ``free``: nothing is charged, for that reason; ``cost_minor`` is what it cost the shop.
    """

    written_by: ClassVar[Role] = "technician"

    line: Id
    how: Done = "done"
    net_minor: Minor | None = None
    free: Free = ""
    because: Text = ""
    cost_minor: Minor | None = None
    consent: How | Literal[""] = ""

    @model_validator(mode="after")
    def _it_fits(self) -> Self:
        if self.how == "partly done" and self.net_minor is None:
            raise BodyError("a line partly done has the price of that part", "give net_minor")
        if self.how in ("not done", "replaced") and (self.net_minor is not None or self.free):
            raise BodyError(f"a line {self.how} has no price", "leave net_minor and free out")
        if self.free and not (self.because and self.cost_minor is not None):
            raise BodyError(
                "what is free has a reason and its cost to the shop", "give because and cost_minor"
            )
        return self

    def in_words(self, table: Table) -> str:
        """See `Body.in_words`."""
        free = f", {self.free}" if self.free else ""
        agreed = f", the owner agreed {self.consent}" if self.consent else ""
        return (
            f"on the invoice: {line_words(self.line, table)}, {self.how}{free}{agreed}"
            + with_reason(self.because)
        )

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [("charged", self.line), ACCOUNT]


class ExtraCharged(Body):
    """Something on the invoice beside the agreed lines, without tax. What adds to it needs the owner's consent.

    ``since``, ``days`` and ``day_minor``: storage, by the day after the day that the owner was told.
    """

    written_by: ClassVar[Role] = "technician"

    what: Extra
    words: ShortText
    net_minor: SomeMinor
    because: Text = ""
    consent: How | Literal[""] = ""
    since: date | None = None
    days: Annotated[int, Field(ge=1, le=3660)] | None = None
    day_minor: SomeMinor | None = None

    @model_validator(mode="after")
    def _it_fits(self) -> Self:
        if self.what == "discount" and not self.because:
            raise BodyError("a discount has a reason", "give because")
        stored = (self.since, self.days, self.day_minor)
        if self.what == "storage":
            if None in stored or self.net_minor != (self.days or 0) * (self.day_minor or 0):
                raise BodyError(
                    "storage is days times a day's price", "give since, days, day_minor"
                )
        elif stored != (None, None, None):
            raise BodyError("only storage has days", "leave since, days and day_minor out")
        return self

    @property
    def signed_minor(self) -> int:
        """What it adds; below nothing for what is taken off."""
        return -self.net_minor if self.what in LESS else self.net_minor

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return f"on the invoice: {self.what}, {self.words}" + with_reason(self.because)

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [ACCOUNT]


class Issued(Body):
    """A document was issued, whole under its hash, with the next number of its series.

    ``due_minor``: what is asked for by it, advances deducted; of a credit note what it takes back; of a receipt
    what it confirms. ``cancels``: the entry of the document that a credit note cancels; ``corrects``: that of the
    cancelled invoice in whose place this one stands; ``payment``: that of the payment a receipt is for.
    """

    written_by: ClassVar[Role] = "technician"
    can_be_corrected: ClassVar[bool] = False

    what: DocumentKind
    document: Hash
    series: Annotated[str, StringConstraints(pattern=r"^[a-z]+(-\d{4})?$", max_length=40)]
    number: Annotated[int, Field(ge=1, le=10**9)]
    name: ShortText  # the number as it is printed
    on: date
    due_on: date | None = None
    currency: Code
    gross_minor: Minor
    due_minor: Annotated[int, Field(ge=-(10**12), le=10**12)]
    lines: list[Id] = []  # the agreed lines that are dealt with by it
    extras: list[Uuid] = []
    advances: list[Uuid] = []  # the advance invoices deducted
    cancels: Uuid | None = None
    corrects: Uuid | None = None
    payment: Uuid | None = None

    @model_validator(mode="after")
    def _it_names_what_it_is_for(self) -> Self:
        if (self.what == "credit note") != (self.cancels is not None):
            raise BodyError("a credit note cancels a document", "give cancels there and only there")
        if (self.what == "receipt") != (self.payment is not None):
            raise BodyError("a receipt is for a payment", "give payment there and only there")
        if self.what != "invoice" and (self.lines or self.extras or self.advances or self.corrects):
            raise BodyError("only an invoice has lines, and stands for another", "leave these out")
        return self

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return f"issued: {self.what} {self.name}, {amount_text(self.gross_minor, self.currency)}"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [ACCOUNT]


class Paid(Body):
    """The owner paid, or (``back``) was paid back."""

    written_by: ClassVar[Role] = "technician"

    minor: SomeMinor
    currency: Code
    by: PaidBy
    on: date
    back: bool = False
    text: Annotated[Text, Field(max_length=400)] = ""

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        did = "paid back" if self.back else "paid"
        return f"{did}: {amount_text(self.minor, self.currency)}, {self.by}"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [ACCOUNT]


class WrittenOff(Body):
    """What the owner owes and will not pay is asked for no more."""

    written_by: ClassVar[Role] = "head"

    minor: SomeMinor
    currency: Code
    because: Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=1000)]

    def in_words(self, _table: Table) -> str:
        """See `Body.in_words`."""
        return f"written off: {amount_text(self.minor, self.currency)}, {self.because}"

    def about(self) -> list[Subject]:
        """See `Body.about`."""
        return [ACCOUNT]
