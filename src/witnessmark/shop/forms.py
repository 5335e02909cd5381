"""Form fields in our look: the fault beside its field, what was typed still in it."""

from collections.abc import Sequence
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Model
from django.forms.renderers import TemplatesSetting
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from witnessmark import units
from witnessmark.errors import WitnessError

COLUMNS = (  # labels that Django makes of columns' names
    _("Address"), _("Book"), _("Colour"), _("Currency"), _("Email"), _("Fluids are charged"), _("Grade"),
    _("Identification number"), _("Kind"), _("Language of papers"), _("Maker"), _("Model"), _("Name"), _("Note"),
    _("Owner"), _("Phone"), _("Place"), _("Plate"), _("Rating"), _("Role"), _("Tax number"), _("Time zone"),
    _("Units"), _("Year"),
)  # fmt: skip


class SheetRenderer(TemplatesSetting):
    """Renders `{{ form }}` and `{{ field.as_field_group }}` by our own parts."""

    form_template_name = "parts/form.html"
    field_template_name = "parts/field.html"


class InWords(forms.BaseForm):
    """Faults come from the server, in words, beside their fields."""

    use_required_attribute = False

    def full_clean(self) -> None:
        """What is left empty says what to do there."""
        for field in self.fields.values():
            if field.error_messages["required"] == forms.Field.default_error_messages["required"]:
                one_of = isinstance(field, forms.ChoiceField | forms.FileField)
                field.error_messages["required"] = (
                    _("Choose one.") if one_of else _("Write it here.")
                )
        super().full_clean()

    def refuse(self, error: WitnessError, field: str | None = None) -> None:
        """Put an error of the core beside `field` (None: above the form)."""
        self.add_error(field, in_words(error))


class SheetForm(InWords, forms.Form):
    """A form of its own."""


class SheetModelForm(InWords, forms.ModelForm):
    """The same for a form over one row. It writes only the fields that were changed on the page.

    Each field remembers what the page showed, so what somebody else changed meanwhile stays.
    """

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field.label, str):  # of a column; a label of ours is lazy
                field.label = gettext(field.label)
        if not _is_new(self.instance):
            for field in self.fields.values():
                field.show_hidden_initial = True

    def save(self, commit: bool = True) -> Any:  # noqa: FBT001, FBT002 - Django's signature
        """Save a new row whole, an old one by its changed fields only."""
        if not commit or _is_new(self.instance):
            return super().save(commit)
        columns = {field.name for field in self.instance._meta.concrete_fields}
        changed = [name for name in self.changed_data if name in columns]
        if changed:
            self.instance.save(update_fields=changed)
        return self.instance


class QuantityField(forms.CharField):
    """A quantity as typed, with its unit; cleans to a `units.Amount`, or None when left empty.

    `unit`: the unit meant by a bare number, shown beside the field. Without it a unit must be typed.
    `bare_in`: the same where another field of the page tells it. What was understood is told below the
    field as one types.
    """

    bare_in = ""

    def __init__(self, quantity: units.Quantity, *, unit: str = "", **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 60)
        kwargs.setdefault("widget", ToldInput("understood", on_load=False, quantity=quantity))
        super().__init__(**kwargs)
        self.quantity, self.unit = quantity, unit
        self.widget.attrs |= {"inputmode": "decimal" if unit else "text"}

    @property
    def unit(self) -> str:
        """The unit that a bare number is in."""
        return self._unit

    @unit.setter
    def unit(self, unit: str) -> None:
        self._unit = unit
        if isinstance(self.widget, ToldInput):
            self.widget.query = {"quantity": self.quantity, "unit": unit}

    def clean(self, value: Any) -> Any:
        """Read the text at the boundary; the error says what is wrong and what would be right."""
        text = super().clean(value)
        if not text:
            return None
        try:
            return units.read(units.with_unit(text, self.unit or self.bare_in), self.quantity)
        except units.QuantityError as error:
            raise ValidationError(in_words(error)) from error


class ChoiceTiles(forms.RadioSelect):
    """One of a few, as tiles big enough for a thumb."""

    template_name = "parts/tiles.html"


class ManyTiles(forms.CheckboxSelectMultiple):
    """Some of a few, as tiles."""

    template_name = "parts/tiles.html"


class ToldInput(forms.TextInput):
    """A field whose meaning is told below it as one types; `told`: the name of the address that tells it.

    `on_load`: also of what stands in it when the page opens. What else is named goes with the question;
    `beside`: another field of the page that does, and whose change asks again.
    """

    template_name = "parts/understood_input.html"

    def __init__(
        self,
        told: str,
        attrs: dict[str, Any] | None = None,
        *,
        on_load: bool = True,
        **query: str,
    ) -> None:
        super().__init__({"autocomplete": "off"} | (attrs or {}))
        self.told, self.on_load, self.query, self.beside = told, on_load, query, ""

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        """With what asks for the words: on loading, and a moment after the last key."""
        context = super().get_context(name, value, attrs)
        changed = ""
        if self.beside:
            changed = f", change from:[name={self.beside}]"
            context["widget"]["attrs"]["hx-include"] = f"[name={self.beside}]"
        context["widget"]["attrs"] |= {
            "hx-get": reverse(self.told) + (f"?{urlencode(self.query)}" if self.query else ""),
            "hx-trigger": ("load, " if self.on_load else "")
            + "input changed delay:400ms"
            + changed,
            "hx-target": f"#told-{context['widget']['attrs'].get('id', name)}",
            "hx-sync": "this:replace",
        }
        return context


class PhotoInput(forms.FileInput):
    """A photo from the camera or the files, with a preview where scripts run."""

    template_name = "parts/photo_input.html"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"accept": "image/*", "capture": "environment"} | (attrs or {}))


class SignatureInput(PhotoInput):
    """A photo of a signed paper, or what the owner draws on the tablet; wants `sign.js`."""

    template_name = "parts/signature_input.html"


def _is_new(row: Model) -> bool:
    return row._state.adding  # noqa: SLF001 - documented by Django for this question


def whole(typed: str, most: int) -> int | None:
    """A whole number written in digits, from 0 to `most`; None for anything else, however long."""
    if not typed.isascii() or not typed.isdecimal() or len(typed) > len(str(most)):
        return None
    number = int(typed)
    return number if number <= most else None


def either(texts: Sequence[str]) -> str:
    """One of several, in words. Example: ``on, off or half on``."""
    *first, last = texts
    if not first:
        return last
    return gettext("{first} or {last}").format(first=", ".join(first), last=last)


def in_words(error: WitnessError) -> str:
    """The parts of an error that belong beside a field: what is wrong, what would be right."""
    words = f"{error.problem}; {error.expected}" if error.expected else error.problem
    return words[:1].upper() + words[1:] + ("" if words.endswith((".", "?")) else ".")
