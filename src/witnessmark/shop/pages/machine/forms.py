"""What can be changed about a machine and its owner."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from witnessmark.shop.forms import ChoiceTiles, SheetForm, SheetModelForm, ToldInput
from witnessmark.shop.models import Machine, Owner, StoredBook
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.search import of_number, of_plate

FIRST_YEAR = 1885  # the first motorcycle


class MachineForm(SheetModelForm):
    """A machine: what stands on it."""

    class Meta:
        model = Machine
        fields = ("maker", "model", "plate", "year", "colour", "identification")

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.desk = desk
        self.fields["identification"].widget = ToldInput("number-told", {"maxlength": "40"})
        for field in self.fields.values():
            field.widget.attrs["autocomplete"] = "off"

    def clean_identification(self) -> str:
        """As typed: what is odd about it is told beside it, and stands on the machine's page. No other has it."""
        text: str = self.cleaned_data["identification"].strip()
        if other := of_number(self.desk, text).exclude(pk=self.instance.pk).first():
            raise forms.ValidationError(
                _("{other} {plate} has this number; look again.").format(
                    other=other, plate=other.plate
                )
            )
        return text

    def clean_plate(self) -> str:
        """A plate that no other machine here has: else one machine would get two histories."""
        plate: str = self.cleaned_data["plate"].strip()
        if other := of_plate(self.desk, plate).exclude(pk=self.instance.pk).first():
            problem = _(
                "{other} has this plate. Take that one in; if the plate moved, clear it there."
            ).format(other=other)
            raise forms.ValidationError(problem)
        return plate

    def clean_year(self) -> int | None:
        """A year in which it can have been built."""
        year = self.cleaned_data["year"]
        if year is not None and not FIRST_YEAR <= year <= timezone.localdate().year + 1:
            raise forms.ValidationError(_("Not a year a motorcycle can be from; read it again."))
        return year


class OwnerForm(SheetModelForm):
    """Who owns it; or somebody who is known here already."""

    known: forms.ModelChoiceField[Owner] = forms.ModelChoiceField(
        queryset=None,
        label=gettext_lazy("Known here"),
        required=False,
        empty_label=gettext_lazy("somebody new"),
    )

    class Meta:
        model = Owner
        fields = ("name", "phone", "email", "address", "language")
        widgets = {"address": forms.Textarea({"rows": 2}), "language": ChoiceTiles}

    field_order = ("known", "name", "phone", "email", "address", "language")

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["known"].queryset = desk.all(Owner).filter(erased_on=None)  # type: ignore[attr-defined]
        self.fields["name"].required = self.fields["language"].required = False
        for name in ("name", "phone", "email"):
            self.fields[name].widget.attrs["autocomplete"] = "off"

    def clean(self) -> dict[str, Any]:
        """One of the two: somebody known, or a name."""
        said = super().clean() or {}
        if said.get("known") and said.get("name"):
            self.add_error("name", _("Either somebody known here, or a new name."))
        elif not said.get("known") and not said.get("name") and "name" not in self.errors:
            self.add_error("name", _("Whose machine is it?"))
        return said

    def owner(self) -> Owner:
        """The owner meant: known, or new and not saved."""
        known: Owner | None = self.cleaned_data["known"]
        return known or self.instance


class MachineEditForm(MachineForm):
    """A machine, its owner, the book that its next visit pins, and a note."""

    class Meta:
        model = Machine
        fields = (*MachineForm.Meta.fields, "book", "owner", "note")

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, desk=desk, **kwargs)
        self.fields["book"].queryset = desk.all(StoredBook)  # type: ignore[attr-defined]
        self.fields["book"].label = _("Service book")
        self.fields["book"].help_text = _(
            "For its next visit; a visit keeps the revision it pinned."
        )
        self.fields["owner"].queryset = desk.all(Owner).filter(erased_on=None)  # type: ignore[attr-defined]
        self.fields["note"].help_text = _("About the machine only.")
        self.fields["note"].widget.attrs["rows"] = 3


class OwnerEditForm(SheetModelForm):
    """Name and where to reach them."""

    class Meta:
        model = Owner
        fields = ("name", "phone", "email", "address", "language")
        widgets = {"address": forms.Textarea({"rows": 3}), "language": ChoiceTiles}


class EraseForm(SheetForm):
    """Erasing cannot be undone: a tick stands before it."""

    sure = forms.BooleanField(
        label=gettext_lazy("Erase for good"),
        error_messages={"required": gettext_lazy("Tick it first.")},
    )
