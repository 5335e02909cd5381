"""Fields that several pages have: money, per cent, days, quantities that a row keeps in its base unit."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from witnessmark import units
from witnessmark.money import MoneyError, exponent, read_amount
from witnessmark.shop.forms import QuantityField, in_words


class MoneyField(forms.CharField):
    """An amount as typed; cleans to minor units, or None where it was left empty. Set `currency` first."""

    currency = "EUR"

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 40)
        super().__init__(**kwargs)
        self.widget.attrs |= {"inputmode": "decimal", "autocomplete": "off"}

    @property
    def unit(self) -> str:
        """The currency, shown beside the field."""
        return self.currency

    def prepare_value(self, value: Any) -> Any:
        """Minor units as they are typed; what was typed stays as it is."""
        return plain(value, self.currency) if isinstance(value, int) else value

    def clean(self, value: Any) -> Any:
        """Read the amount; the error says what would be right."""
        text = super().clean(value)
        if not text:
            return None
        try:
            return read_amount(text, self.currency)
        except MoneyError as error:
            raise ValidationError(in_words(error)) from error


class PercentField(forms.CharField):
    """A number of per cent or of currency, with point or comma; cleans to a Decimal."""

    def __init__(self, *, unit: str = "%", **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 12)
        super().__init__(**kwargs)
        self.unit = unit
        self.widget.attrs |= {"inputmode": "decimal", "autocomplete": "off"}

    def clean(self, value: Any) -> Any:
        """Read the number."""
        text = super().clean(value).strip()
        if not text:
            return None
        try:
            number = Decimal(f"{units.read_number(text, unit=self.unit):.12g}")
        except units.QuantityError as error:
            raise ValidationError(in_words(error)) from None
        if not 0 <= number <= 1000:
            raise ValidationError(_("Write a number from 0 to 1000."))
        return number


class BaseField(QuantityField):
    """A quantity that a row keeps as a number in the base unit; cleans to that number."""

    shown_in: str | None = None  # the unit it is shown in; None: the usual one

    def prepare_value(self, value: Any) -> Any:
        """The number with its unit, as it is read back."""
        if not isinstance(value, int | float):
            return value
        if self.unit:  # which stands beside the field
            return f"{units.convert(value, self.quantity, self.unit):.10g}"
        return units.show(value, self.quantity, unit=self.shown_in).replace("\u202f", "")

    def clean(self, value: Any) -> Any:
        """The value in the base unit, or None."""
        amount = super().clean(value)
        return None if amount is None else amount.value


class DayInput(forms.DateInput):
    """A day, with the browser's own calendar."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


def plain(minor: int, currency: str) -> str:
    """Minor units as a plain number. Example: ``12.50``."""
    return f"{Decimal(minor).scaleb(-exponent(currency)):f}"
