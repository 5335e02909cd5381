"""Prices of parts: book by book, those that lack one first; and prices that hold for all books."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from typing import Any
from uuid import UUID

from django import forms
from django.db import transaction
from django.forms import BoundField
from django.http import HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from witnessmark.book.model import Job, Part
from witnessmark.shop import content_store
from witnessmark.shop.fields import MoneyField
from witnessmark.shop.forms import SheetForm
from witnessmark.shop.models import PartPrice, StoredBook
from witnessmark.shop.responses import back_or, done, show
from witnessmark.shop.scope import Desk, DeskRequest, shop_read_now

ALL_BOOKS = ""
MOST_DAYS = 365  # of a delivery; judged by us


class PricesForm(SheetForm):
    """A price per part; empty: none of its own. What is not changed on the page is left alone.

    ``first``: the parts that a page wants prices of now.
    """

    def __init__(
        self, *args: Any, desk: Desk, parts: Mapping[str, Part], own: Mapping[str, int],
        others: Mapping[str, int], first: Collection[str] = (), **kwargs: Any,
    ) -> None:  # fmt: skip
        super().__init__(*args, **kwargs)
        self.first = [name for name in parts if name in first]
        for name in sorted(
            parts, key=lambda n: (n in own or n in others or parts[n].consumable, parts[n].text)
        ):
            field = MoneyField(label=_label(parts[name]), required=False)
            field.currency = desk.shop.currency
            field.initial, field.show_hidden_initial = own.get(name), True
            if name in others:
                field.help_text = _("For all books: {others} {currency}.").format(
                    others=field.prepare_value(others[name]), currency=desk.shop.currency
                )
            elif parts[name].consumable:
                field.help_text = _("Covered by the rule for consumables where it has no price.")
            self.fields[name] = field

    @property
    def wanted(self) -> list[BoundField]:
        """The fields of what is wanted now."""
        return [self[name] for name in self.first]

    @property
    def rest(self) -> list[BoundField]:
        """The other ones."""
        return [self[name] for name in self.fields if name not in self.first]

    @property
    def fault_in_rest(self) -> bool:
        """Whether one of the others has a fault."""
        return any(field.errors for field in self.rest)

    def changes(self) -> Iterator[tuple[str, int | None]]:
        """The parts whose price was changed, with the new one."""
        for name in self.changed_data:
            yield name, self.cleaned_data[name]


class FlatForm(SheetForm):
    """A flat price for the labour of a job; empty: by its minutes."""

    def __init__(
        self, *args: Any, desk: Desk, jobs: Mapping[str, Job], own: Mapping[str, int], **kwargs: Any
    ) -> None:
        kwargs["prefix"] = "flat"
        super().__init__(*args, **kwargs)
        for name, job in jobs.items():
            field = MoneyField(label=job.text, required=False)
            field.currency = desk.shop.currency
            field.initial, field.show_hidden_initial = own.get(name), True
            self.fields[name] = field

    def laid_over(self, before: Mapping[str, int]) -> dict[str, int]:
        """The prices with what was changed on the page."""
        changed = {name: self.cleaned_data[name] for name in self.changed_data}
        return {name: minor for name, minor in {**before, **changed}.items() if minor is not None}


class DaysForm(SheetForm):
    """How many days a part takes from its order to its delivery, of parts that have a price here; empty: not known."""

    def __init__(
        self, *args: Any, parts: Mapping[str, Part], own: Mapping[str, int | None], **kwargs: Any
    ) -> None:
        kwargs["prefix"] = "days"
        super().__init__(*args, **kwargs)
        for name in sorted(own.keys() & parts.keys(), key=lambda name: parts[name].text):
            self.fields[name] = forms.IntegerField(
                label=parts[name].text,
                required=False,
                min_value=0,
                max_value=MOST_DAYS,
                initial=own[name],
                show_hidden_initial=True,
            )


@require_GET
def prices(request: DeskRequest) -> HttpResponse:
    """The books, and how many parts of each have no price."""
    return show(request, "settings/prices.html", {
        "books": [(book, len(parts)) for book, parts in lacking(request.desk)],
        "common": request.desk.all(PartPrice).filter(book=ALL_BOOKS).count(),
    })  # fmt: skip


@require_http_methods(["GET", "POST"])
def of_book(request: DeskRequest, storedbook: UUID) -> HttpResponse:
    """The prices of one book's parts."""
    stored = request.desk.get(StoredBook, storedbook, "current")
    book = content_store.book_of(request.desk.shop, stored.current.sha256)
    return _page(request, book.parts, stored.name, stored.title, book.jobs)


