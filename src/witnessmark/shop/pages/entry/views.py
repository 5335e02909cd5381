"""Signing in and out, the switches for theme and units, and pages for what went wrong."""

import sys
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView, LogoutView
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils.decorators import method_decorator
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from witnessmark.formats import KeptError
from witnessmark.shop.answers import UNPROCESSABLE, SeeOther
from witnessmark.shop.scope import LOOKS
from witnessmark.shop.trouble import trouble

YEAR = 60 * 60 * 24 * 365


class SignInForm(AuthenticationForm):
    """Name and password; faults come from the server."""

    use_required_attribute = False
    error_messages = {
        "invalid_login": "Name or password is not right; capitals count in both.",
        "inactive": "This sign-in was closed; ask who runs the shop.",
    }


@method_decorator(login_not_required, name="dispatch")
class SignIn(LoginView):
    """The sign-in page; where one wanted to go is where one arrives."""

    template_name = "entry/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        """Come back with what was typed."""
        return self.render_to_response(self.get_context_data(form=form), status=UNPROCESSABLE)


class SignOut(LogoutView):
    """Ends the sign-in, by POST only."""


@login_not_required
@require_POST
def look(request: HttpRequest) -> HttpResponse:
    """Keep the theme or the units on this device, and go back to where the switch was used."""
    back = request.POST.get("back", "/")
    if not url_has_allowed_host_and_scheme(back, {request.get_host()}, request.is_secure()):
        back = "/"
    response = SeeOther(back)
    for switch, choices in LOOKS.items():
        choice = request.POST.get(switch, "")
        if choice in choices:
            response.set_cookie(
                switch,
                choice,
                max_age=YEAR,
                samesite="Lax",
                secure=request.is_secure(),
                httponly=True,
            )
    return response


def not_understood(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """400: a request no page of ours makes."""
    return _fault(request, 400, "This request was not understood.",
                  "Go back, load the page again and repeat what you did.")  # fmt: skip


def not_allowed(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """403: signed in, but without a shop."""
    return _fault(request, 403, str(exception) or "This is not yours to open.",
                  "Whoever runs the shop can add this sign-in to it.")  # fmt: skip


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """404: nothing here, or another shop's."""
    return _fault(request, 404, "Nothing stands at this address.",
                  "It may have been mistyped, or belong to another shop.")  # fmt: skip


def not_as_kept(request: HttpRequest, error: KeptError) -> HttpResponse:
    """409: something kept was changed, is gone, or was made by a newer version."""
    place, right = (text[:1].upper() + text[1:] for text in (error.place, error.right))
    return _fault(request, 409, f"{place} {error.wrong}.", f"{right}.")


def broken(request: HttpRequest) -> HttpResponse:
    """507 or 503: the disk or the database refused. 500: our fault."""
    refused = trouble(sys.exc_info()[1])
    if refused:
        return _fault(request, refused.status, refused.wrong, refused.right)
    return _fault(request, 500, "Something broke on our side. What was stored before is safe.",
                  "Go back and try again; if it breaks again, the server's log says where.")  # fmt: skip


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The form was older than the sign-in: nothing was stored, and what was typed can be got back."""
    return _fault(request, 403, "This form is older than your sign-in; nothing was stored.",
                  "Go back: what you typed still stands there. Load the page anew, then send it.")  # fmt: skip


def _fault(request: HttpRequest, status: int, wrong: str, right: str) -> HttpResponse:
    context: dict[str, Any] = {"wrong": wrong, "right": right, "status": status}
    try:
        return render(request, "entry/fault.html", context, status=status)
    except (DatabaseError, OSError):  # then without what only the store knows
        return HttpResponse(render_to_string("entry/fault.html", context), status=status)
