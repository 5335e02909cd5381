"""Passwords: asked for again, tried too often, too weak to be taken. What counts wrong tries is django-axes.

A device that the shop knows counts its wrong tries by itself, so that a stranger who tries a name from elsewhere
keeps nobody out of the shop; from devices that it does not know, a name and an address are counted each.
"""

from __future__ import annotations

from datetime import timedelta
from functools import cache
from typing import Any

from axes.handlers.database import AxesDatabaseHandler
from axes.models import AccessFailureLog
from django import forms
from django.conf import settings
from django.contrib.auth import authenticate, get_user_model
from django.contrib.auth.hashers import check_password
from django.core.exceptions import ValidationError
from django.db.models import Max
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from witnessmark.shop.scope import DeskRequest, known_device

BESIDE = " at "  # between name and device: no sign-in name has a space
WRONG = gettext_lazy("That is not your password; capitals count.")


class PasswordField(forms.CharField):
    """A password, never shown again."""

    def __init__(self, *, new: bool = False, **kwargs: Any) -> None:
        kwargs.setdefault("label", _("Your password"))
        offered = "new-password" if new else "current-password"
        widget = forms.PasswordInput({"autocomplete": offered})
        super().__init__(strip=False, max_length=200, widget=widget, **kwargs)


class NotOfTheDemo:
    """Refuses the password that everybody can read in this project's demo."""

    def validate(self, password: str, user: Any = None) -> None:
        """Raise ValidationError for it, in whatever case it is written."""
        if password.strip().lower() == of_the_demo():
            raise ValidationError(
                _("This is the demo's password, which everybody knows; choose another.")
            )

    def get_help_text(self) -> str:
        """For forms that list the rules."""
        return _("It is not the demo's.")


@cache
def of_the_demo() -> str:
    """The demo's password, as its scenario has it."""
    from witnessmark.shop.scenario import scenario  # noqa: PLC0415 - it imports the whole shop

    return str(scenario()["password"])


def still_of_the_demo() -> list[str]:
    """Sign-in names of people who may sign in with the demo's password."""
    people = get_user_model()._default_manager.filter(is_active=True).order_by("username")
    return [str(one) for one in people if check_password(of_the_demo(), one.password)]


# ---------------------------------------------------------------- counting wrong tries


def name_tried(request: HttpRequest, credentials: dict[str, Any] | None) -> str:
    """Under which name a try counts: the sign-in name, and the device where the shop knows it."""
    name = str((credentials or {}).get("username") or "")[:150].replace("\0", "")
    device = known_device(request)
    return f"{name}{BESIDE}{device}" if device else name


def counted_by(request: HttpRequest, credentials: dict[str, Any] | None) -> list[str]:
    """What is counted of a try: only its name on a known device, else its address, too."""
    return ["username"] if known_device(request) else ["username", "ip_address"]


def address_of(request: HttpRequest) -> str | None:
    """Where a request comes from; behind TLS, what the proxy in front of the pages wrote last."""
    told = request.META.get("HTTP_X_FORWARDED_FOR", "").rpartition(",")[2].strip()
    found = told if settings.HTTPS and told else request.META.get("REMOTE_ADDR", "")
    try:
        forms.GenericIPAddressField().clean(found)
    except ValidationError:
        return None
    return found


def fault(request: DeskRequest, password: str) -> str:
    """What is wrong with a password repeated by who is signed in; empty: it is right. A wrong one counts."""
    name = request.desk.member.user.get_username()
    user = authenticate(request, username=name, password=password)
    if user is not None and user.pk == request.desk.member.user_id:
        return ""
    return too_often(request, {"username": name}) or str(WRONG)


def too_often(request: HttpRequest, credentials: dict[str, Any]) -> str:
    """That there were too many wrong tries and how long to wait, in words; empty while there were not."""
    if not getattr(request, "axes_locked_out", False):
        return ""
    attempts = AxesDatabaseHandler().get_user_attempts(request, credentials)
    newest = max((found for rows in attempts if (found := _newest(rows))), default=timezone.now())
    wait = newest + settings.AXES_COOLOFF_TIME - timezone.now()
    minutes = max(1, -(-wait // timedelta(minutes=1)))
    told = f"{minutes} minute{'' if minutes == 1 else 's'}"
    return _(
        "Too many wrong passwords. Try again in {told}; a device that the shop knows may "
        "still get in."
    ).format(told=told)


def _newest(rows: Any) -> Any:
    return rows.aggregate(newest=Max("attempt_time"))["newest"]


def refused(names: dict[str, str], most: int = 50) -> list[tuple[Any, str, str, bool]]:
    """The newest refused sign-ins of a shop's people: when, who, from where, and whether it was one too many."""
    rows = AccessFailureLog.objects.none()
    for name in names:
        tried = AccessFailureLog.objects.filter(username=name)
        rows = (
            rows | tried | AccessFailureLog.objects.filter(username__startswith=f"{name}{BESIDE}")
        )
    return [
        (
            row.attempt_time,
            names.get(str(row.username).partition(BESIDE)[0], ""),
            _("a device of the shop")
            if BESIDE in str(row.username)
            else str(row.ip_address or "?"),
            row.locked_out,
        )
        for row in rows.order_by("-attempt_time")[:most]
    ]
