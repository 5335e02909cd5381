"""Who answers, how, and up to how much may be done without asking."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from witnessmark.money import MoneyError, read_amount
from witnessmark.shop.forms import ChoiceTiles, SheetForm
from witnessmark.shop.models import Owner
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.forms import HOW, words
from witnessmark.shop.work.visit import Work


class SaidForm(SheetForm):
    """Who said it, and how."""

    by = forms.ChoiceField(label=_("Who says so"), widget=ChoiceTiles)
    how = forms.ChoiceField(label=_("How it was said"), choices=words(*HOW), widget=ChoiceTiles)

    def __init__(self, *args: Any, desk: Desk, work: Work, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = owners(desk, work)
        field = self.fields["by"]
        field.choices = people  # type: ignore[attr-defined]
        field.initial = people[0][0] if people else None
        if len(people) == 1:
            field.widget = forms.HiddenInput()
            field.label = people[0][1]

    @property
    def said(self) -> dict[str, str]:
        """As entries have it."""
        return {"by": self.cleaned_data["by"], "how": self.cleaned_data["how"]}


class LimitForm(SaidForm):
    """Up to how much, with tax, may be done without asking."""

    amount = forms.CharField(
        label=_("Up to how much, with tax"),
        max_length=40,
        widget=forms.TextInput({"inputmode": "decimal"}),
    )
    field_order = ["amount", "how", "by"]

    def __init__(self, *args: Any, desk: Desk, work: Work, **kwargs: Any) -> None:
        super().__init__(*args, desk=desk, work=work, **kwargs)
        self.currency = desk.shop.currency
        self.fields["amount"].unit = self.currency  # type: ignore[attr-defined]

    def clean_amount(self) -> int:
        """Minor units."""
        try:
            return read_amount(self.cleaned_data["amount"], self.currency)
        except MoneyError as error:
            raise forms.ValidationError(f"{error.problem}; {error.expected}.") from error


def owners(desk: Desk, work: Work) -> list[tuple[str, str]]:
    """The owner who brought the machine, and its owner now where that is another."""
    keys = dict.fromkeys([work.state.owner, str(work.machine.owner_id or "")])
    rows = {str(row.pk): str(row) for row in desk.all(Owner).filter(pk__in=[k for k in keys if k])}
    return [(key, rows[key]) for key in keys if key and key in rows]
