"""Which open invoice a payment is for: by reference, then by amount, then by name; only what is sure is proposed.

Nothing is booked by it: a person confirms each.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from typing import Literal

from witnessmark.bank.references import names_number
from witnessmark.bank.statement import BankEntry
from witnessmark.frozen import FrozenModel

By = Literal["reference", "amount and name"]


class OpenInvoice(FrozenModel):
    """What is still to be paid of a document. ``reference``: its creditor reference, empty without one."""

    number: str
    reference: str = ""
    buyer: str = ""
    open_minor: int
    currency: str


class Proposal(FrozenModel):
    """What a payment is for, if that is sure; else ``possible``: what a person may choose from, the likeliest first."""

    entry: BankEntry
    invoice: str = ""
    by: By | None = None
    possible: tuple[str, ...] = ()


def proposals(
    entries: Sequence[BankEntry], invoices: Sequence[OpenInvoice]
) -> tuple[Proposal, ...]:
    """A proposal for each payment that came in; what left the account, and what was taken back, has none.

    A reference or a number names an invoice whatever the amount: part payments are usual. Without one the amount must
    be that of one open invoice alone whose buyer bears the payer's name. Two payments that would be for one invoice
    by amount are not sure.
    """
    came = [entry for entry in entries if entry.amount_minor > 0 and not entry.reversal]
    made = [_proposal(entry, invoices) for entry in came]
    by_amount = [one.invoice for one in made if one.by == "amount and name"]
    named = {one.invoice for one in made if one.by == "reference"}
    return tuple(
        one
        if one.by != "amount and name"
        or (by_amount.count(one.invoice) == 1 and one.invoice not in named)
        else Proposal(entry=one.entry, possible=(one.invoice,))
        for one in made
    )


def _proposal(entry: BankEntry, invoices: Sequence[OpenInvoice]) -> Proposal:
    there = [one for one in invoices if one.currency == entry.currency]
    named = [one for one in there if one.reference and one.reference in entry.references]
    named = named or [one for one in there if names_number(entry.text, one.number)]
    if len(named) == 1:
        return Proposal(entry=entry, invoice=named[0].number, by="reference")
    if named:  # several invoices paid at once: a person shares the sum
        return Proposal(entry=entry, possible=tuple(one.number for one in named))
    same_amount = [one for one in there if one.open_minor == entry.amount_minor]
    same_name = [one for one in there if names_agree(one.buyer, entry.name)]
    both = [one for one in same_amount if one in same_name]
    if len(both) == 1:
        return Proposal(entry=entry, invoice=both[0].number, by="amount and name")
    ordered = dict.fromkeys(one.number for one in (*both, *same_amount, *same_name))
    return Proposal(entry=entry, possible=tuple(ordered))


def names_agree(one: str, other: str) -> bool:
    """Whether two names are of one person or firm: the same words in any order, or at least two of the other's."""
    a, b = _words(one), _words(other)
    less, more = sorted((a, b), key=len)
    return bool(less) and (a == b or (len(less) >= 2 and less <= more))


def _words(name: str) -> frozenset[str]:
    plain = unicodedata.normalize("NFKD", name.replace("ß", "ss")).casefold()
    plain = "".join(sign for sign in plain if not unicodedata.combining(sign))
    for umlaut in ("ae", "oe", "ue"):  # Müller is written Mueller, and Muller, by banks
        plain = plain.replace(umlaut, umlaut[0])
    return frozenset(re.findall(r"\w+", plain))
