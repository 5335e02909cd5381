"""A day of the shop over HTTP, as a browser without scripts sends it: every form that makes entries, once."""

import re
from dataclasses import dataclass, field
from html import unescape
from typing import Any

from django.http import HttpResponse
from django.test import Client
from django.urls import resolve

from tests.shop.filled import Forms

# What is for machines alone: hashes, UUIDs, ids of the book, ids of items, days by ISO 8601.
NOT_FOR_PEOPLE = re.compile(
    r"\b\d{4}-\d\d-\d\d\b|"
    r"\b(?=\w*\d)(?=\w*[a-f])[0-9a-f]{8,}\b|\b[a-z][a-z0-9]*_[a-z0-9_]*[a-z0-9]\b"
    r"|\b(?:fastener|circuit|renewal|reading|outside|finding|wont|job|figure|condition|thread)/\w"
)
FORM = re.compile(r"<form\b.*?</form>", re.DOTALL)


@dataclass
class Sent:
    """A form that was sent, and how it was answered."""

    path: str
    fields: dict[str, Any]
    to: str
    said: list[str]

    @property
    def name(self) -> str:
        """The name of its address."""
        return str(resolve(self.path).url_name)


def words(answer: HttpResponse) -> list[str]:
    """What an answer tells on the page it leads to."""
    return [str(one) for one in answer.wsgi_request._messages._queued_messages]  # type: ignore[attr-defined]


def text_of(answer: HttpResponse) -> str:
    """What a person reads on a page: no markup, no attributes."""
    page = re.sub(r"<(script|style).*?</\1>", " ", answer.content.decode(), flags=re.DOTALL)
    return unescape(" ".join(re.sub(r"<[^>]*>", " ", page).split()))


def not_for_people(pages: dict[str, str]) -> dict[str, list[str]]:
    """What stands on pages and papers that no person can read, by address."""
    found = {where: NOT_FOR_PEOPLE.findall(text) for where, text in pages.items()}
    return {where: ids for where, ids in found.items() if ids}


def form_to(page: str, here: str, path: str, holding: str = "") -> dict[str, Any]:
    """What the first form of a page that goes to `path`, and has a text, would send as it stands."""
    for form in FORM.findall(page):
        action = re.search(r'<form[^>]*\baction="([^"]*)"', form)
        goes = unescape(action[1]) if action else here.partition("?")[0]
        if goes == path and 'name="entry_id"' in form and holding in form:
            return dict(Forms(form).found[0][1])
    raise AssertionError(f"no form to {path} with {holding!r} on {here}")


@dataclass
class Person:
    """Somebody signed in, and what was sent so far."""

    client: Client
    sent: list[Sent] = field(default_factory=list)
    seen: dict[str, str] = field(default_factory=dict)  # words of every page, by its address

    def form(self, here: str, path: str = "", holding: str = "") -> dict[str, Any]:
        """Open a page and take one of its forms."""
        page = self.client.get(here)
        assert page.status_code == 200, (here, page.status_code)
        self.seen[f"{here} for {path}, {len(self.sent)} sent"] = text_of(page)
        return form_to(page.content.decode(), here, path or here.partition("?")[0], holding)

    def post(self, path: str, fields: dict[str, Any]) -> HttpResponse:
        """Send a form; one that was answered is remembered."""
        answer = self.client.post(path, {n: v for n, v in fields.items() if v is not None})
        if answer.status_code == 303:
            self.sent.append(Sent(path, fields, answer.headers["Location"], words(answer)))
        return answer

    def do(self, here: str, path: str = "", holding: str = "", **typed: Any) -> HttpResponse:
        """Open a page, type some fields of its form over, send it; it has to be stored."""
        path = path or here.partition("?")[0]
        named = {name.replace("__", "-"): value for name, value in typed.items()}
        answer = self.post(path, self.form(here, path, holding) | named)
        assert answer.status_code == 303, (path, answer.status_code, text_of(answer)[:2000])
        return answer
