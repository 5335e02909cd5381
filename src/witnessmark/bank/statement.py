"""What a bank says was booked: the statement of ISO 20022, camt.053, of any version.

Read by the names of its elements, so that all versions from 001.02 on are read alike. What has been read is either
whole or refused: where the balances it names do not agree with its entries, it is not used.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterator
from datetime import date
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from xml.etree.ElementTree import Element, ParseError

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import fromstring
from pydantic import Field, ValidationError

from witnessmark.bank.errors import BankError
from witnessmark.bank.references import references_in
from witnessmark.frozen import FrozenModel
from witnessmark.money.currency import Currency, exponent, in_minor

MOST_BYTES = 20_000_000
DEEPEST = 40  # the schema's own elements end well before
_SPACE = re.compile(r"^\{urn:iso:std:iso:20022:tech:xsd:(camt\.\d{3})\.001\.\d{2}\}Document$")
_RIGHT = "give the bank's statement as camt.053, as it was loaded down"
_OPENING, _CLOSING = ("OPBD", "PRCD"), ("CLBD",)


class BankEntry(FrozenModel):
    """One payment that was booked. ``amount_minor``: below 0 where it left the account.

    ``key``: the same in each statement that holds the payment, so that none is taken in twice.
    """

    key: str
    day: date
    amount_minor: int
    currency: Currency
    name: str = ""  # of who paid, or was paid
    iban: str = ""
    text: str = ""
    references: tuple[str, ...] = ()  # creditor references whose check digits agree
    reversal: bool = False


class Statement(FrozenModel):
    """What was booked on one account. ``pending``: entries that are not booked yet, left out."""

    account: str
    number: str
    currency: Currency
    opening_minor: int | None = None
    closing_minor: int | None = None
    entries: tuple[BankEntry, ...] = Field(default=())
    pending: int = 0


def statements(content: bytes) -> tuple[Statement, ...]:
    """All statements in a file. Raises BankError where it is no camt.053, hostile, or does not add up."""
    root = _parsed(content)
    kind = _SPACE.match(root.tag)
    if kind is None or kind.group(1) != "camt.053":
        said = kind.group(1) if kind else root.tag.rpartition("}")[2]
        raise BankError("file", f"this is no statement but: {said[:60]}", _RIGHT)
    try:
        found = tuple(_statement(each) for each in _all(root, "BkToCstmrStmt", "Stmt"))
    except ValidationError as error:
        first = error.errors()[0]
        raise BankError("file", f"{first['loc'][-1]}: {first['msg']}", _RIGHT) from None
    if not found:
        raise BankError("file", "there is no statement in it", _RIGHT)
    return found


def _parsed(content: bytes) -> Element:
    if len(content) > MOST_BYTES:
        problem = f"the file has {len(content):,} bytes"
        raise BankError("file", problem, f"at most {MOST_BYTES:,}; take a shorter time")
    try:
        root: Element = fromstring(content, forbid_dtd=True)
    except DefusedXmlException:
        raise BankError("file", "it declares entities of its own", _RIGHT) from None
    except ParseError as error:
        raise BankError("file", f"it is no XML: {error}", _RIGHT) from None
    level, depth = [root], 0
    while level := [child for element in level for child in element]:
        depth += 1
        if depth > DEEPEST:
            raise BankError("file", "its elements are nested too deep", _RIGHT)
    return root


def _statement(stmt: Element) -> Statement:
    currency = _text(stmt, "Acct", "Ccy") or _currency_of(stmt)
    account = _text(stmt, "Acct", "Id", "IBAN") or _text(stmt, "Acct", "Id", "Othr", "Id")
    pending, made = 0, list[BankEntry]()
    seen: Counter[str] = Counter()
    for entry in _all(stmt, "Ntry"):
        if (_text(entry, "Sts", "Cd") or _text(entry, "Sts")) != "BOOK":
            pending += 1
            continue
        made += _entries(entry, account, seen)
    statement = Statement(
        account=account,
        number=_text(stmt, "Id"),
        currency=currency,
        opening_minor=_balance(stmt, _OPENING),
        closing_minor=_balance(stmt, _CLOSING),
        entries=tuple(made),
        pending=pending,
    )
    _adds_up(statement)
    return statement


def _adds_up(statement: Statement) -> None:
    if statement.opening_minor is None or statement.closing_minor is None:
        return
    moved = sum(entry.amount_minor for entry in statement.entries)
    if statement.opening_minor + moved != statement.closing_minor:
        problem = f"statement {statement.number}: opening balance and entries do not give the closing balance"
        raise BankError("file", problem, "load it down from the bank again, whole")


def _entries(entry: Element, account: str, seen: Counter[str]) -> Iterator[BankEntry]:
    """The payments of one entry: each transaction by itself where their amounts are told and give the entry's."""
    whole = _signed(entry, entry)
    parts = [part for details in _all(entry, "NtryDtls") for part in _all(details, "TxDtls")]
    amounts = [_of_part(part, entry) for part in parts]
    if len(parts) < 2 or None in amounts or sum(a or 0 for a in amounts) != whole:
        parts, amounts = parts[:1] or [entry], [whole]
    day = _text(entry, "BookgDt", "Dt") or _text(entry, "BookgDt", "DtTm")[:10]
    day = day or _text(entry, "ValDt", "Dt") or _text(entry, "ValDt", "DtTm")[:10]
    for part, amount in zip(parts, amounts, strict=True):
        own = amount or 0
        who = "Dbtr" if own >= 0 else "Cdtr"
        name = _text(part, "RltdPties", who, "Pty", "Nm") or _text(part, "RltdPties", who, "Nm")
        said = [_said(each) for each in _all(part, "RmtInf", "Ustrd")]
        told = [_said(each) for each in _all(part, "RmtInf", "Strd", "CdtrRefInf", "Ref")]
        ends = [_said(each) for each in _all(part, "Refs", "EndToEndId")]
        text = " ".join(word for word in (*said, _text(entry, "AddtlNtryInf")) if word)
        by_bank = _text(part, "Refs", "AcctSvcrRef") or _text(entry, "AcctSvcrRef")
        key = (account, day, own, _currency(entry), name, text, *told, *ends, by_bank)
        same = hashlib.sha256(repr(key).encode()).hexdigest()
        seen[same] += 1  # two payments alike in all that is told, on one day, are two
        yield BankEntry(
            key=f"{same[:32]}-{seen[same]}",
            day=_day(day),
            amount_minor=own,
            currency=_currency(entry),
            name=name,
            iban=_text(part, "RltdPties", f"{who}Acct", "Id", "IBAN"),
            text=text,
            references=references_in(" / ".join((*told, *ends, text))),
            reversal=_text(entry, "RvslInd") in {"true", "1"},
        )


