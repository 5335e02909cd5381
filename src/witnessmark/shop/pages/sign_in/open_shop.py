"""The first page of an empty store: the shop, and who signs in to it first."""

from __future__ import annotations

from ipaddress import ip_address
from pathlib import Path
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.contrib.auth import get_user_model, login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.password_validation import validate_password
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.http.request import split_domain_port
from django.shortcuts import render
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods

from witnessmark.shop import passwords
from witnessmark.shop.forms import SheetForm
from witnessmark.shop.models.shop import known_zone
from witnessmark.shop.responses import UNPROCESSABLE, SeeOther
from witnessmark.shop.work.first_shop import is_empty, opened

MODEL_BACKEND = "django.contrib.auth.backends.ModelBackend"


class OpenForm(SheetForm):
    """Shop, zone, and the person who runs it."""

    shop = forms.CharField(label=_("What is the shop called?"), max_length=120)
    person = forms.CharField(
        label=_("Your name"), max_length=150, help_text=_("As papers print it.")
    )
    username = forms.CharField(
        label=_("Sign-in name"), max_length=150, validators=[UnicodeUsernameValidator()]
    )
    password = passwords.PasswordField(
        new=True, label=_("Password"), help_text=_("At least 8 signs, not digits alone.")
    )
    time_zone = forms.CharField(
        label=_("Time zone"),
        max_length=64,
        validators=[known_zone],
        widget=forms.TextInput({"list": "zones", "autocomplete": "off"}),
    )

    def clean(self) -> dict[str, Any]:
        """A password that can be taken."""
        said = super().clean() or {}
        if said.get("password"):
            user = get_user_model()(
                username=said.get("username", ""), first_name=said.get("person", "")
            )
            try:
                validate_password(said["password"], user)
            except ValidationError as error:
                self.add_error("password", error)
        return said


@login_not_required
@require_http_methods(["GET", "POST"])
def open_shop(request: HttpRequest) -> HttpResponse:
    """Open the shop, once, at the machine itself; then go on signed in."""
    if not is_empty():
        return SeeOther("/")
    here = _at_the_machine(request)
    posted = request.method == "POST" and here
    form = OpenForm(request.POST if posted else None, initial={"time_zone": _zone_of_the_machine()})
    if posted and form.is_valid():
        return _opened(request, form.cleaned_data)
    context = {"form": form, "here": here, "zones": sorted(available_timezones())}
    status = UNPROCESSABLE if posted else 200 if here else 403
    return render(request, "sign_in/open_shop.html", context, status=status)


def _opened(request: HttpRequest, said: dict[str, Any]) -> HttpResponse:
    user = opened(
        said["shop"], said["time_zone"], username=said["username"], password=said["password"], person=said["person"],
    )  # fmt: skip
    if user is not None:
        login(request, user, backend=MODEL_BACKEND)
    return SeeOther("/")


def _at_the_machine(request: HttpRequest) -> bool:
    """Whether it was asked for at the machine that serves it: else whoever comes first would have the shop."""
    host = split_domain_port(request.get_host())[0].strip("[]")
    asked = (str(passwords.address_of(request)), "127.0.0.1" if host == "localhost" else host)
    try:
        return all(ip_address(one).is_loopback for one in asked) and (
            "HTTP_X_FORWARDED_FOR" not in request.META
        )
    except ValueError:
        return False


def _zone_of_the_machine() -> str:
    """The zone that the machine's own clock shows; UTC where it does not say."""
    name = str(Path("/etc/localtime").resolve()).partition("zoneinfo/")[2]
    return name if name in available_timezones() else "UTC"
