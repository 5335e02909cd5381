"""Forms that several pages ask with: a machine, its owner, how a finding or a thread was answered."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop as noop

from witnessmark.shop.forms import ChoiceTiles, SheetForm, SheetModelForm, ToldInput
from witnessmark.shop.models import Machine, Owner
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.search import of_number, of_plate

FIRST_YEAR = 1885  # the first motorcycle
VERDICTS = [noop("sound"), noop("repaired"), noop("replaced")]
HOW = [noop("by telephone"), noop("in person"), noop("by message"), noop("in writing")]
SETTLED = [noop("put right"), noop("nothing wrong"), noop("told and declined")]


def words(*choices: str) -> list[tuple[str, Any]]:
    """Choices as they are kept, and translated as they are shown."""
    return [(choice, _(choice)) for choice in choices]


class SettleForm(SheetForm):
    """How a finding, or a step that would not go, was answered."""

    how = forms.ChoiceField(
        label=_("How is it answered?"),
        choices=words(*SETTLED),
        widget=ChoiceTiles,
        help_text=_("A part on order is no answer yet: leave it open, it waits for the part."),
    )
    text = forms.CharField(label=_("In more words"), required=False, max_length=1000)


class JudgeForm(SheetForm):
    """A thread or bolt that kept turning or went past its value."""

    verdict = forms.ChoiceField(
        label=_("The thread is"), choices=words(*VERDICTS), widget=ChoiceTiles
    )
    text = forms.CharField(label=_("How was it judged or repaired?"), max_length=1000)


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
                gettext("{other} {plate} has this number; look again.").format(
                    other=other, plate=other.plate
                )
            )
        return text

    def clean_plate(self) -> str:
        """A plate that no other machine here has: else one machine would get two histories."""
        plate: str = self.cleaned_data["plate"].strip()
        if other := of_plate(self.desk, plate).exclude(pk=self.instance.pk).first():
            problem = gettext(
                "{other} has this plate. Take that one in; if the plate moved, clear it there."
            ).format(other=other)
            raise forms.ValidationError(problem)
        return plate

    def clean_year(self) -> int | None:
        """A year in which it can have been built."""
        year = self.cleaned_data["year"]
        if year is not None and not FIRST_YEAR <= year <= timezone.localdate().year + 1:
            raise forms.ValidationError(
                gettext("Not a year a motorcycle can be from; read it again.")
            )
        return year


class OwnerForm(SheetModelForm):
    """Who owns it; or somebody who is known here already."""

    known: forms.ModelChoiceField[Owner] = forms.ModelChoiceField(
        queryset=None, label=_("Known here"), required=False, empty_label=_("somebody new")
    )

    class Meta:
        model = Owner
        fields = ("name", "phone", "email", "address", "language")
        widgets = {"address": forms.Textarea({"rows": 2}), "language": ChoiceTiles}

    field_order = ("known", "name", "phone", "email", "address", "language")

    def __init__(self, *args: Any, desk: Desk, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        known = desk.all(Owner).filter(erased_on=None)
        if known.exists():
            self.fields["known"].queryset = known  # type: ignore[attr-defined]
        else:
            del self.fields["known"]  # nobody is known here yet
        self.fields["name"].required = self.fields["language"].required = False
        for name in ("name", "phone", "email"):
            self.fields[name].widget.attrs["autocomplete"] = "off"

    def clean(self) -> dict[str, Any]:
        """One of the two: somebody known, or a name."""
        said = super().clean() or {}
        if said.get("known") and said.get("name"):
            self.add_error("name", gettext("Either somebody known here, or a new name."))
        elif not said.get("known") and not said.get("name") and "name" not in self.errors:
            self.add_error("name", gettext("Whose machine is it?"))
        return said

    def owner(self) -> Owner:
        """The owner meant: known, or new and not saved."""
        known: Owner | None = self.cleaned_data.get("known")
        return known or self.instance


class LeaveForm(SheetForm):
    """A job that was agreed and is not done on this visit."""

    because = forms.CharField(label=_("Why not on this visit?"), max_length=400)
