"""A wish for the order: chosen on a form, carried in the address, priced against the order without it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from urllib.parse import parse_qs, urlencode

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from witnessmark.planner import Wish, WishError, WishKind
from witnessmark.shop.dates import time_text
from witnessmark.shop.forms import SheetForm

KINDS: dict[WishKind, Any] = {
    "first": _("first"),
    "before": _("before another job"),
    "ready": _("ready by a time"),
    "by": _("done by somebody"),
}


class WishForm(SheetForm):
    """Which job, and what is wished of it."""

    job = forms.ChoiceField(label=_("Which job"), required=False)
    kind = forms.ChoiceField(label=_("What should change"), choices=list(KINDS.items()))
    than = forms.ChoiceField(label=_("Before which job"), required=False)
    time = forms.TimeField(
        label=_("Ready by"),
        required=False,
        input_formats=["%H:%M"],
        widget=forms.TimeInput({"type": "time"}),
    )
    who = forms.ChoiceField(label=_("Done by"), required=False)

    def __init__(
        self,
        *args: Any,
        jobs: Mapping[str, str],
        people: Sequence[str],
        begin: datetime,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.begin = begin
        named = list(jobs.items())
        for name, choices in {
            "job": [("", gettext("all of it")), *named],
            "than": [("", "–"), *named],
            "who": [("", "–"), *((one, one) for one in people)],
        }.items():
            self.fields[name].choices = choices  # type: ignore[attr-defined]
        if len(people) < 2:
            del self.fields["who"]
            self.fields["kind"].choices = [k for k in KINDS.items() if k[0] != "by"]  # type: ignore[attr-defined]
        self.fields["time"].help_text = gettext("If work begins at {begin}.").format(
            begin=time_text(begin)
        )

    def clean(self) -> dict[str, Any]:
        """What the chosen wish needs beside it."""
        said = super().clean() or {}
        kind = said.get("kind")
        if kind and kind != "ready" and not said.get("job"):
            self.add_error("job", gettext("Choose the job to change."))
        if kind == "before" and said.get("than") in {"", said.get("job")}:
            self.add_error("than", gettext("Choose another job that it should come before."))
        if kind == "ready" and "time" not in self.errors and self._minute(said) <= 0:
            self.add_error(
                "time", gettext("Give a time after {begin}.").format(begin=time_text(self.begin))
            )
        if kind == "by" and not said.get("who"):
            self.add_error("who", gettext("Choose who does it."))
        return said

    def _minute(self, said: Mapping[str, Any]) -> int:
        """Minutes from the beginning of the plan."""
        time = said.get("time")
        if time is None:
            return 0
        return time.hour * 60 + time.minute - self.begin.hour * 60 - self.begin.minute

    @property
    def wish(self) -> Wish:
        """What was chosen."""
        said = self.cleaned_data
        kind: WishKind = said["kind"]
        return Wish(
            kind,
            said["job"],
            than=said["than"] if kind == "before" else "",
            minute=float(self._minute(said)) if kind == "ready" else None,
            who=said.get("who", "") if kind == "by" else "",
        )


def in_address(wish: Wish) -> str:
    """A wish as one value of an address; read back by `from_address`."""
    told = {"job": wish.job, "than": wish.than, "who": wish.who}
    if wish.minute is not None:
        told["minute"] = f"{wish.minute:g}"
    return f"{wish.kind}?{urlencode({name: value for name, value in told.items() if value})}"


def from_address(value: str) -> Wish | None:
    """The wish of an address; None where there is none. Raises WishError for one nobody made."""
    kind, _before, rest = value.partition("?")
    if not value:
        return None
    told = {name: values[0] for name, values in parse_qs(rest).items()}
    try:
        minute = float(told["minute"]) if "minute" in told else None
    except ValueError:
        minute = None
    if kind not in KINDS or not told.keys() <= {"job", "than", "who", "minute"}:
        raise WishError(
            "wish",
            gettext("the address names no change"),
            gettext("choose it on the order’s page"),
        )
    return Wish(kind, told.get("job", ""), told.get("than", ""), minute, told.get("who", ""))
