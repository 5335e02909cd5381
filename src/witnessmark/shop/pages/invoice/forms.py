"""What becomes of a line, what is charged beside the lines, what was paid."""

from __future__ import annotations

from datetime import timedelta
from typing import Any, get_args

from django import forms
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop as noop

from witnessmark.ledger.kinds.invoicing import LESS, Done, Extra, Free, PaidBy
from witnessmark.money import amount_text
from witnessmark.shop.fields import DayInput, MoneyField
from witnessmark.shop.forms import ChoiceTiles, SheetForm
from witnessmark.shop.models import Shop
from witnessmark.shop.work.forms import HOW, words

DONE = [noop("done"), noop("partly done"), noop("not done"), noop("replaced")]
FREE = [noop("goodwill"), noop("warranty"), noop("comeback"), noop("free for the owner")]
EXTRA = [
    noop("discount"), noop("deposit"), noop("deposit returned"), noop("storage"), noop("other"),
]  # fmt: skip
PAID_BY = [noop("cash"), noop("card"), noop("transfer")]
assert {*DONE} == {*get_args(Done)}
assert {"", *FREE} == {*get_args(Free)}
assert {*EXTRA} == {*get_args(Extra)}
assert {*PAID_BY} == {*get_args(PaidBy)}
LONGEST_AGO = timedelta(days=3660)  # of a day typed; judged by us: beyond, the year was mistyped


class MoneyForm(SheetForm):
    """A form with amounts in the shop's currency."""

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.currency = currency
        for field in self.fields.values():
            if isinstance(field, MoneyField):
                field.currency = currency

    def past_day(self, name: str) -> None:
        """Refuse a day that is still to come, or that nobody can mean."""
        day = self.cleaned_data.get(name)
        today = timezone.localdate()
        if day and not today - LONGEST_AGO <= day <= today:
            self.add_error(name, gettext("Give a day up to today."))


class LineForm(MoneyForm):
    """What became of an agreed line, and what is charged for it."""

    how = forms.ChoiceField(label=_("What became of it"), choices=words(*DONE), widget=ChoiceTiles)
    amount = MoneyField(
        label=_("What it came to, without tax"),
        required=False,
        help_text=_("Empty: as agreed. Of a line partly done: that part."),
    )
    free = forms.ChoiceField(
        label=_("Is it given away?"),
        required=False,
        choices=[("", _("no, it is charged")), *words(*FREE)],
        widget=ChoiceTiles,
    )
    because = forms.CharField(label=_("Why? The owner reads it"), required=False, max_length=400)
    cost = MoneyField(
        label=_("What it cost the shop, without tax"),
        required=False,
        help_text=_("Of what is given away. It is not printed."),
    )
    consent = forms.ChoiceField(
        label=_("More than was agreed: how did the owner agree to it?"),
        required=False,
        choices=[("", _("not asked")), *words(*HOW)],
        widget=ChoiceTiles,
    )

    def clean(self) -> dict[str, Any]:
        """What belongs together."""
        said = super().clean() or {}
        how, free = said.get("how"), said.get("free")
        if how == "partly done" and said.get("amount") is None and "amount" not in self.errors:
            self.add_error("amount", gettext("What is the price of the part that was done?"))
        if how in ("not done", "replaced") and (free or said.get("amount") is not None):
            self.add_error("how", gettext("What was not done has no price and is not given away."))
        if free and not said.get("because"):
            self.add_error("because", gettext("Say why it is given away."))
        if free and said.get("cost") is None and "cost" not in self.errors:
            self.add_error("cost", gettext("What did it cost the shop? Write 0 where nothing."))
        return said

    def body(self, line: str) -> dict[str, Any]:
        """As the entry has it."""
        said = self.cleaned_data
        body = {"line": line, "how": said["how"], "because": said["because"]}
        optional = {
            "net_minor": said["amount"], "free": said["free"],
            "cost_minor": said["cost"] if said["free"] else None, "consent": said["consent"],
        }  # fmt: skip
        return body | {name: value for name, value in optional.items() if value not in (None, "")}


