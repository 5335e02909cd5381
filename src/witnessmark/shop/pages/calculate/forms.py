"""The form of a calculator, made from what it asks for."""

from __future__ import annotations

from collections.abc import Mapping

from django import forms
from django.utils.html import format_html
from django.utils.translation import gettext as _

from witnessmark.calculators import Asked, Calculator
from witnessmark.calculators.model import MOST_TEXT
from witnessmark.errors import WitnessError
from witnessmark.shop.forms import ChoiceTiles, SheetForm
from witnessmark.shop.pages.calculate.filling import Known

MOST_TILES = 6  # more choices are quicker found in a list


def form_of(
    calculator: Calculator, typed: Mapping[str, str] | None, known: Mapping[str, Known]
) -> SheetForm:
    """One field per thing asked for, with what is known put in. What is typed is read by the core alone, not by the
    fields.

    A field whose value is still the one that is known says where that comes from.
    """  # fmt: skip
    fields = {asked.name: _field(asked) for asked in calculator.asked}
    put_in = {name: one.text for name, one in known.items()}
    form = type("CalculatorForm", (SheetForm,), fields)(typed, initial=put_in)
    assert isinstance(form, SheetForm)
    for name, one in known.items():
        if typed is None or _lines(typed.get(name, "")) == _lines(one.text):
            form.fields[name].help_text = format_html(
                '{}<span class="origin">{}</span>', form.fields[name].help_text, one.origin
            )
    return form


def _lines(text: str) -> list[str]:
    """As they were sent: a browser ends lines in its own way."""
    return text.strip().splitlines()


def refuse(form: SheetForm, errors: tuple[WitnessError, ...]) -> None:
    """Each error beside its field; one of no field above the form."""
    for error in errors:
        form.refuse(error, error.place if error.place in form.fields else None)


def _field(asked: Asked) -> forms.Field:
    label = _("{text} (may stay empty)").format(text=asked.text) if asked.optional else asked.text
    field = forms.CharField(
        label=label,
        required=False,
        strip=False,
        max_length=MOST_TEXT,
        help_text=asked.help,
        widget=_widget(asked),
    )
    field.unit = asked.unit  # type: ignore[attr-defined]  # shown beside the field by its part
    return field


def _widget(asked: Asked) -> forms.Widget:
    if asked.kind == "choice":
        choices = [(choice, choice) for choice in asked.choices]
        if asked.optional or len(choices) > MOST_TILES:
            return forms.Select(choices=[("", "—"), *choices])
        return ChoiceTiles(choices=choices)
    attrs = {
        "placeholder": _("such as {example}").format(example=asked.example),
        "autocomplete": "off",
        "autocapitalize": "off",
        "spellcheck": "false",
    }
    if asked.kind == "lines":
        return forms.Textarea(attrs | {"rows": 5})
    return forms.TextInput(attrs | ({"inputmode": "decimal"} if asked.kind == "number" else {}))