@require_http_methods(["GET", "POST"])
def common(request: DeskRequest) -> HttpResponse:
    """Prices that hold wherever a book has none of its own."""
    parts: dict[str, Part] = {}
    for stored in request.desk.all(StoredBook).select_related("current"):
        parts = {**content_store.book_of(request.desk.shop, stored.current.sha256).parts, **parts}
    return _page(request, parts, ALL_BOOKS, _("All books"))


def _page(
    request: DeskRequest,
    parts: Mapping[str, Part],
    book: str,
    title: str,
    jobs: Mapping[str, Job] | None = None,
) -> HttpResponse:
    desk, posted = request.desk, request.POST or None
    shop = shop_read_now(desk)
    mine = shop.flat_prices.get(book, {})
    flat = FlatForm(posted, desk=desk, jobs=jobs or {}, own=mine)
    own = _known(desk, book)
    others = _known(desk, ALL_BOOKS) if book != ALL_BOOKS else {}
    first = request.GET.getlist("for")
    form = PricesForm(posted, desk=desk, parts=parts, own=own, others=others, first=first)
    rows = desk.all(PartPrice).filter(book=book)
    days = DaysForm(posted, parts=parts, own=dict(rows.values_list("part", "delivery_days")))
    if request.method == "POST" and all([form.is_valid(), flat.is_valid(), days.is_valid()]):
        with transaction.atomic():
            for row in rows.filter(part__in=days.changed_data):
                row.delivery_days = days.cleaned_data[row.part]
                row.save()
            for name, price in form.changes():
                _set(desk, name, book, parts[name].text, price)
            if flat.changed_data:
                shop.flat_prices = {**shop.flat_prices, book: flat.laid_over(mine)}
                shop.save(update_fields=["flat_prices"])
        return done(request, back_or(request, "prices"), said=_("Saved."))
    back = back_or(request, reverse("prices"))
    about = {"form": form, "flat": flat, "days": days, "title": title, "back": back}
    return show(request, "settings/prices_of.html", about)


def _set(desk: Desk, part: str, book: str, words: str, price: int | None) -> None:
    row = desk.all(PartPrice).filter(part=part, book=book).first()
    if price is None:
        if row is not None:
            row.delete()
        return
    row = row or desk.new(PartPrice, part=part, book=book, name=words[:120])
    row.price_minor = price
    row.save()


def _known(desk: Desk, book: str) -> dict[str, int]:
    return dict(desk.all(PartPrice).filter(book=book).values_list("part", "price_minor"))


def lacking(desk: Desk) -> list[tuple[StoredBook, list[str]]]:
    """By book, the parts that are charged and have no price."""
    common_prices = _known(desk, ALL_BOOKS)
    found = []
    for stored in desk.all(StoredBook).select_related("current"):
        parts = content_store.book_of(desk.shop, stored.current.sha256).parts
        priced = {*common_prices, *_known(desk, stored.name)}
        bare = [name for name, part in parts.items() if name not in priced and not part.consumable]
        found.append((stored, bare))
    return found


def _label(part: Part) -> str:
    return part.text if part.unit == "piece" else f"{part.text}, per {part.unit}"
