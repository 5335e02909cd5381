"""What is typed at hand-back: what closes an item without a card, an override, and the return itself."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import timedelta
from typing import Any

from django import forms
from django.utils.formats import time_format
from django.utils.text import format_lazy
from django.utils.timezone import localtime, now
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop as noop

from witnessmark.ledger.bodies import Arrived
from witnessmark.shop import passwords
from witnessmark.shop.forms import ChoiceTiles, QuantityField, SheetForm, SignatureInput
from witnessmark.shop.passwords import PasswordField
from witnessmark.shop.scope import Desk, DeskRequest
from witnessmark.shop.store import EntryDraft
from witnessmark.shop.templatetags.in_every_template import shown
from witnessmark.shop.work.forms import JudgeForm, SettleForm, words
from witnessmark.shop.work.hand_back import LEAST_APART, Blocking, Means, SecondLook

PRINTED, NOT_RIDDEN, DECLINED = (
    noop("printed in the record"),
    noop("not to be ridden"),
    noop("defect told and declined"),
)
RIDDEN, TRAILER = noop("ridden away"), noop("on a trailer")
ROAD_TEST_KM = 100.0  # ridden between the door and hand-back: more is asked about


class ConfirmForm(SheetForm):
    """Two entries that did not see each other were compared at the machine."""

    text = forms.CharField(label=_("What did you see?"), required=False, max_length=400)


class FindingForm(SheetForm):
    """A reading outside its limits is put into words: it is then a finding, and wants an answer."""

    text = forms.CharField(label=_("What does it mean for this machine?"), max_length=1000)
    safety = forms.BooleanField(label=_("It concerns safety"), required=False)


class AloneForm(SheetForm):
    """What a lone worker does in place of a second person."""

    apart = forms.ChoiceField(
        label=_("Between the work and this look"),
        choices=[("break", _("a break")), ("other work", _("other work"))],
        widget=ChoiceTiles,
        error_messages={"required": _("Say what was between.")},
    )
    minutes = forms.IntegerField(
        label=_("For how many minutes?"),
        min_value=LEAST_APART,
        max_value=100_000,
        help_text=format_lazy(_("At least {least}."), least=LEAST_APART),
        error_messages={
            "required": _("Say for how many minutes."),
            "min_value": format_lazy(
                _("At least {least} minutes: go away, then look again."), least=LEAST_APART
            ),
        },
    )
    other_order = forms.BooleanField(
        label=_("Looked at in another order than it was done in"),
        error_messages={"required": _("Look in another order, then tick this.")},
    )
    looked_again = forms.BooleanField(
        label=_("Looked again for leaks, at stripes and at levels"),
        error_messages={"required": _("Look again for these, then tick this.")},
    )
    not_ridden_because = forms.CharField(
        label=_("Not ridden since, because"),
        required=False,
        max_length=400,
        error_messages={"required": _("Say why it was not ridden since.")},
    )

    def __init__(self, *args: Any, looks: Collection[SecondLook], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # the newest work looked at: the clock says what has passed since
        self.since = max((one.since for one in looks if one.since), default=None)
        passed = self.passed()
        if passed is not None and passed >= LEAST_APART:
            self.fields["minutes"].initial = passed
        elif passed is not None:
            self.fields["minutes"].help_text = self.too_early(passed)
        if all(one.ridden for one in looks):
            del self.fields["not_ridden_because"]
        else:
            self.fields["not_ridden_because"].required = True
            self.fields["not_ridden_because"].help_text = gettext(
                "No road test was passed after this work. If there will be one, look after it."
            )

    def passed(self) -> int | None:
        """Whole minutes since the work; None where nothing says when that was."""
        return max(0, int((now() - self.since).total_seconds() // 60)) if self.since else None

    def too_early(self, passed: int) -> str:
        """What has passed, and from when on it may be looked at."""
        assert self.since is not None
        back = localtime(self.since + timedelta(minutes=LEAST_APART, seconds=59))
        if passed >= LEAST_APART:
            words = ngettext(
                "Only {n} minute has passed since the work at {since}.",
                "Only {n} minutes have passed since the work at {since}.",
                passed,
            )
        else:
            words = ngettext(
                "Only {n} minute has passed since the work at {since}; come back at {back}.",
                "Only {n} minutes have passed since the work at {since}; come back at {back}.",
                passed,
            )
        return words.format(
            n=passed, since=time_format(localtime(self.since)), back=time_format(back)
        )

    def clean_minutes(self) -> int:
        """No longer than the clock of the entries allows."""
        minutes: int = self.cleaned_data["minutes"]
        passed = self.passed()
        if passed is not None and minutes > passed:
            raise forms.ValidationError(self.too_early(passed))
        return minutes


class OverrideForm(SheetForm):
    """One open item let through hand-back by whoever is signed in, for a reason; the password says who that is."""

    reason = forms.CharField(
        label=_("Why?"), max_length=1000, widget=forms.Textarea({"rows": 2}),
        help_text=_("Printed in the record, first, in these words."),
    )  # fmt: skip
    paper = forms.ChoiceField(label=_("By which paper?"), widget=ChoiceTiles)
    signature = forms.FileField(
        label=_("Photo of the signed paper"),
        required=False,
        widget=SignatureInput,
        help_text=_("“Not to be ridden” and “defect told and declined” are signed by the owner."),
    )
    password = PasswordField()

    def __init__(
        self, *args: Any, request: DeskRequest, safety: bool, signed: bool, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.request, self.signed = request, signed
        self.fields["password"].label = gettext("Your password, {member}").format(
            member=request.desk.member
        )
        papers = [NOT_RIDDEN, DECLINED] if safety else [PRINTED, NOT_RIDDEN, DECLINED]
        self.fields["paper"].choices = words(*papers)  # type: ignore[attr-defined]
        if not safety:
            self.fields["paper"].initial = PRINTED

    def clean(self) -> dict[str, Any]:
        """A paper of its own is signed; the password is right."""
        said = super().clean() or {}
        unsigned = not (said.get("signature") or self.signed) and "signature" not in self.errors
        if unsigned and said.get("paper") in {NOT_RIDDEN, DECLINED}:
            self.add_error(
                "signature",
                gettext("The owner signs: on the paper, of which you take a photo, or here."),
            )
        if said.get("password") and not self.errors:
            fault = passwords.fault(self.request, said["password"])
            if fault:
                self.add_error("password", fault)
        return said


class ReturnForm(SheetForm):
    """What goes back to the owner, and how the machine leaves. Nothing is filled in: it is counted and read now.

    `came`: what was counted at arrival; `odometer_km`: what was read last, None where nothing was.
    """

    odometer = QuantityField("distance", label=_("Odometer now"))
    keys = forms.IntegerField(label=_("Keys given back"), min_value=0, max_value=100)
    fobs = forms.IntegerField(label=_("Fobs given back"), min_value=0, max_value=100)
    old_parts = forms.ChoiceField(
        label=_("Old parts"),
        choices=[("yes", _("given back")), ("no", _("not given"))],
        widget=ChoiceTiles,
        required=False,
    )
    leaves = forms.ChoiceField(
        label=_("It leaves"), choices=words(RIDDEN, TRAILER), widget=ChoiceTiles
    )
    text = forms.CharField(label=_("Told to the owner"), required=False, max_length=1000)
    so = forms.BooleanField(label=_("That is right"), required=False)

    def __init__(
        self,
        *args: Any,
        came: Arrived,
        odometer_km: float | None,
        desk: Desk,
        not_to_be_ridden: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.came, self.odometer_km = came, odometer_km
        odometer = self.fields["odometer"]
        odometer.unit = "km" if desk.units == "metric" else "mi"  # type: ignore[attr-defined]
        odometer.widget.attrs["inputmode"] = "decimal"
        if not came.fobs:
            del self.fields["fobs"]
        if came.old_parts_back is False:
            del self.fields["old_parts"]
        elif came.old_parts_back:
            self.fields["old_parts"].required = True
        if not_to_be_ridden:
            self.fields["leaves"].choices = words(TRAILER)  # type: ignore[attr-defined]
        self.differs = False

    def clean(self) -> dict[str, Any]:
        """A difference from arrival is said; it passes when somebody says that it is so."""
        said = super().clean() or {}
        differences = list(self._differences(said))
        self.differs = bool(differences)
        if not said.get("so"):
            for field, fault in differences:
                self.add_error(field, fault)
        return said

    def acts(self) -> list[EntryDraft]:
        """What the odometer read as it left, and that the machine was handed back."""
        said = self.cleaned_data
        parts = {"yes": True, "no": False}.get(said.get("old_parts") or "")
        back = {
            "keys": said["keys"],
            "fobs": said.get("fobs", 0),
            "old_parts_given": parts,
            "ridden_away": said["leaves"] == RIDDEN,
            "text": said["text"],
        }
        odometer = {"km": said["odometer"].value, "text": said["odometer"].text}
        return [("odometer", odometer), ("returned", back)]

    def _differences(self, said: dict[str, Any]) -> Any:
        for field, came_in in (("keys", _keys), ("fobs", _fobs)):
            came, goes = getattr(self.came, field), said.get(field)
            if goes is None or not came or goes == came:  # 0 at arrival: nobody counted
                continue
            look = (
                gettext("Look for the rest, or tick “That is right” below.")
                if goes < came
                else gettext("Count again, or tick “That is right” below.")
            )
            yield field, f"{came_in(came)} {look}"
        if self.came.old_parts_back and said.get("old_parts") == "no":
            yield (
                "old_parts",
                gettext(
                    "The owner wants the old parts back. Give them, or tick “That is right” below."
                ),
            )
        if fault := self._odometer_fault(said.get("odometer")):
            yield "odometer", f"{fault} {gettext('Read it again, or tick “That is right” below.')}"

    def _odometer_fault(self, amount: Any) -> str:
        """Less than was read before, or more than a road test rides."""
        before = self.odometer_km
        if amount is None or before is None:
            return ""
        ridden = amount.value - before
        if ridden < -0.5:  # a clock shows whole units
            return gettext("It read {before} before.").format(before=shown(before, "distance"))
        if ridden > ROAD_TEST_KM:
            return gettext("That is {ridden} more than it came in with.").format(
                ridden=shown(ridden, "distance")
            )
        return ""


FORM_OF: dict[Means, type[SheetForm]] = {
    "settle": SettleForm,
    "judge": JudgeForm,
    "confirm": ConfirmForm,
    "outside": FindingForm,
}


def of_line(
    line: Blocking, posted: Mapping[str, Any] | None = None, *, auto_id: str
) -> SheetForm | None:
    """The form that closes a line, where words are needed to close it."""
    kind = FORM_OF.get(line.means)
    return kind(posted, auto_id=auto_id) if kind else None


def _keys(n: int) -> str:
    return ngettext("{n} key came in.", "{n} keys came in.", n).format(n=n)


def _fobs(n: int) -> str:
    return ngettext("{n} fob came in.", "{n} fobs came in.", n).format(n=n)
