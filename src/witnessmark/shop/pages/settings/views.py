"""The shop: who it is, its rules, its money, who works here."""

from __future__ import annotations

from typing import Any
from zoneinfo import available_timezones

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from witnessmark.money import exponent
from witnessmark.shop.models import Member, PartPrice, StockPack
from witnessmark.shop.pages.settings.forms import (
    InvoicesForm,
    MoneyForm,
    ShopForm,
    TaxRows,
    tax_rows,
)
from witnessmark.shop.pages.settings.prices import lacking
from witnessmark.shop.responses import back_or, done, show
from witnessmark.shop.scope import Desk, DeskRequest, shop_read_now
from witnessmark.shop.work.wrenches import shelf, to_mind

CURRENCY_CHANGED = gettext_lazy(
    "The currency was changed. Prices of parts, bottles and cans keep their old numbers: "
    "check them."
)
NO_USUAL_TAX = gettext_lazy(
    "Tax rates are entered, and the usual rate is “no tax”: estimates carry no tax."
)


@require_http_methods(["GET", "POST"])
def settings(request: DeskRequest) -> HttpResponse:
    """Name, place, rules; and the way to the tools, the shelf and the prices."""
    shop = shop_read_now(request.desk)
    form = ShopForm(request.POST or None, instance=shop)
    if request.method == "POST" and form.is_valid():
        form.save()
        return done(request, back_or(request, "settings"), said=_("Saved."))
    return show(request, "settings/page.html", {"form": form, **_around(request.desk)})


@require_http_methods(["GET", "POST"])
def money(request: DeskRequest) -> HttpResponse:
    """Currency, labour, taxes, and the rules for what is charged how."""
    with transaction.atomic():
        shop = shop_read_now(request.desk)
        rows = tax_rows(shop, request.POST or None)
        form = MoneyForm(request.POST or None, instance=shop, rates=rows.names)
        if request.method == "POST" and _kept(request, form, rows):
            return done(request, back_or(request, "settings-money"), said=_("Saved."))
    return show(request, "settings/money.html", {"form": form, "rows": rows})


@require_http_methods(["GET", "POST"])
def invoices(request: DeskRequest) -> HttpResponse:
    """What stands on documents of money, how they are numbered, and when a machine may leave unpaid."""
    form = InvoicesForm(request.POST or None, instance=shop_read_now(request.desk))
    if request.method == "POST" and form.is_valid():
        form.save()
        return done(request, back_or(request, "settings-invoices"), said=_("Saved."))
    return show(request, "settings/invoices.html", {"form": form})


def _kept(request: DeskRequest, form: MoneyForm, rows: TaxRows) -> bool:
    """Write what was changed on the page, if all of it can be used."""
    if [one for one in (rows, form) if not one.is_valid()]:
        return False
    now = shop_read_now(request.desk)
    currency = now.currency
    rates, renamed = rows.laid_over(now.tax_rates)
    if not form.meet(rates, renamed):
        return False
    form.save()
    now.refresh_from_db()
    now.tax_rates, now.taxed, now.usual_tax = rates, form.taxed(), form.cleaned_data["usual_tax"]
    now.save(update_fields=["tax_rates", "taxed", "usual_tax"])
    _warn_of_prices(request, currency, now.currency)
    if now.untaxed:
        messages.warning(request, NO_USUAL_TAX)
    return True


def _warn_of_prices(request: DeskRequest, before: str, now: str) -> None:
    priced = [request.desk.all(PartPrice), request.desk.all(StockPack).exclude(price_minor=None)]
    if before == now or not any(rows.exists() for rows in priced):
        return
    other = exponent(before) != exponent(now)
    words = str(CURRENCY_CHANGED)
    if other:
        words += " " + _("They are now read with another number of decimals.")
    messages.warning(request, words)


def _around(desk: Desk) -> dict[str, Any]:
    """What stands beside the settings, counted."""
    wrenches = shelf(desk.shop)
    return {
        "zones": sorted(available_timezones()),
        "members": desk.all(Member).select_related("user").order_by("user__first_name", "pk"),
        "wrenches": sum(one.here for one in wrenches),
        "out": len(to_mind(wrenches)),
        "packs": desk.all(StockPack).count(),
        "lacking": sum(len(parts) for _key, parts in lacking(desk)),
    }
