"""Signing in and out, the switches for theme and units, and pages for what went wrong."""

import re
import sys
from typing import Any
from urllib.parse import urlsplit

from axes.handlers.proxy import AxesProxyHandler
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView, LogoutView
from django.core.exceptions import BadRequest, ValidationError
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import Resolver404, resolve
from django.utils.decorators import method_decorator
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST

from witnessmark.kept_versions import KeptError
from witnessmark.shop import passwords, roles
from witnessmark.shop.ids import new_id
from witnessmark.shop.pages.sign_in import sign_in_again
from witnessmark.shop.receipts import back_to
from witnessmark.shop.responses import UNPROCESSABLE, SeeOther
from witnessmark.shop.roles import RefusedError
from witnessmark.shop.scope import LOOKS, Desk, member_of
from witnessmark.shop.storage_faults import trouble
from witnessmark.shop.work import staff
from witnessmark.shop.work.first_shop import is_empty

BAD_REQUEST = 400
YEAR = 60 * 60 * 24 * 365
FORBIDDEN, TOO_MANY = 403, 429
MARK = re.compile(
    r"[^A-Z\s]*[a-z_/{\"][^A-Z\s]*"
)  # what pages say to themselves: ids, names in books, hashes


class SignInForm(AuthenticationForm):
    """Name and password; faults come from the server."""

    use_required_attribute = False
    error_messages = {
        "invalid_login": gettext_lazy("Name or password is not right; capitals count in both."),
        "inactive": gettext_lazy("This sign-in was closed; ask the head of the shop."),
    }

    def get_invalid_login_error(self) -> ValidationError:
        """What is wrong; after too many wrong passwords, how long to wait."""
        name = {"username": self.cleaned_data.get("username")}
        wait = passwords.too_often(self.request, name) if self.request else ""
        return ValidationError(wait) if wait else super().get_invalid_login_error()


@method_decorator(login_not_required, name="dispatch")
class SignIn(LoginView):
    """The sign-in page; where one wanted to go is where one arrives."""

    template_name = "sign_in/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Who is signed in already goes on; a form that the page carried does not get lost by a second tap."""
        if request.method == "GET" and is_empty():
            return redirect("open-shop")
        before = sign_in_again.typed_before(request) if request.method == "POST" else None
        if before is not None and hasattr(request, "desk"):
            return send_what_was_typed(request, *before, files="files" in request.POST)
        return super().dispatch(request, *args, **kwargs)

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        """On to where one wanted to go; a form that was typed before is shown, to be sent."""
        name = form.get_user().get_username()
        AxesProxyHandler.reset_attempts(
            username=passwords.name_tried(self.request, {"username": name})
        )
        before = sign_in_again.typed_before(self.request)
        if before is None:
            return super().form_valid(form)
        login(self.request, form.get_user())
        files = "files" in self.request.POST
        return send_what_was_typed(self.request, *before, files=files)

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        """Come back with what was typed."""
        context = self.get_context_data(form=form)
        context |= sign_in_again.carried_on(self.request)
        locked = getattr(self.request, "axes_locked_out", False)
        status = TOO_MANY if locked else UNPROCESSABLE
        return self.render_to_response(context, status=status)


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
    """400: a request no page of ours makes, or one that does not say what it means."""
    words = str(exception) if isinstance(exception, BadRequest) else ""
    problem = f"{words[:1].upper()}{words[1:]}." if words else _("This request was not understood.")
    return _fault(request, 400, problem,
                  _("Nothing was recorded. Load the page again and repeat what you did."))  # fmt: skip


