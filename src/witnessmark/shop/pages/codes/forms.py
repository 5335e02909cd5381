"""What is pasted from a reader, and what is said of clearing."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from witnessmark.decode import Pasted, read_pasted
from witnessmark.shop.forms import ChoiceTiles, SheetForm
from witnessmark.shop.work.codes import AFTER, BEFORE, Codes
from witnessmark.shop.work.forms import words

MOST_PASTED = 20_000


class PastedForm(SheetForm):
    """A reading: when it was taken, from which unit, and what the reader showed."""

    moment = forms.ChoiceField(label=_("Taken"), choices=words(BEFORE, AFTER), widget=ChoiceTiles)
    pasted = forms.CharField(
        label=_("What the reader shows"),
        max_length=MOST_PASTED,
        strip=False,
        help_text=_("Text, a table or hexadecimal answers, in any mix, one below the other."),
        widget=forms.Textarea({"rows": 8, "autocomplete": "off", "spellcheck": "false"}),
    )
    unit = forms.CharField(
        label=_("Control unit"),
        required=False,
        max_length=120,
        help_text=_("Where the text itself does not name it."),
    )
    adds = forms.BooleanField(label=_("Another unit of the reading before"), required=False)

    def __init__(self, *args: Any, known: Codes, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"moment": known.next_moment})
        super().__init__(*args, **kwargs)
        self.read: Pasted | None = None
        if not known.copied:
            del self.fields["adds"]

    def clean_pasted(self) -> str:
        """It must tell what is there: at least one code, or that there is none."""
        text: str = self.cleaned_data["pasted"].strip("\r\n")
        self.read = read_pasted(text)
        if self.read.conclusive:
            return text
        if self.read.cleared:
            problem = gettext("It only says that codes were cleared: say so below.")
        else:
            problem = gettext(
                "No code is in it, and it does not say that there is none. Write none if that is so."
            )
        raise forms.ValidationError(problem)


class ClearedForm(SheetForm):
    """That codes were cleared."""

    text = forms.CharField(label=_("In which control units"), required=False, max_length=400)
    sure = forms.BooleanField(
        label=_("They are gone already, nothing was copied"),
        error_messages={"required": _("Copy them first. If they are gone already, tick it.")},
    )

    def __init__(self, *args: Any, known: Codes, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if known.copied:
            del self.fields["sure"]
