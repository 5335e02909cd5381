"""What can be changed about a machine and its owner."""

from __future__ import annotations

from typing import Any

from django import forms

from witnessmark.shop.forms import ChoiceTiles, SheetForm, SheetModelForm
from witnessmark.shop.models import Machine, Owner, StoredBook
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.forms import MachineForm


class MachineEditForm(MachineForm):
    """A machine, its owner, the book that its next visit pins, and a note."""

    class Meta:
        model = Machine
        fields = (*MachineForm.Meta.fields, "book", "owner", "note")

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, desk=desk, **kwargs)
        self.fields["book"].queryset = desk.all(StoredBook)  # type: ignore[attr-defined]
        self.fields["book"].label = "Service book"
        self.fields["book"].help_text = "For its next visit; a visit keeps the revision it pinned."
        self.fields["owner"].queryset = desk.all(Owner).filter(erased_on=None)  # type: ignore[attr-defined]
        self.fields["note"].help_text = "About the machine only."
        self.fields["note"].widget.attrs["rows"] = 3


class OwnerEditForm(SheetModelForm):
    """Name and where to reach them."""

    class Meta:
        model = Owner
        fields = ("name", "phone", "email", "address", "language")
        widgets = {"address": forms.Textarea({"rows": 3}), "language": ChoiceTiles}


class EraseForm(SheetForm):
    """Erasing cannot be undone: a tick stands before it."""

    sure = forms.BooleanField(label="Erase for good", error_messages={"required": "Tick it first."})