def _day(said: str) -> date:
    try:
        return date.fromisoformat(said)
    except ValueError:
        problem = f"“{said[:40]}” is no day" if said else "an entry has no day"
        raise BankError("file", problem, _RIGHT) from None


def _of_part(part: Element, entry: Element) -> int | None:
    amount = next(
        (found for path in (("Amt",), ("AmtDtls", "TxAmt", "Amt")) for found in _all(part, *path)),
        None,
    )
    if amount is None or amount.get("Ccy") != _currency(entry):
        return None
    return _minor(amount) * _sign(part if _text(part, "CdtDbtInd") else entry)


def _signed(thing: Element, of: Element) -> int:
    amount = next(iter(_all(thing, "Amt")), None)
    if amount is None:
        raise BankError("file", "an entry has no amount", _RIGHT)
    return _minor(amount) * _sign(of)


def _sign(of: Element) -> int:
    said = _text(of, "CdtDbtInd")
    if said not in {"CRDT", "DBIT"}:
        raise BankError("file", "an entry says neither credit nor debit", _RIGHT)
    return 1 if said == "CRDT" else -1


def _minor(amount: Element) -> int:
    said, currency = _said(amount), amount.get("Ccy", "")
    try:
        value = in_minor(Decimal(said), currency)
    except (InvalidOperation, OverflowError, ValueError):
        raise BankError("file", f"“{said[:40]}” is no amount", _RIGHT) from None
    if value.denominator != 1 or value < 0 or value > Fraction(10**15):
        right = f"{currency} has {exponent(currency)} decimals"
        raise BankError("file", f"“{said[:40]}” is no amount of {currency}", right)
    return int(value)


def _balance(stmt: Element, kinds: tuple[str, ...]) -> int | None:
    for balance in _all(stmt, "Bal"):
        if _text(balance, "Tp", "CdOrPrtry", "Cd") in kinds:
            return _signed(balance, balance)
    return None


def _currency(entry: Element) -> str:
    return next((each.get("Ccy", "") for each in _all(entry, "Amt")), "")


def _currency_of(stmt: Element) -> str:
    return next((_currency(each) for each in (*_all(stmt, "Bal"), *_all(stmt, "Ntry"))), "")


def _all(element: Element, *path: str) -> list[Element]:
    """The elements at the end of a path of names, whatever the version's name space."""
    found = [element]
    for name in path:
        found = [child for each in found for child in each if child.tag.rpartition("}")[2] == name]
    return found


def _text(element: Element, *path: str) -> str:
    return next((_said(each) for each in _all(element, *path)), "")


def _said(element: Element) -> str:
    return " ".join((element.text or "").split())
