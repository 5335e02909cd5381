"""What a new shop sets up next, one thing at a time, until the first machine is in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from witnessmark.shop.models import Member, PartPrice, StoredBook, Visit, Wrench
from witnessmark.shop.scope import Desk


@dataclass(frozen=True)
class NextStep:
    """What is missing, and where it is entered."""

    words: str
    button: str
    address: str


def next_step(desk: Desk) -> NextStep | None:
    """The first thing missing that whoever looks may enter; None once machines have come in and labour has a price."""
    return next(_steps(desk), None)


def _steps(desk: Desk) -> Iterator[NextStep]:
    shop = desk.shop
    if not shop.labour_per_hour and desk.may("settings-money"):
        yield _step(
            _("What does an hour of labour cost?"),
            _("Enter it"),
            "settings-money",
            "id_labour_per_hour",
        )
    if desk.all(Visit).exists():
        return
    if not shop.tax_rates and desk.may("settings-money"):
        yield _step(
            _("Which tax applies to the work?"), _("Enter the rate"), "settings-money", "taxes"
        )
    if not desk.all(StoredBook).exists() and desk.may("book-new"):
        yield _step(
            _("No service book is here: it says what is due, and in which order."),
            _("Start one"),
            "book-new",
        )
    if not desk.all(PartPrice).exists() and desk.may("prices") and desk.all(StoredBook).exists():
        yield _step(_("No part has a price."), _("Enter prices"), "prices")
    if not desk.all(Wrench).exists() and desk.may("wrench-new"):
        yield _step(
            _("No torque wrench is here: without one no torque is proven."),
            _("Add a wrench"),
            "wrench-new",
        )
    if desk.all(Member).count() == 1 and desk.may("person-new"):
        yield _step(_("Does anybody else work here?"), _("Add a person"), "person-new")


def _step(words: str, button: str, page: str, field: str = "") -> NextStep:
    at = f"#{field}" if field else ""
    return NextStep(words, button, f"{reverse(page)}?back={reverse('today')}{at}")
