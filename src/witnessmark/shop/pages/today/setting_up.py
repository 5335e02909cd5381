"""What a new shop sets up, and what it cannot do until then; all of it can be left for later."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from witnessmark.shop.models import Member, PartPrice, StoredBook, Visit, Wrench
from witnessmark.shop.scope import Desk


@dataclass(frozen=True)
class Step:
    """One thing to set up: what it is, what is not possible without it, and where it is entered."""

    words: str
    until_then: str
    button: str
    address: str


def steps_left(desk: Desk) -> list[Step]:
    """What is not there yet and whoever looks may enter; once machines come in, only the price of labour."""
    return list(_steps(desk))


def _steps(desk: Desk) -> Iterator[Step]:
    shop, new = desk.shop, not desk.all(Visit).exists()
    if new and not shop.address and desk.may("settings"):
        yield _step(
            _("Where is the shop?"),
            _("Papers are printed without its address."),
            _("Enter it"),
            "settings",
            "id_address",
        )
    if new and desk.all(Member).count() == 1 and desk.may("person-new"):
        yield _step(
            _("Does anybody else work here?"),
            _("You work alone: a second look is a break and a fresh look of your own."),
            _("Add a person"),
            "person-new",
        )
    if not shop.labour_per_hour and desk.may("settings-money"):
        yield _step(
            _("What does an hour of labour cost?"),
            _("Estimates say that labour has no price."),
            _("Enter it"),
            "settings-money",
            "id_labour_per_hour",
        )
    if new and not shop.tax_rates and desk.may("settings-money"):
        yield _step(
            _("Which tax applies to the work?"),
            _("Estimates carry no tax."),
            _("Enter the rate"),
            "settings-money",
            "taxes",
        )
    if new and not desk.all(Wrench).exists() and desk.may("wrench-new"):
        yield _step(
            _("Which torque wrenches are here?"),
            _("No torque is proven."),
            _("Add a wrench"),
            "wrench-new",
        )
    if (
        new
        and desk.all(StoredBook).exists()
        and not desk.all(PartPrice).exists()
        and desk.may("prices")
    ):
        yield _step(
            _("What do parts cost?"),
            _("Estimates say which part has no price."),
            _("Enter prices"),
            "prices",
        )


def _step(words: str, until_then: str, button: str, page: str, field: str = "") -> Step:
    at = f"#{field}" if field else ""
    return Step(words, until_then, button, f"{reverse(page)}?back={reverse('today')}{at}")