def not_allowed(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """403: signed in, and not allowed this; or without a shop."""
    if isinstance(exception, RefusedError):
        who = staff.who_may(request.desk, exception.least)  # type: ignore[attr-defined]
        return _fault(
            request, 403, exception.problem, _("{who} Nothing was stored.").format(who=who)
        )
    return _fault(request, 403, str(exception) or _("You may not open this page."),
                  _("The head of the shop can let you in again; what you had stored stays."))  # fmt: skip


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """404: nothing here, or another shop's."""
    return _fault(request, 404, _("There is no page at this address."),
                  _("It may have been mistyped, or belong to another shop."))  # fmt: skip


def not_as_kept(request: HttpRequest, error: KeptError) -> HttpResponse:
    """409: something kept was changed, is gone, or was made by a newer version."""
    place, expected = (text[:1].upper() + text[1:] for text in (error.place, error.expected))
    return _fault(request, 409, f"{place} {error.problem}.", f"{expected}.")


def broken(request: HttpRequest) -> HttpResponse:
    """507 or 503: the disk or the database refused. 500: our fault."""
    refused = trouble(sys.exc_info()[1])
    if refused:
        return _fault(request, refused.status, refused.problem, refused.expected)
    return _fault(request, 500, _("Something broke on our side. What was stored before is safe."),
                  _("Go back and try again; if it breaks again, the server's log says where."))  # fmt: skip


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The form was older than the sign-in: nothing was stored, and what was typed can be sent now."""
    if sign_in_again.ours(request):
        answer = _sent_again(request)
        if answer is not None:
            return answer
    return _fault(request, 403, _("This form is older than your sign-in; nothing was stored."),
                  _("Go back: what you typed is still there. Load the page again, then send it."))  # fmt: skip


def _sent_again(request: HttpRequest) -> HttpResponse | None:
    """What becomes of a form of ours that is older than the sign-in; None where nothing was typed in it."""
    here, before = hasattr(request, "desk"), sign_in_again.typed_before(request)
    match = request.resolver_match
    if match is not None and match.url_name == "sign-in":  # sent twice, or from an old page
        if not here:
            return sign_in_again.sign_in_anew(request)
        if before is None:
            return SeeOther("/")
        return send_what_was_typed(request, *before, files="files" in request.POST)
    typed = sign_in_again.typed_in(request)
    if not typed:
        return None
    if not here:
        return sign_in_again.sign_in_again(request)
    to, files = request.get_full_path(), bool(request.FILES)
    return send_what_was_typed(request, to, typed, files=files, status=FORBIDDEN)


def send_what_was_typed(
    request: HttpRequest, to: str, typed: sign_in_again.Typed, *, files: bool, status: int = 200
) -> HttpResponse:
    """A form that was filled in under another sign-in or none: shown with its words, to be sent by who is here now."""
    if not hasattr(request, "desk"):  # just signed in: the middleware had nobody
        request.desk = Desk(member_of(request), new_id())  # type: ignore[attr-defined]
    words = [value for _key, value in typed if value.strip() and not MARK.fullmatch(value)]
    context = {"to": to, "fields": typed, "words": words, "files": files, "leave": _page_of(to)}
    return render(request, "sign_in/send.html", context, status=status)


def _page_of(to: str) -> str:
    """The nearest page above an address that takes forms only."""
    path = to.partition("?")[0]
    while path not in ("", "/"):
        path = path.rstrip("/").rpartition("/")[0] + "/"
        try:
            see, _rest = roles.AT.get(resolve(path).url_name or "", (None, None))
        except Resolver404:
            continue
        if see:
            return path
    return "/"


def _opening(back: str) -> str:
    """The page that a link can open where the browser was: an address that takes forms only has it above."""
    _scheme, _host, path, query, _anchor = urlsplit(back)
    try:
        see, do = roles.AT.get(resolve(path).url_name or "", (None, None))
    except Resolver404:
        return "/"
    return f"{path if see or not do else _page_of(path)}{query and f'?{query}'}"


def _fault(request: HttpRequest, status: int, problem: str, expected: str) -> HttpResponse:
    back = request.META.get("HTTP_REFERER", "")
    ours = url_has_allowed_host_and_scheme(back, {request.get_host()}, request.is_secure())
    visit = request.resolver_match and request.resolver_match.kwargs.get("visit")
    of_the_visit = back_to(request, visit) if visit and status == BAD_REQUEST else ""
    context: dict[str, Any] = {
        "problem": problem,
        "expected": expected,
        "status": status,
        "back": of_the_visit or (_opening(back) if ours else ""),
    }
    try:
        return render(request, "sign_in/fault.html", context, status=status)
    except (DatabaseError, OSError):  # then without what only the store knows
        return HttpResponse(render_to_string("sign_in/fault.html", context), status=status)
