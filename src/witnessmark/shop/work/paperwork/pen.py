"""How papers write: names, times in the shop's zone, money in its locale, figures metric first; and their heading."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.utils import dateformat

from witnessmark import units
from witnessmark.ledger.seal import seal_hash
from witnessmark.money import amount_text
from witnessmark.papers.forms import Heading
from witnessmark.shop import store
from witnessmark.shop.models import Owner, Seal
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.beyond import complaint_by
from witnessmark.shop.work.cards import FigureShown
from witnessmark.shop.work.visit import Work, who
from witnessmark.units import Quantity, System


class NoPaperError(LookupError):
    """A paper that does not exist, or not yet; the message says why."""


@dataclass(frozen=True)
class Pen:
    """Writes for one visit, in the words of its shop."""

    desk: Desk
    work: Work
    names: dict[str, str]

    @property
    def zone(self) -> ZoneInfo:
        """The shop's time zone."""
        return ZoneInfo(self.work.visit.shop.time_zone)

    def name(self, member: str) -> str:
        """Who a member is."""
        return self.names.get(member, "somebody no longer here")

    def local(self, at: str) -> datetime:
        """An entry's time, in the shop's zone."""
        return datetime.fromisoformat(at).astimezone(self.zone)

    def moment(self, at: str) -> str:
        """Example: ``25 Nov 2026, 14:05``."""
        return dateformat.format(self.local(at), "j M Y, H:i")

    def clock(self, at: str) -> str:
        """Example: ``14:05``; with the day where it was not the day of the newest entry."""
        local = self.local(at)
        return dateformat.format(local, "H:i" if local.date() == self.day else "j M, H:i")

    def signed(self, at: str, member: str) -> str:
        """Example: ``14:05 Mara``."""
        return f"{self.clock(at)} {self.name(member)}"

    def money(self, minor: int, currency: str) -> str:
        """An amount in the shop's locale."""
        return amount_text(minor, currency, self.work.visit.shop.locale)

    def quantity(self, value: float, quantity: Quantity, unit: str = "") -> str:
        """Metric first (or as the book asks for it), then in the units in use. Example: ``60 N·m (44.3 lbf·ft)``."""
        first, also = self.both(value, quantity, unit)
        return f"{first} ({also})" if also else first

    def both(self, value: float, quantity: Quantity, unit: str = "") -> tuple[str, str]:
        """The same apart; the second is empty where it would say the same again."""
        first = units.show(value, quantity, unit=unit or None)
        system: System = self.desk.units  # type: ignore[assignment]
        other = units.show(value, quantity, system)
        return first, "" if system == "metric" or other == first else other

    def figure(self, shown: FigureShown) -> str:
        """A figure in words."""
        if shown.value is not None:
            return self.quantity(shown.value, shown.quantity)
        if shown.low is not None and shown.high is not None:
            low = self.quantity(shown.low, shown.quantity)
            return f"{low} to {self.quantity(shown.high, shown.quantity)}"
        return shown.written or "no figure"

    def source(self, shown: FigureShown) -> str:
        """Where a figure comes from, or that nobody has said."""
        if shown.state == "missing":
            return "read it in the maker's manual"
        return shown.source or "unproven: no source"

    def between(self, low: float | None, high: float | None, quantity: Quantity, unit: str) -> str:
        """Limits in words; nothing where there are none."""
        ends = [
            f"at least {self.quantity(low, quantity, unit)}" if low is not None else "",
            f"at most {self.quantity(high, quantity, unit)}" if high is not None else "",
        ]
        return ", ".join(end for end in ends if end)

    @property
    def day(self) -> date:
        """The day of the newest entry: what the paper stands for, however late it is printed."""
        if not self.work.entries:
            return self.work.visit.opened_at.astimezone(self.zone).date()
        return max(entry.instant for entry in self.work.entries).astimezone(self.zone).date()

    def heading(self, number: str = "") -> Heading:
        """Shop, owner, machine, and what anchors the paper."""
        visit, shop, machine = self.work.visit, self.work.visit.shop, self.work.machine
        owner = _owner(self)
        telephone = f"telephone {shop.phone}" if shop.phone else ""
        tax = f"tax number {shop.tax_number}" if shop.tax_number else ""
        return Heading(
            shop=shop.name,
            shop_lines=[line for line in (*shop.address.splitlines(), telephone, tax) if line],
            owner=owner.name if owner else "not known",
            owner_lines=[x for x in (*owner.address.splitlines(), owner.phone) if x]
            if owner
            else [],
            machine=str(machine),
            machine_lines=_machine_lines(self),
            number=f"{visit.number:04d}{number}",
            printed=self.day,
            invented=self.work.book.invented,
            head=_head(self.work),
            book=self.work.state.book or "",
        )


def pen_of(desk: Desk, work: Work) -> Pen:
    """The pen for one visit."""
    return Pen(desk, work, who(desk))


def complaint_answer(pen: Pen) -> str:
    """What became of the complaint, in words."""
    said = pen.work.state.complaint
    if said is None or said.answer is None:
        return "no answer yet"
    by = ", ".join(complaint_by(pen.work))
    how = f"{said.answer.how} by {by}" if by else said.answer.how
    text = f": {said.answer.text}" if said.answer.text else ""
    waits = "" if said.closed else "; not done yet"
    return f"{how}{text}{waits} ({pen.signed(said.at, said.author)})"


def _owner(pen: Pen) -> Owner | None:
    """Whose machine it was when it came in; else whose it is."""
    named = pen.work.state.owner
    row: Owner | None = pen.desk.all(Owner).filter(pk=named).first() if named else None
    return row or pen.work.machine.owner


def _machine_lines(pen: Pen) -> list[str]:
    machine, km = pen.work.machine, pen.work.state.odometer_km
    lines = [
        machine.plate,
        f"identification {machine.identification}" if machine.identification else "",
        str(machine.year) if machine.year else "",
        f"odometer {pen.quantity(km, 'distance')}" if km is not None else "",
    ]
    return [line for line in lines if line]


def _head(work: Work) -> str:
    seal = Seal.objects.filter(visit=work.visit).order_by("-number").first()
    return f"{seal.number}, {seal_hash(store.sealed(seal))}" if seal else ""
