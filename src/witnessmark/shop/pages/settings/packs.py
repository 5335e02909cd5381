"""The packs on the shelf."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django import forms
from django.http import HttpResponse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_GET, require_http_methods

from witnessmark.fluids import Bottle
from witnessmark.fluids.bottle import faults
from witnessmark.shop import content_store
from witnessmark.shop.fields import BaseField, MoneyField
from witnessmark.shop.forms import SheetModelForm
from witnessmark.shop.models import StockPack, StoredBook
from witnessmark.shop.responses import back_or, done, show
from witnessmark.shop.scope import Desk, DeskRequest


class PackForm(SheetModelForm):
    """A pack of a fluid: for one fluid of the books, or for any of its family."""

    holds = forms.ChoiceField(label=_("What is in it"))
    size_ml = BaseField("volume", label=_("Size"), help_text=_("With its unit: 1 L, 500 ml."))
    price_minor = MoneyField(label=_("Price of a bottle or can, without tax"), required=False)

    class Meta:
        model = StockPack
        fields = ("name", "grade", "rating", "size_ml", "price_minor", "in_stock")
        labels = {
            "name": _("Name on the shelf"),
            "in_stock": _("Bottles or cans on the shelf"),
        }
        help_texts = {
            "in_stock": _("Empty: not counted."),
            "grade": _("As printed: SAE 10W-40, DOT 4."),
            "rating": _(
                "As printed: JASO MA2, API GL-5. Without one, an oil is refused for a wet clutch."
            ),
        }

    field_order = ("holds", "name", "grade", "rating", "size_ml", "price_minor", "in_stock")

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        row: StockPack = self.instance
        self.fields["holds"].choices = fluids(desk)  # type: ignore[attr-defined]
        if row.family:
            self.initial["holds"] = f"{row.family}/{row.fluid}"
        if desk.may("prices-common"):
            self.fields["price_minor"].currency = desk.shop.currency  # type: ignore[attr-defined]
        else:
            del self.fields["price_minor"]

    def clean(self) -> dict[str, Any]:
        """Refuse a label that no bottle has: a grade there is none of, a class of another base."""
        said: dict[str, Any] = super().clean() or {}
        family = said.get("holds", "").partition("/")[0]
        for problem in faults(Bottle(family, said.get("grade", ""), said.get("rating", ""))):
            self.add_error("grade", f"{problem[0].upper()}{problem[1:]}.")
        return said

    def clean_size_ml(self) -> int:
        """Whole millilitres."""
        size = round(self.cleaned_data["size_ml"])
        if size < 1:
            raise forms.ValidationError(gettext("Write a size of at least one millilitre."))
        return size

    def save(self, commit: bool = True) -> Any:  # noqa: FBT001, FBT002 - Django's signature
        """With the fluid chosen."""
        row: StockPack = self.instance
        row.family, _sign, row.fluid = self.cleaned_data["holds"].partition("/")
        kept_row = super().save(commit)
        if "holds" in self.changed_data:
            row.save(update_fields=["family", "fluid"])
        return kept_row


def fluids(desk: Desk) -> list[tuple[str, Any]]:
    """What a pack can hold: the families of fluids, and the fluids that the shop's books name."""
    named: dict[str, str] = {}
    families: dict[str, str] = {}
    for stored in desk.all(StoredBook).select_related("current"):
        for name, fluid in content_store.book_of(desk.shop, stored.current.sha256).fluids.items():
            families[f"{fluid.family}/"] = gettext("{family}, for any machine").format(
                family=fluid.family
            )
            named.setdefault(f"{fluid.family}/{name}", f"{fluid.text} ({fluid.family})")
    return [
        ("", "—"),
        (gettext("For any machine"), sorted(families.items())),
        (gettext("One fluid of the books"), sorted(named.items())),
    ]


@require_GET
def packs(request: DeskRequest) -> HttpResponse:
    """All packs by family."""
    rows = [
        (row, faults(Bottle(row.family, row.grade, row.rating)))
        for row in request.desk.all(StockPack)
    ]
    return show(request, "settings/packs.html", {"packs": rows})


@require_http_methods(["GET", "POST"])
def new_pack(request: DeskRequest) -> HttpResponse:
    """Another pack."""
    return _pack(request, request.desk.new(StockPack), gettext("A bottle or can"))


@require_http_methods(["GET", "POST"])
def pack(request: DeskRequest, stockpack: UUID) -> HttpResponse:
    """One pack, to be corrected or taken off the shelf."""
    row = request.desk.get(StockPack, stockpack)
    if "remove" in request.POST:
        row.delete()
        return done(
            request, "packs", said=gettext("{name} is off the shelf.").format(name=row.name)
        )
    return _pack(request, row, gettext("Change {name}").format(name=row))


def _pack(request: DeskRequest, row: StockPack, title: str) -> HttpResponse:
    holds = request.GET.get("holds")  # what a page wants a pack of
    typed = {"holds": holds} if holds else {}
    form = PackForm(request.POST or None, instance=row, desk=request.desk, initial=typed)
    if request.method == "POST" and form.is_valid():
        form.save()
        return done(request, back_or(request, "packs"), said=gettext("Saved."))
    removable = not row._state.adding  # noqa: SLF001 - as in forms
    context = {"form": form, "title": title, "back": "packs", "removable": removable}
    return show(request, "settings/one.html", context)
