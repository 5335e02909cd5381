"""A form that came without a sign-in: nothing is stored, and what was typed goes on to who signs in now."""

from __future__ import annotations

import json
from typing import Any

from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import Resolver404, resolve

NOT_CARRIED = ("csrfmiddlewaretoken",)
FORBIDDEN = 403

Typed = list[tuple[str, str]]


class SignInAgainMiddleware(LoginRequiredMiddleware):
    """As Django's; but a form is answered by a page that keeps what was typed, where Django would drop it."""

    def handle_no_permission(  # type: ignore[override]  # Django takes any response
        self, request: HttpRequest, view_func: Any
    ) -> HttpResponse:
        """To the sign-in page; a form by way of the page that carries it."""
        if request.method != "POST":
            return super().handle_no_permission(request, view_func)
        return sign_in_again(request) if typed_in(request) else redirect("sign-in")


def sign_in_again(request: HttpRequest) -> HttpResponse:
    """The sign-in page, with what was typed kept on it."""
    from witnessmark.shop.pages.sign_in.views import SignInForm  # noqa: PLC0415 - views import this

    context = {
        "form": SignInForm(request),
        "to": request.get_full_path(),
        "typed": json.dumps(typed_in(request)),
        "files": bool(request.FILES),
    }
    return render(request, "sign_in/sign_in.html", context, status=FORBIDDEN)


def sign_in_anew(request: HttpRequest) -> HttpResponse:
    """The sign-in page from before another sign-in, fresh, with what it carried."""
    from witnessmark.shop.pages.sign_in.views import SignInForm  # noqa: PLC0415 - views import this

    form = SignInForm(request, initial={"username": request.POST.get("username", "")})
    context = {"form": form, **carried_on(request)}
    return render(request, "sign_in/sign_in.html", context, status=FORBIDDEN)


def carried_on(request: HttpRequest) -> dict[str, str]:
    """What a sign-in page carried, for the page that follows it; empty where it carried nothing."""
    if typed_before(request) is None:
        return {}
    return {name: request.POST.get(name, "") for name in ("to", "typed", "files")}


def typed_in(request: HttpRequest) -> Typed:
    """What a form holds, without what belongs to its sign-in."""
    return [
        (name, value)
        for name, values in request.POST.lists()
        for value in values
        if name not in NOT_CARRIED and "password" not in name
    ]


def typed_before(request: HttpRequest) -> tuple[str, Typed] | None:
    """The form that the sign-in page carried: its address here, and what was typed; None where there is none."""
    to = request.POST.get("to", "")
    try:
        match = resolve(to.partition("?")[0])
        typed = [(str(name), str(value)) for name, value in json.loads(request.POST["typed"])]
    except (Resolver404, KeyError, ValueError, TypeError, RecursionError):
        return None
    return None if match.url_name in ("sign-in", "sign-out") else (to, typed)


def ours(request: HttpRequest) -> bool:
    """Whether a page of ours sent this form, as far as the browser says."""
    return request.headers.get("Origin", "") == f"{request.scheme}://{request.get_host()}"
