"""The box of shims: sizes, and how many of each."""

from __future__ import annotations

from itertools import groupby
from typing import Any
from uuid import UUID

from django import forms
from django.http import HttpResponse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_GET, require_http_methods

from witnessmark.shims.one_valve import SHIMS_MM
from witnessmark.shop import content_store
from witnessmark.shop.fields import BaseField
from witnessmark.shop.forms import SheetModelForm
from witnessmark.shop.models import ShimStock, StoredBook
from witnessmark.shop.responses import done, show
from witnessmark.shop.scope import Desk, DeskRequest


class ShimForm(SheetModelForm):
    """Shims of one size."""

    thickness = BaseField(
        "length",
        label=_("Thickness"),
        help_text=_("Measured, with its unit: 2.275 mm."),
    )

    class Meta:
        model = ShimStock
        fields = ("kind", "count")
        labels = {"kind": _("What they fit"), "count": _("How many")}
        help_texts = {"kind": _("As the service book writes it: 9.48 mm.")}
        widgets = {"kind": forms.TextInput({"list": "kinds", "autocomplete": "off"})}

    field_order = ("kind", "thickness", "count")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        row: ShimStock = self.instance
        if row.size_um:
            self.fields["thickness"].initial = row.size_um / 1000

    def clean_thickness(self) -> float:
        """A shim, to the micrometre."""
        low, high = SHIMS_MM
        value: float = self.cleaned_data["thickness"]
        if not low <= value <= high:
            raise forms.ValidationError(
                gettext("Shims are {low:g} to {high:g} mm thick.").format(low=low, high=high)
            )
        self.instance.size_um = round(value * 1000)
        return value

    def save(self, commit: bool = True) -> Any:  # noqa: FBT001, FBT002 - Django's signature
        """With its thickness."""
        new = self.instance._state.adding  # noqa: SLF001 - as in forms
        row = super().save(commit)
        if not new and "thickness" in self.changed_data:
            row.save(update_fields=["size_um"])
        return row


@require_GET
def box(request: DeskRequest) -> HttpResponse:
    """All sizes, by what they fit."""
    rows = request.desk.all(ShimStock)
    kinds = [(kind, list(some)) for kind, some in groupby(rows, key=lambda row: row.kind)]
    return show(request, "shims/box.html", {"kinds": kinds})


@require_http_methods(["GET", "POST"])
def new_size(request: DeskRequest) -> HttpResponse:
    """Another size."""
    return _form(request, request.desk.new(ShimStock), gettext("Shims of one size"))


@require_http_methods(["GET", "POST"])
def size(request: DeskRequest, shimstock: UUID) -> HttpResponse:
    """One size, counted again or taken off the list."""
    row = request.desk.get(ShimStock, shimstock)
    if "remove" in request.POST:
        row.delete()
        return done(request, "shim-box", said=gettext("{row} is off the list.").format(row=row))
    return _form(request, row, gettext("Change {name}").format(name=row))


def _form(request: DeskRequest, row: ShimStock, title: str) -> HttpResponse:
    new = row._state.adding  # noqa: SLF001 - as in forms
    form = ShimForm(request.POST or None, instance=row)
    if request.method == "POST" and form.is_valid():
        form.save()
        return done(request, "shim-box", said=gettext("Saved."))
    context = {"form": form, "title": title, "removable": not new, "kinds": _kinds(request.desk)}
    return show(request, "shims/form.html", context)


def _kinds(desk: Desk) -> list[str]:
    """The kinds that the shop's books and box know."""
    named = {row.kind for row in desk.all(ShimStock)}
    for stored in desk.all(StoredBook).select_related("current"):
        book = content_store.book_of(desk.shop, stored.current.sha256)
        named |= {shims.kind for shims in book.shims.values()}
    return sorted(named)
