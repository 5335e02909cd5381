"""Statements as a bank writes them, made for the tests; all names and accounts are invented."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from xml.sax.saxutils import escape

SHOP = "DE02120300000000202051"  # a well-known example of an IBAN, no account


@dataclass(frozen=True)
class Booked:
    """One entry. ``parts``: the amounts of a batch, each with its text; else the entry itself is the one payment."""

    amount: Decimal
    text: str = ""
    name: str = ""
    reference: str = ""
    status: str = "BOOK"
    reversal: bool = False
    parts: Sequence[tuple[Decimal, str]] = ()


def statement(
    entries: Sequence[Booked], *, version: str = "08", opening: Decimal = Decimal(100)
) -> bytes:
    """A camt.053.001.02 or .08 with these entries."""
    closing = opening + sum((e.amount for e in entries if e.status == "BOOK"), Decimal(0))
    new = version == "08"
    body = "".join(_entry(entry, new) for entry in entries)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>'
        f'<Document xmlns="urn:iso:std:iso:20022:tech:xsd:camt.053.001.{version}"><BkToCstmrStmt>'
        "<GrpHdr><MsgId>m1</MsgId><CreDtTm>2026-11-30T08:00:00</CreDtTm></GrpHdr>"
        "<Stmt><Id>2026-11</Id><CreDtTm>2026-11-30T08:00:00</CreDtTm>"
        f"<Acct><Id><IBAN>{SHOP}</IBAN></Id><Ccy>EUR</Ccy></Acct>"
        f"{_balance('OPBD', opening)}{_balance('CLBD', closing)}{body}"
        "</Stmt></BkToCstmrStmt></Document>"
    ).encode()


def _balance(kind: str, amount: Decimal) -> str:
    return (
        f"<Bal><Tp><CdOrPrtry><Cd>{kind}</Cd></CdOrPrtry></Tp>{_amount(amount)}"
        "<Dt><Dt>2026-11-30</Dt></Dt></Bal>"
    )


def _amount(amount: Decimal) -> str:
    sign = "CRDT" if amount >= 0 else "DBIT"
    return f'<Amt Ccy="EUR">{abs(amount)}</Amt><CdtDbtInd>{sign}</CdtDbtInd>'


def _entry(entry: Booked, new: bool) -> str:
    status = f"<Sts><Cd>{entry.status}</Cd></Sts>" if new else f"<Sts>{entry.status}</Sts>"
    reversal = "<RvslInd>true</RvslInd>" if entry.reversal else ""
    parts = entry.parts or [(entry.amount, entry.text)]
    details = "".join(_part(entry, amount, text, new) for amount, text in parts)
    return (
        f"<Ntry>{_amount(entry.amount)}{reversal}{status}<BookgDt><Dt>2026-11-30</Dt></BookgDt>"
        "<BkTxCd><Prtry><Cd>x</Cd></Prtry></BkTxCd>"
        f"<NtryDtls>{details}</NtryDtls></Ntry>"
    )


def _part(entry: Booked, amount: Decimal, text: str, new: bool) -> str:
    own = (
        _amount(amount)
        if new
        else (f'<AmtDtls><TxAmt><Amt Ccy="EUR">{abs(amount)}</Amt></TxAmt></AmtDtls>')
    )
    name = f"<Nm>{escape(entry.name)}</Nm>"
    party = f"<Pty>{name}</Pty>" if new else name
    who = "Dbtr" if amount >= 0 else "Cdtr"
    told = f"<Ustrd>{escape(text)}</Ustrd>" if text else ""
    if entry.reference:
        told += f"<Strd><CdtrRefInf><Ref>{entry.reference}</Ref></CdtrRefInf></Strd>"
    return (
        f"<TxDtls>{own}"
        + (f"<RltdPties><{who}>{party}</{who}></RltdPties>" if entry.name else "")
        + (f"<RmtInf>{told}</RmtInf>" if told else "")
        + "</TxDtls>"
    )
