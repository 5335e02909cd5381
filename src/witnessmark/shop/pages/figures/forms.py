"""One figure as it is typed: value or range, unit, document and page, a photo of the page."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from witnessmark import units
from witnessmark.book.figures_form import to_fill_in
from witnessmark.book.model import ENTRIES, Book
from witnessmark.shop.forms import PhotoInput, SheetForm
from witnessmark.shop.models import PhotoKept
from witnessmark.shop.scope import Desk
from witnessmark.shop.store import EntryDraft
from witnessmark.shop.work.figure_from_manual import VOUCH, DoubtError, figure_set
from witnessmark.units import QuantityError, with_unit

QUANTITIES: dict[units.Quantity, Any] = {  # what the field of the value is called
    "torque": _("Torque"), "volume": _("Volume"), "length": _("Length"), "pressure": _("Pressure"),
    "distance": _("Distance"), "duration": _("Time"), "voltage": _("Voltage"), "current": _("Current"),
    "charge": _("Charge"), "resistance": _("Resistance"), "angle": _("Angle"), "rotation": _("Speed of rotation"),
    "temperature": _("Temperature"), "mass": _("Mass"), "force": _("Force"), "speed": _("Speed"),
    "power": _("Power"), "consumption": _("Consumption"), "count": _("Number"), "words": _("In words, as it says it"),
}  # fmt: skip
LABELS = {
    "low": _("At least"),
    "high": _("At most"),
    "tolerance": _("Tolerance"),
}


class FigureForm(SheetForm):
    """A figure read in the machine's own manual. A number without its unit is in the unit chosen beside it."""

    unit = forms.ChoiceField(
        label=_("Unit"), required=False, widget=forms.Select({"aria-label": _("Unit")})
    )
    page = forms.CharField(label=_("Page"), required=False, max_length=60)
    document = forms.CharField(label=_("Document"), max_length=220)
    photo = forms.FileField(label=_("Photo of the page"), required=False, widget=PhotoInput)
    kept = forms.CharField(widget=forms.HiddenInput, required=False)  # SHA-256 of one sent before
    vouched = forms.CharField(label=VOUCH, required=False, max_length=400, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, desk: Desk, book: Book, name: str, look_path: str, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.desk, self.book, self.name = desk, book, name
        self.figure = book.figures[name]
        numbers = self.figure.quantity != "words"
        self.asked = to_fill_in(book, name)
        labels = {"value": QUANTITIES[self.figure.quantity]} | LABELS
        self.more = [key for key in labels if key not in self.asked and numbers]
        for key in (*self.asked, *self.more):
            self.fields[key] = forms.CharField(
                label=labels[key],
                required=False,
                max_length=200,
                widget=forms.TextInput(
                    {
                        "autocomplete": "off",
                        "inputmode": "decimal" if numbers else "text",
                        "hx-get": look_path,
                        "hx-trigger": "input changed delay:400ms, change",
                        "hx-target": "#look",
                        "hx-include": "closest form",
                        "hx-sync": "this:replace",
                    }
                ),
            )
        named = [name for name in units.UNITS[self.figure.quantity] if name]
        self.fields["unit"].choices = [(one, one) for one in named]  # type: ignore[attr-defined]
        if not named:
            del self.fields["unit"]
        if not (self.data if self.is_bound else self.initial).get("document"):
            self.fields["document"].help_text = _("Once: the next figure has it already.")
        for each in ("page", "document"):
            self.fields[each].widget.attrs["autocomplete"] = "off"

    def typed(self) -> dict[str, str]:
        """What was typed for the value, and for its limits, each with its unit."""
        unit = str(self["unit"].value() or "") if "unit" in self.fields else ""
        texts = {key: str(self[key].value() or "").strip() for key in (*self.asked, *self.more)}
        if unit not in units.UNITS[self.figure.quantity]:
            unit = ""
        return {
            key: text if text.endswith("%") else with_unit(text, unit)
            for key, text in texts.items()
            if text
        }

    @property
    def source(self) -> str:
        """Document and page, as it is kept."""
        document = self.cleaned_data["document"].strip().rstrip(",")
        page = self.cleaned_data["page"].strip()
        return f"{document}, page {page}" if page[:1].isdigit() else ", ".join(
            part for part in (document, page) if part
        )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        """Something is given, and the photo that came before is one of ours."""
        said = super().clean() or {}
        if not any(key in self.typed() for key in ENTRIES):
            self.add_error(self.asked[0], _("Write what the manual says, or skip it for now."))
        kept = said.get("kept")
        if kept and not self.desk.all(PhotoKept).filter(sha256=kept, erased_on=None).exists():
            said["kept"] = ""
        return said

    def entry(self) -> EntryDraft | None:
        """The entry of what was typed; None where it is refused: the fault then stands beside its field.

        A value that looks wrong is refused until somebody vouches for it, which is asked for then.
        """
        if not self.is_valid():
            return None
        try:
            return figure_set(
                self.book, self.name, self.typed(), self.source, self.cleaned_data["vouched"]
            )
        except QuantityError as error:
            self.refuse(error, error.place if error.place in self.fields else self.asked[0])
        except DoubtError as error:  # what is in doubt stands below the fields
            self.add_error(
                error.place, _("Not saved yet: correct it, or say below why it is right.")
            )
            self.fields["vouched"].widget = forms.TextInput({"autocomplete": "off"})
        return None
