"""The journal as text: CSV for a table program, and the open plain-text form that accounting programs read."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence

from witnessmark.journal.transaction import Transaction
from witnessmark.money.currency import exponent, major

COLUMNS = ("day", "document", "text", "account", "debit", "credit", "currency")


def as_csv(transactions: Iterable[Transaction]) -> str:
    """One row for each posting, under `COLUMNS`; amounts with a point and the decimals of the currency (RFC 4180)."""
    lines = _Lines()
    table = csv.writer(lines)
    table.writerow(COLUMNS)
    for each in transactions:
        for posting in each.postings:
            amount = _amount(abs(posting.amount_minor), each.currency)
            sides = (amount, "") if posting.amount_minor > 0 else ("", amount)
            said = (_safe(each.document), _safe(each.text))
            table.writerow((each.day.isoformat(), *said, posting.account, *sides, each.currency))
    return "".join(lines)


def as_plain_text(transactions: Sequence[Transaction]) -> str:
    """The journal in the language of Beancount: accounts opened on the first day, one transaction after another."""
    ordered = sorted(transactions, key=lambda each: each.day)
    return (
        "\n".join([*_head(ordered), *(line for each in ordered for line in _written(each))]) + "\n"
    )


class _Lines(list[str]):
    """What the writer of CSV writes to."""

    def write(self, line: str) -> None:
        self.append(line)


def _head(ordered: Sequence[Transaction]) -> Iterator[str]:
    for currency in sorted({each.currency for each in ordered}):
        yield f'option "operating_currency" "{currency}"'
    if ordered:
        day = ordered[0].day.isoformat()
        names = {posting.account for each in ordered for posting in each.postings}
        yield from (f"{day} open {name}" for name in sorted(names))
    yield ""


def _written(each: Transaction) -> Iterator[str]:
    told = (
        f'"{_quoted(each.document)}" "{_quoted(each.text)}"'
        if each.document
        else f'"{_quoted(each.text)}"'
    )
    yield f"{each.day.isoformat()} * {told}"
    width = max((len(posting.account) for posting in each.postings), default=0)
    for posting in each.postings:
        amount = _amount(posting.amount_minor, each.currency)
        yield f"  {posting.account:<{width}}  {amount:>14} {each.currency}"
    yield ""


def _amount(minor: int, currency: str) -> str:
    return format(major(minor, currency), f".{exponent(currency)}f")


def _quoted(text: str) -> str:
    """A text between quotation marks, in one line."""
    return " ".join(text.split()).replace("\\", "\\\\").replace('"', '\\"')


def _safe(text: str) -> str:
    """A cell that a table program does not take for a formula."""
    plain = " ".join(text.split())
    return f"'{plain}" if plain[:1] in {"=", "+", "-", "@"} else plain
