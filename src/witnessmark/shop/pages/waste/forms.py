"""A waste container, and what was put into it by hand or collected from it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from witnessmark import units
from witnessmark.fluids.waste import STREAMS, families_of, why_not_into
from witnessmark.shop.fields import BaseField, DayInput
from witnessmark.shop.forms import ChoiceTiles, QuantityField, SheetForm, SheetModelForm
from witnessmark.shop.models import WasteContainer, WasteMove
from witnessmark.shop.work.waste import HAIR_ML, level_of


class ContainerForm(SheetModelForm):
    """A container: what is collected in it, and how much it holds."""

    capacity_ml = BaseField("volume", label=_("Holds"), help_text=_("With its unit: 60 L."))

    class Meta:
        model = WasteContainer
        fields = ("name", "stream", "capacity_ml", "place", "retired_on")
        labels = {
            "stream": _("What is collected in it"),
            "retired_on": _("Out of use since"),
        }
        widgets = {"stream": ChoiceTiles, "retired_on": DayInput}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["stream"].choices = [(name, name) for name in STREAMS]  # type: ignore[attr-defined]

    def clean_capacity_ml(self) -> int:
        """Whole millilitres."""
        return round(self.cleaned_data["capacity_ml"])

    def clean_stream(self) -> str:
        """What is in it stays what it is: another stream only while it is empty."""
        row: WasteContainer = self.instance
        stream: str = self.cleaned_data["stream"]
        new = row._state.adding  # noqa: SLF001 - as in forms
        if not new and "stream" in self.changed_data and level_of(row) > 0:
            raise forms.ValidationError(gettext("Something is in it. Have it collected first."))
        return stream


class MoveForm(SheetForm):
    """How much, and when."""

    volume = QuantityField("volume", label=_("How much"), help_text=_("With its unit: 1.5 L."))
    on = forms.DateField(label=_("When"), widget=DayInput)

    def __init__(self, *args: Any, row: WasteContainer, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {})
        kwargs["initial"] = {"on": timezone.localdate(), **kwargs["initial"]}
        super().__init__(*args, **kwargs)
        self.row = row

    def clean_on(self) -> Any:
        """A day that has come."""
        day = self.cleaned_data["on"]
        if day > timezone.localdate():
            raise forms.ValidationError(gettext("That day is still to come."))
        return day

    def fields_of_row(self) -> dict[str, Any]:
        """What the row is made of, but for its kind."""
        said = dict(self.cleaned_data)
        return {"volume_ml": said.pop("volume").value, **said}


class PutInForm(MoveForm):
    """Something put in by hand: a drip tray, what another shop left."""

    family = forms.ChoiceField(label=_("What is it"))
    note = forms.CharField(label=_("Where from"), required=False, max_length=400)
    field_order = ("family", "volume", "on", "note")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        every = [(family, family) for family in families_of()]
        self.fields["family"].choices = [("", "—"), *every]  # type: ignore[attr-defined]

    def clean_family(self) -> str:
        """What belongs into this stream; the rest is refused in words."""
        family: str = self.cleaned_data["family"]
        why = why_not_into(family, self.row.stream)
        if why:
            raise forms.ValidationError(f"{why[0].upper()}{why[1:]}.")
        return family


class CollectedForm(MoveForm):
    """A container emptied by whoever collects it."""

    collector = forms.CharField(label=_("Collected by"), max_length=80)
    paper = forms.CharField(
        label=_("Number of their paper"),
        required=False,
        max_length=80,
        help_text=_("Keep the paper."),
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=400)
    field_order = ("collector", "volume", "on", "paper", "note")

    def __init__(self, *args: Any, row: WasteContainer, **kwargs: Any) -> None:
        inside = level_of(row)
        shown = {"volume": units.show(inside, "volume", unit="L")} if inside else {}
        super().__init__(*args, row=row, initial=shown, **kwargs)
        self.inside = inside

    def clean_volume(self) -> units.Amount:
        """No more than ever went in; as it stood on the page it is all of it."""
        amount: units.Amount = self.cleaned_data["volume"]
        if self.inside and amount.text == units.show(self.inside, "volume", unit="L"):
            return units.Amount(
                self.inside, amount.unit, amount.text, amount.quantity, amount.understood
            )
        if amount.value > self.inside + HAIR_ML:
            is_in = units.show(self.inside, "volume", unit="L")
            raise forms.ValidationError(
                gettext("{is_in} went in. First enter what else was put in.").format(is_in=is_in)
            )
        return amount


def move_of(form: MoveForm, kind: str, by: Any) -> WasteMove:
    """The unsaved row of a form."""
    row = form.row
    return WasteMove(shop_id=row.shop_id, container=row, kind=kind, by=by, **form.fields_of_row())
