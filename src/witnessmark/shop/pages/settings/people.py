"""Who works here: what each can do, when they are there; what the shop has of lifts and the like."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any
from uuid import UUID

from django import forms
from django.db import transaction
from django.http import HttpResponse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from witnessmark.shop.forms import ChoiceTiles, ManyTiles, SheetModelForm, whole
from witnessmark.shop.models import Member, Shop
from witnessmark.shop.models.people import DAYS, clock
from witnessmark.shop.responses import back_or, done, show
from witnessmark.shop.scope import DeskRequest, shop_read_now
from witnessmark.shop.work import staff

NAME = re.compile(r"[a-z][a-z0-9_]*")
SPAN = re.compile(r"(\d{1,2})[:.](\d{2}) ?[-–] ?(\d{1,2})[:.](\d{2})")


class HoursField(forms.CharField):
    """Times of day as `08:00-12:30, 13:15-17:00`; cleans to pairs of minutes of the day, in order."""

    def prepare_value(self, value: Any) -> Any:
        """Pairs of minutes as they are typed."""
        if not isinstance(value, list):
            return value
        return ", ".join(f"{clock(begin)}–{clock(end)}" for begin, end in value)

    def clean(self, value: Any) -> Any:
        """Read the spans; each within the day, one after the other."""
        spans = []
        for text in filter(None, (part.strip() for part in super().clean(value).split(","))):
            found = SPAN.fullmatch(text)
            if found is None:
                raise forms.ValidationError(
                    gettext("“{text}”: write hours like 08:00–12:30, 13:15–17:00.").format(
                        text=text
                    )
                )
            hour, minute, until, rest = map(int, found.groups())
            spans.append([hour * 60 + minute, until * 60 + rest])
            if minute > 59 or rest > 59 or not spans[-1][0] < spans[-1][1] <= 1440:
                raise forms.ValidationError(
                    gettext("“{text}”: begin before you end, by midnight at the latest.").format(
                        text=text
                    )
                )
        if any(later[0] < earlier[1] for earlier, later in pairwise(spans)):
            raise forms.ValidationError(
                gettext("One span begins before the one ahead of it has ended.")
            )
        return spans


class NamesField(forms.CharField):
    """Names as service books write them, with commas between; cleans to a list."""

    def prepare_value(self, value: Any) -> Any:
        """A list as it is typed."""
        return ", ".join(value) if isinstance(value, list) else value

    def clean(self, value: Any) -> Any:
        """Read the names, each once."""
        names = [n.strip() for n in super().clean(value).split(",") if n.strip()]
        for name in names:
            if not NAME.fullmatch(name):
                raise forms.ValidationError(
                    gettext(
                        "“{name}”: write it as the book does, in small letters, like wheel_building."
                    ).format(name=name)
                )
        return list(dict.fromkeys(names))


class CountsField(forms.CharField):
    """Names with how many there are, like `press 1, stand 2`; cleans to a mapping."""

    def prepare_value(self, value: Any) -> Any:
        """A mapping as it is typed."""
        return ", ".join(f"{n} {v}" for n, v in value.items()) if isinstance(value, dict) else value

    def clean(self, value: Any) -> Any:
        """Read names and counts."""
        counts = {}
        for text in filter(None, (part.strip() for part in super().clean(value).split(","))):
            name, _before, count = text.rpartition(" ")
            number = whole(count, 100)
            if not NAME.fullmatch(name.strip()) or number is None:
                raise forms.ValidationError(
                    gettext("“{text}”: write a name and how many, like press 1.").format(text=text)
                )
            counts[name.strip()] = number
        return counts


class PersonForm(SheetModelForm):
    """What one person may do and can do, and when they are there."""

    hours = HoursField(
        label=_("Hours of a working day"), required=False, max_length=120,
        help_text=_("Like 08:00–12:30, 13:15–17:00. Empty: always there."),
    )  # fmt: skip
    weekdays = forms.TypedMultipleChoiceField(
        label=_("Working days"), coerce=int, choices=list(enumerate(DAYS)), widget=ManyTiles,
        error_messages={"required": _("Choose at least one day, or take the person off the plan.")},
    )  # fmt: skip
    skills = NamesField(
        label=_("Skills"), required=False, max_length=300,
        help_text=_("As service books name them, with commas. Steps that ask for none need none."),
    )  # fmt: skip

    first_name = forms.CharField(label=_("First name"), max_length=150)
    last_name = forms.CharField(label=_("Last name"), max_length=150, required=False)

    class Meta:
        model = Member
        fields = ("role", "at_the_bench", "does_everything", "skills", "hours", "weekdays")
        labels = {
            "at_the_bench": _("Is planned with"),
            "does_everything": _("Can do everything"),
        }
        help_texts = {"does_everything": _("Else only what the skills below allow.")}
        widgets = {"role": ChoiceTiles}

    field_order = ("first_name", "last_name", "role", "at_the_bench", "does_everything")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        user = self.instance.user
        self.initial.update(first_name=user.first_name, last_name=user.last_name)
        self.fields["role"].choices = Member.Role.choices[::-1]  # type: ignore[attr-defined]


class RoomForm(SheetModelForm):
    """Lifts, other things in short supply, and the way from machine to machine."""

    resources = CountsField(
        label=_("Other things in short supply"), required=False, max_length=300,
        help_text=_("As service books name them, with how many there are: press 1, stand 2."),
    )  # fmt: skip

    class Meta:
        model = Shop
        fields = ("lifts", "resources", "change_minutes")
        labels = {
            "lifts": _("Lifts"),
            "change_minutes": _("Minutes to go over to another machine"),
        }
        help_texts = {
            "change_minutes": _("Hands washed, tools fetched. The day's plan counts it in.")
        }


@require_http_methods(["GET", "POST"])
def person(request: DeskRequest, member: UUID) -> HttpResponse:
    """Name, role, skills and hours of one person."""
    row = request.desk.get(Member, member, "user")
    form = PersonForm(request.POST or None, instance=row)
    if request.method == "POST" and form.is_valid() and _kept(request, row, form):
        return done(
            request, back_or(request, "settings"), said=gettext("Saved for {row}.").format(row=row)
        )
    about = request.desk.get(Member, member, "user")
    return show(request, "settings/person.html", {"form": form, "person": about})


def _kept(request: DeskRequest, row: Member, form: PersonForm) -> bool:
    """Write what was changed on the page; not the role of the shop's last head."""
    said = form.cleaned_data
    try:
        with transaction.atomic():
            if "role" in form.changed_data:
                staff.give_role(
                    request.desk, request.desk.get(Member, row.pk, "user"), said["role"]
                )
            if {"first_name", "last_name"} & set(form.changed_data):
                staff.rename(row, said["first_name"], said["last_name"])
            form.save()
    except staff.StaffError as error:
        form.refuse(error, "role")
        return False
    return True


@require_http_methods(["GET", "POST"])
def room(request: DeskRequest) -> HttpResponse:
    """Lifts and the rest."""
    form = RoomForm(request.POST or None, instance=shop_read_now(request.desk))
    if request.method == "POST" and form.is_valid():
        form.save()
        return done(request, back_or(request, "settings"), said=gettext("Saved."))
    return show(
        request,
        "settings/one.html",
        {"form": form, "title": gettext("Lifts and room"), "back": "settings"},
    )
