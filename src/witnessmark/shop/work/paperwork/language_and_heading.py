"""How papers write: in which language, names, times in the shop's zone, money, figures metric first; their heading."""

from __future__ import annotations

from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from babel.numbers import get_decimal_symbol
from django.conf import settings
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from witnessmark import units
from witnessmark.book.translate import translated
from witnessmark.ledger.seal import seal_hash
from witnessmark.money import amount_text
from witnessmark.papers.contents import Heading
from witnessmark.shop import store
from witnessmark.shop.dates import day_text, moment_text, time_text
from witnessmark.shop.models import Owner, Seal
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.beyond_book import complaint_by
from witnessmark.shop.work.cards import FigureShown
from witnessmark.shop.work.figures_wanted import seen_twice
from witnessmark.shop.work.visit import Work, who
from witnessmark.units import Quantity, System


class NoPaperError(LookupError):
    """A paper that does not exist, or not yet. ``why`` is translated where it is shown: not in the owner's language."""

    def __init__(self, why: str, **values: object) -> None:
        super().__init__(why)
        self.why, self.values = why, values

    @property
    def words(self) -> str:
        """Why there is none."""
        return _(self.why).format(**self.values)


@dataclass(frozen=True)
class Pen:
    """Writes for one visit, in one language. Whoever writes with it does so inside of `speaking`."""

    desk: Desk
    work: Work  # its book in that language
    names: dict[str, str]
    language: str = settings.LANGUAGE_CODE

    def speaking(self) -> AbstractContextManager[None]:
        """All texts of the papers are in the pen's language while this is open."""
        return translation.override(self.language)

    def of_book(self, text: str) -> str:
        """A text of the book that was kept as it stood there: a choice, a state, the line of an estimate."""
        return self.work.pinned.translations.get(self.language, {}).get(text, text)

    def chosen(self, text: str) -> str:
        """Words that a form offered and an entry keeps; typed ones stay as they are."""
        return _(text) if text else ""

    def only_english(self, text: str) -> str:
        """A sentence that the program has in English alone; nothing in another language."""
        return text if self.language == settings.LANGUAGE_CODE else ""

    @property
    def zone(self) -> ZoneInfo:
        """The shop's time zone."""
        return ZoneInfo(self.work.visit.shop.time_zone)

    def name(self, member: str) -> str:
        """Who a member is."""
        return self.names.get(member) or _("somebody no longer here")

    def local(self, at: str) -> datetime:
        """An entry's time, in the shop's zone."""
        return datetime.fromisoformat(at).astimezone(self.zone)

    def moment(self, at: str) -> str:
        """Example: ``25 Nov 2026, 14:05``."""
        with timezone.override(self.zone):
            return moment_text(self.local(at))

    def clock(self, at: str) -> str:
        """Example: ``14:05``; with the day where it was not the day of the newest entry."""
        if self.local(at).date() != self.day:
            return self.moment(at)
        with timezone.override(self.zone):
            return time_text(self.local(at))

    def signed(self, at: str, member: str) -> str:
        """Example: ``14:05 Mara``."""
        return f"{self.clock(at)} {self.name(member)}"

    def money(self, minor: int, currency: str) -> str:
        """An amount as the shop's locale writes it, or the reader's where that is of another language."""
        return amount_text(minor, currency, self.locale)

    @property
    def locale(self) -> str:
        """The shop's locale where it is of the pen's language; else that language alone."""
        of_shop: str = self.work.visit.shop.locale
        return (
            of_shop if of_shop.replace("-", "_").split("_")[0] == self.language else self.language
        )

    def number(self, text: str) -> str:
        """A number with its unit on one line, with the decimal sign of the language. Example: ``4,1 mm``."""
        return text.replace(" ", "\u00a0").replace(".", get_decimal_symbol(self.locale))

    def quantity(self, value: float, quantity: Quantity, unit: str = "") -> str:
        """Metric first (or as the book asks for it), then in the units in use. Example: ``60 N·m (44.3 lbf·ft)``."""
        first, also = self.both(value, quantity, unit)
        return f"{first} ({also})" if also else first

    def both(self, value: float, quantity: Quantity, unit: str = "") -> tuple[str, str]:
        """The same apart; the second is empty where it would say the same again."""
        first = self.number(units.show(value, quantity, unit=unit or None))
        system: System = self.desk.units  # type: ignore[assignment]
        other = self.number(units.show(value, quantity, system))
        return first, "" if system == "metric" or other == first else other

    def figure(self, shown: FigureShown) -> str:
        """A figure in words."""
        if shown.value is not None:
            return self.quantity(shown.value, shown.quantity)
        if shown.low is not None and shown.high is not None:
            low = self.quantity(shown.low, shown.quantity)
            high = self.quantity(shown.high, shown.quantity)
            return _("{low} to {high}").format(low=low, high=high)
        return self.of_book(shown.written) or _("no figure")

    def source(self, shown: FigureShown) -> str:
        """Where a figure comes from, or that nobody has said."""
        if shown.state == "missing":
            return _("read it in the maker's manual")
        source = shown.source or _("no source given")
        seen = seen_twice(self.work, shown.id, self.names)
        if seen is None:
            return source
        by, on = seen[0] or _("somebody no longer here"), day_text(seen[1])
        return _("{source}; confirmed by {by}, {on}").format(source=source, by=by, on=on)

    def between(self, low: float | None, high: float | None, quantity: Quantity, unit: str) -> str:
        """Limits in words; nothing where there are none."""
        ends = [
            _("at least {value}").format(value=self.quantity(low, quantity, unit))
            if low is not None
            else "",
            _("at most {value}").format(value=self.quantity(high, quantity, unit))
            if high is not None
            else "",
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
        owner = owner_of(self.work)
        telephone = _("telephone {number}").format(number=shop.phone) if shop.phone else ""
        tax = _("tax number {number}").format(number=shop.tax_number) if shop.tax_number else ""
        return Heading(
            shop=shop.name,
            shop_lines=[line for line in (*shop.address.splitlines(), telephone, tax) if line],
            owner=owner.name if owner else _("not known"),
            owner_lines=[x for x in (*owner.address.splitlines(), owner.phone) if x]
            if owner
            else [],
            machine=str(machine),
            machine_lines=_machine_lines(self),
            number=f"{visit.number:04d}{number}",
            printed=self.day,
            day=day_text(self.day),
            language=self.language,
            invented=self.work.book.invented,
            book="" if self.work.state.book is None else self.work.book.title,
        )


def pen_of(desk: Desk, work: Work, *, for_owner: bool = True) -> Pen:
    """The pen for one visit: in the owner's language, or in the workshop's."""
    owner = owner_of(work) if for_owner else None
    language = owner.language if owner else settings.LANGUAGE_CODE
    folded = work.folded.with_book(translated(work.pinned, language))
    return Pen(desk, replace(work, folded=folded), who(desk), language)


def owner_of(work: Work) -> Owner | None:
    """Whose machine it was when it came in; else whose it is."""
    named = work.state.owner
    row = Owner.objects.filter(shop=work.visit.shop, pk=named).first() if named else None
    return row or work.machine.owner


def head_of(work: Work) -> str:
    """Number and hash of the newest seal: what anchors the paper; empty before the first."""
    seal = Seal.objects.filter(visit=work.visit).order_by("-number").first()
    return f"{seal.number}, {seal_hash(store.sealed(seal))}" if seal else ""


def complaint_answer(pen: Pen) -> str:
    """What became of the complaint, in words."""
    said = pen.work.state.complaint
    if said is None or said.answer is None:
        return _("no answer yet")
    by = ", ".join(complaint_by(pen.work))
    how = pen.chosen(said.answer.how)
    how = _("{how} by {lines}").format(how=how, lines=by) if by else how
    text = f": {said.answer.text}" if said.answer.text else ""
    waits = "" if said.closed else "; " + _("not done yet")
    return f"{how}{text}{waits} ({pen.signed(said.at, said.author)})"


def _machine_lines(pen: Pen) -> list[str]:
    machine, km = pen.work.machine, pen.work.state.odometer_km
    lines = [
        machine.plate,
        _("identification {number}").format(number=machine.identification)
        if machine.identification
        else "",
        str(machine.year) if machine.year else "",
        _("odometer {km}").format(km=pen.quantity(km, "distance")) if km is not None else "",
    ]
    return [line for line in lines if line]
