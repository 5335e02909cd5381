"""Refuses what nobody can type, before any page looks at it."""

import re
from collections.abc import Callable, Iterable
from typing import Any

from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse

UNTYPED = re.compile(
    r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]"
)  # a tab and the ends of lines can be typed


class CharactersMiddleware:
    """A control character in a field or in the address: 400 in words. PostgreSQL would refuse it with a 500."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, *_: Any) -> None:
        """After the check of the form's origin, before the page."""
        for sent in (request.GET, request.POST):
            for name, values in sent.lists():
                if _untyped((name, *values)):
                    raise BadRequest("a field holds a character that cannot be typed")


def _untyped(texts: Iterable[str]) -> bool:
    return any(UNTYPED.search(text) for text in texts)
