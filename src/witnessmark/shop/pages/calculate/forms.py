"""The form of a calculator, made from what it asks for."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _

from witnessmark.calculators import Asked, Calculator
from witnessmark.calculators.model import MOST_TEXT
from witnessmark.errors import WitnessError
from witnessmark.shop.forms import ChoiceTiles, SheetForm

MOST_TILES = 6  # more choices are quicker found in a list


def form_of(calculator: Calculator, typed: Any = None) -> SheetForm:
    """One field per thing asked for. What is typed is read by the core alone, not by the fields."""
    fields = {asked.name: _field(asked) for asked in calculator.asked}
    form = type("CalculatorForm", (SheetForm,), fields)(typed)
    assert isinstance(form, SheetForm)
    return form


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
