"""What a shop charged and was paid as the transactions of a journal, from what was kept."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from django.utils import timezone

from witnessmark import journal
from witnessmark.journal import Transaction
from witnessmark.ledger.account import Account
from witnessmark.shop import store
from witnessmark.shop.models import Entry, Shop, Visit
from witnessmark.shop.work.billing import kept_document

MOVES = ("issued", "paid", "written_off")  # kinds of entries that move money


def transactions(
    shop: Shop, first: date | None = None, last: date | None = None
) -> list[Transaction]:
    """All of a period, both days in it, by day; an open end is no limit.

    Raises KeptError where an issued document is gone, changed, or of a newer version.
    """
    told = Entry.of(shop).filter(kind__in=MOVES).values("visit")
    found = [
        each
        for visit in Visit.of(shop).filter(pk__in=told).order_by("number").iterator()
        for each in _of(shop, store.state(visit).account)
        if (first is None or each.day >= first) and (last is None or each.day <= last)
    ]
    return sorted(found, key=lambda each: each.day)


def _of(shop: Shop, account: Account) -> Iterator[Transaction]:
    accounts = journal.DEFAULT
    for each in account.documents:
        taken_back = account.document(each.said.cancels or "")
        credited = taken_back.said.what if taken_back else None
        moved = journal.of_document(
            kept_document(shop, each.said.document), accounts, credited=credited
        )
        if moved:
            yield moved
    for paid in account.payments:
        text = "paid back" if paid.said.back else "paid"
        yield journal.of_payment(
            paid.said.on, paid.minor, paid.said.by, paid.said.currency, accounts, text=text
        )
    for off in account.written_off:
        day = timezone.localtime(datetime.fromisoformat(off.at)).date()
        text = f"written off: {off.said.because}"
        yield journal.of_write_off(day, off.said.minor, off.said.currency, accounts, text=text)
