"""What can be changed about a machine and its owner."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

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