class ExtraForm(MoneyForm):
    """Something beside the agreed lines."""

    what = forms.ChoiceField(label=_("What is it?"), choices=words(*EXTRA), widget=ChoiceTiles)
    text = forms.CharField(label=_("In words, as it is printed"), max_length=300)
    amount = MoneyField(label=_("Amount, without tax"), required=False)
    because = forms.CharField(label=_("Why? The owner reads it"), required=False, max_length=400)
    since = forms.DateField(
        label=_("Storage: to be fetched by, as the owner was told"),
        required=False,
        widget=DayInput,
    )
    day = MoneyField(label=_("Storage: a day, without tax"), required=False)
    consent = forms.ChoiceField(
        label=_("How did the owner agree to it?"),
        required=False,
        choices=[("", _("not asked")), *words(*HOW)],
        widget=ChoiceTiles,
        help_text=_("What adds to the sum is not charged before the owner agreed."),
    )

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, currency=shop.currency, **kwargs)
        self.initial.setdefault("day", shop.storage_day_minor)

    def clean(self) -> dict[str, Any]:
        """What belongs together; days are counted from the day after the one told."""
        said = super().clean() or {}
        what, amount = said.get("what"), said.get("amount")
        self.past_day("since")
        if what == "storage":
            for name in ("since", "day"):
                if not said.get(name) and name not in self.errors:
                    self.add_error(name, gettext("Storage is charged by the day."))
            if said.get("since") == timezone.localdate():
                self.add_error("since", gettext("The first day of storage is tomorrow."))
        elif not amount and "amount" not in self.errors:
            self.add_error("amount", gettext("Write more than nothing."))
        if what == "discount" and not said.get("because"):
            self.add_error("because", gettext("Say why, the owner reads it."))
        return said

    def body(self) -> dict[str, Any]:
        """As the entry has it."""
        said = self.cleaned_data
        body = {
            "what": said["what"], "words": said["text"], "because": said["because"],
            "net_minor": said["amount"],
        }  # fmt: skip
        if said["consent"] and said["what"] not in LESS:
            body["consent"] = said["consent"]
        if said["what"] == "storage":
            days = (timezone.localdate() - said["since"]).days
            body |= {
                "since": said["since"].isoformat(), "days": days, "day_minor": said["day"],
                "net_minor": days * said["day"],
            }  # fmt: skip
        return body


class PaidForm(MoneyForm):
    """Money that came, or that was paid back."""

    amount = MoneyField(label=_("Amount"))
    by = forms.ChoiceField(label=_("How"), choices=words(*PAID_BY), widget=ChoiceTiles)
    on = forms.DateField(label=_("Day"), widget=DayInput)
    text = forms.CharField(label=_("Note"), required=False, max_length=400)
    more = forms.BooleanField(
        label=_("It is more than is owed; the rest stays to the owner’s credit"), required=False
    )
    too_much = _("Only {most} is owed. Look again, or tick that it is meant.")

    def __init__(
        self, *args: Any, most: int, back: bool = False, shop: Shop, **kwargs: Any
    ) -> None:
        super().__init__(*args, currency=shop.currency, **kwargs)
        self.most, self.back = most, back
        if back:
            self.too_much = _("Only {most} was paid.")
        self.initial.setdefault("on", timezone.localdate())
        if most > 0:
            self.initial.setdefault("amount", most)
        if back or not self._too_much():
            self.fields.pop("more", None)

    def _too_much(self) -> bool:
        try:
            typed = self.fields["amount"].clean(self.data.get(self.add_prefix("amount")))
        except forms.ValidationError:
            return False
        return typed is not None and typed > self.most

    def clean(self) -> dict[str, Any]:
        """More than nothing; more than is owed only on purpose; back at most what was paid."""
        said = super().clean() or {}
        amount = said.get("amount")
        self.past_day("on")
        if amount == 0:
            self.add_error("amount", gettext("Write more than nothing."))
        if amount and amount > self.most and not said.get("more"):
            most = amount_text(max(self.most, 0), self.currency)
            self.add_error("amount", str(self.too_much).format(most=most))
        return said

    def body(self) -> dict[str, Any]:
        """As the entry has it."""
        said = self.cleaned_data
        body = {
            "minor": said["amount"], "currency": self.currency, "by": said["by"],
            "on": said["on"].isoformat(), "text": said.get("text", ""),
        }  # fmt: skip
        return body | ({"back": True} if self.back else {})


class AdvanceForm(PaidForm):
    """An advance that the owner paid: at most what was agreed and not asked for yet."""

    more = None  # type: ignore[assignment]  # never more than was agreed
    text = None  # type: ignore[assignment]
    too_much = _("At most {most} is agreed, with tax, and not asked for yet.")


class ReasonForm(SheetForm):
    """Why."""

    because = forms.CharField(label=_("Why?"), max_length=400)
