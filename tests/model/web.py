"""A person at a browser without scripts: pages over real HTTP, forms read from their HTML.

Standard library alone. It knows HTML, cookies and redirects, and nothing about Witness Mark.
"""

from __future__ import annotations

import http.client
import re
import uuid
from dataclasses import dataclass, field
from html.parser import HTMLParser
from http.cookies import SimpleCookie
from urllib.parse import urlencode, urljoin, urlsplit

VOID = frozenset(
    [
        "area",
        "base",
        "br",
        "col",
        "embed",
        "hr",
        "img",
        "input",
        "link",
        "meta",
        "source",
        "track",
        "wbr",
    ]
)
REDIRECTS = frozenset({301, 302, 303, 307, 308})
HEADINGS = frozenset({"h1", "h2", "h3", "strong"})
NOT_STORED = frozenset({"button", "submit", "reset", "image"})


@dataclass
class Control:
    """An input, select, textarea or button as it stands in a form."""

    name: str
    kind: str  # text, hidden, checkbox, radio, select, textarea, submit, number, file …
    value: str = ""
    label: str = ""
    checked: bool = False
    required: bool = False
    disabled: bool = False
    options: list[tuple[str, str]] = field(default_factory=list)  # value, words


@dataclass
class Form:
    """A form; `page` is the address it was read from."""

    page: str
    action: str
    method: str
    multipart: bool
    controls: list[Control] = field(default_factory=list)
    words: str = ""
    classes: str = ""
    headings: list[tuple[str, str]] = field(default_factory=list)  # h1, h2, h3, strong: words

    @property
    def path(self) -> str:
        return urlsplit(self.action).path

    @property
    def names(self) -> list[str]:
        return [one.name for one in self.controls]

    def value(self, name: str) -> str:
        return next((one.value for one in self.controls if one.name == name), "")

    def buttons(self) -> list[Control]:
        return [one for one in self.controls if one.kind in {"submit", "button"}]

    def asked(self) -> list[Control]:
        """What a person fills in: everything that is neither hidden nor a button."""
        unseen = NOT_STORED | {"hidden"}
        return [one for one in self.controls if one.kind not in unseen and not one.disabled]

    def as_it_stands(self) -> list[tuple[str, str]]:
        """What a browser would send were nothing typed and no button named."""
        sent = []
        for one in self.controls:
            if not one.name or one.disabled or one.kind in NOT_STORED | {"file"}:
                continue
            if one.kind in {"checkbox", "radio"} and not one.checked:
                continue
            sent.append((one.name, one.value))
        return sent


@dataclass
class Page:
    """What came back, after redirects."""

    status: int
    url: str
    html: str
    forms: list[Form]
    links: list[tuple[str, str]]  # address, words
    text: str
    told: str = ""  # what the page says about the act before it

    @property
    def path(self) -> str:
        return urlsplit(self.url).path


def same_answer(first: Page, again: Page) -> bool:
    """The same status and words; words of an answer that a kill kept from being read may come along."""
    told, now = first.told, again.told
    along = told.endswith(now) or (bool(told) and now.endswith(told))
    return first.status == again.status and along


@dataclass(frozen=True)
class Sent:
    """A request as it went out, to be sent again to the letter."""

    action: str
    multipart: bool
    fields: tuple[tuple[str, str], ...]
    by: str
    page: str


class Reader(HTMLParser):
    """Forms, links and text of one page."""

    def __init__(self, url: str) -> None:
        super().__init__(convert_charrefs=True)
        self.url = url
        self.forms: list[Form] = []
        self.links: list[tuple[str, str]] = []
        self.text: list[str] = []
        self._form: Form | None = None
        self._outside: list[tuple[str, Control]] = []  # controls with form="id"
        self._ids: dict[str, Form] = {}
        self._label: list[str] | None = None
        self._labelled: str = ""
        self._label_for: dict[str, str] = {}
        self._control_ids: list[tuple[str, Control]] = []
        self._wrapped: list[Control] = []
        self._select: Control | None = None
        self._option: list[str] | None = None
        self._option_value: str | None = None
        self._area: Control | None = None
        self._button: Control | None = None
        self._link: tuple[str, list[str]] | None = None
        self._quiet = 0
        self._heading: tuple[str, list[str]] | None = None
        self._told: list[str] | None = None
        self.told = ""

    def handle_starttag(  # noqa: C901, PLR0912 - a table of tags
        self, tag: str, attrs: list[tuple[str, str | None]]
    ) -> None:
        a = {name: value or "" for name, value in attrs}
        if tag in {"script", "style", "template"}:
            self._quiet += 1
        elif tag == "form":
            self._form = Form(
                self.url,
                urljoin(self.url, a.get("action", "") or self.url),
                a.get("method", "get").lower(),
                a.get("enctype") == "multipart/form-data",
                classes=a.get("class", ""),
            )
            self.forms.append(self._form)
            if "id" in a:
                self._ids[a["id"]] = self._form
        elif tag in HEADINGS:
            self._heading = (tag, [])
        elif tag == "div" and a.get("id") == "messages":
            self._told = []
        elif tag == "main" and self._told is not None:
            self.told, self._told = _squeezed("".join(self._told)), None
        elif tag == "label":
            self._label, self._labelled, self._wrapped = [], a.get("for", ""), []
        elif tag == "input":
            self._add(
                Control(a.get("name", ""), a.get("type", "text"), a.get("value", "")), a, checked=a
            )
        elif tag == "button":
            self._button = self._add(
                Control(a.get("name", ""), a.get("type", "submit"), a.get("value", "")), a
            )
        elif tag == "select":
            self._select = self._add(Control(a.get("name", ""), "select"), a)
        elif tag == "option" and self._select is not None:
            self._close_option()
            self._option, self._option_value = [], a.get("value")
            if "selected" in a:
                self._select.value = a.get("value", "")
                self._select.checked = True
        elif tag == "textarea":
            self._area = self._add(Control(a.get("name", ""), "textarea"), a)
        elif tag == "a" and a.get("href"):
            self._link = (urljoin(self.url, a["href"]), [])

    def _add(
        self, one: Control, a: dict[str, str], checked: dict[str, str] | None = None
    ) -> Control:
        if checked is not None:
            one.checked = "checked" in checked
            if one.kind in {"checkbox", "radio"} and "value" not in checked:
                one.value = "on"
        one.required, one.disabled = "required" in a, "disabled" in a
        one.label = a.get("aria-label", "") or a.get("placeholder", "")
        if "id" in a:
            self._control_ids.append((a["id"], one))
        if self._label is not None:
            self._wrapped.append(one)
        if "form" in a:
            self._outside.append((a["form"], one))
        elif self._form is not None:
            self._form.controls.append(one)
        return one

    def handle_endtag(self, tag: str) -> None:  # noqa: C901, PLR0912 - a table of tags
        if tag in {"script", "style", "template"}:
            self._quiet = max(0, self._quiet - 1)
        elif tag == "form":
            self._form = None
        elif self._heading and tag == self._heading[0]:
            if self._form is not None:
                self._form.headings.append((tag, _squeezed("".join(self._heading[1]))))
            self._heading = None
        elif tag == "label" and self._label is not None:
            words = _squeezed("".join(self._label))
            for one in self._wrapped:
                one.label = words
            if self._labelled:
                self._label_for[self._labelled] = words
            self._label = None
        elif tag == "option":
            self._close_option()
        elif tag == "select":
            self._close_option()
            if self._select and not self._select.checked and self._select.options:
                self._select.value = self._select.options[0][0]
            self._select = None
        elif tag == "textarea":
            self._area = None
        elif tag == "button":
            self._button = None
        elif tag == "a" and self._link:
            self.links.append((self._link[0], _squeezed("".join(self._link[1]))))
            self._link = None

    def _close_option(self) -> None:
        if self._option is not None and self._select is not None:
            words = _squeezed("".join(self._option))
            value = words if self._option_value is None else self._option_value
            self._select.options.append((value, words))
        self._option = None

    def handle_data(self, data: str) -> None:
        if self._quiet:
            return
        if self._area is not None:
            self._area.value += data
            return
        self.text.append(data)
        if self._heading:
            self._heading[1].append(data)
        if self._told is not None:
            self._told.append(data)
        if self._option is not None:
            self._option.append(data)
        if self._label is not None:
            self._label.append(data)
        if self._button is not None:
            self._button.label += data
        if self._link:
            self._link[1].append(data)
        if self._form is not None:
            self._form.words += data

    def done(self) -> None:
        for form_id, one in self._outside:
            if form_id in self._ids:
                self._ids[form_id].controls.append(one)
        for control_id, one in self._control_ids:
            one.label = one.label or self._label_for.get(control_id, "")
        for form in self.forms:
            form.words = _squeezed(form.words)
            for one in form.controls:
                one.label = _squeezed(one.label)


def _squeezed(words: str) -> str:
    return re.sub(r"\s+", " ", words).strip()


def read(status: int, url: str, html: str) -> Page:
    reader = Reader(url)
    reader.feed(html)
    reader.close()
    reader.done()
    text = "\n".join(
        line for line in (_squeezed(one) for one in "".join(reader.text).splitlines()) if line
    )
    return Page(status, url, html, reader.forms, reader.links, text, reader.told)


class Unanswered(Exception):  # noqa: N818 - what happened, no error
    """The server was gone before its answer was read: nobody knows what it did."""


class Browser:
    """One person's browser: cookies, and what was sent."""

    def __init__(self, name: str, host: str, port: int) -> None:
        self.name, self.host, self.port = name, host, port
        self.cookies: dict[str, str] = {}
        self.base = f"http://{host}:{port}"

    def get(self, path: str) -> Page:
        return self._follow("GET", urljoin(self.base, path), None, {})

    def post(self, sent: Sent) -> Page:
        if sent.multipart:
            boundary = uuid.uuid4().hex
            parts = [
                f'--{boundary}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'
                for name, value in sent.fields
            ]
            body = ("".join(parts) + f"--{boundary}--\r\n").encode()
            kind = f"multipart/form-data; boundary={boundary}"
        else:
            body = urlencode(list(sent.fields)).encode()
            kind = "application/x-www-form-urlencoded"
        return self._follow("POST", sent.action, body, {"Content-Type": kind, "Referer": sent.page})

    def fill(
        self, form: Form, typed: dict[str, str | list[str] | None], button: Control | None = None
    ) -> Sent:
        """The request of this form with `typed` in its fields; None leaves a field out."""
        fields = [(name, value) for name, value in form.as_it_stands() if name not in typed]
        for name, value in typed.items():
            values = [] if value is None else [value] if isinstance(value, str) else value
            fields += [(name, one) for one in values]
        if button is not None and button.name:
            fields.append((button.name, button.value))
        return Sent(form.action, form.multipart, tuple(fields), self.name, form.page)

    def _follow(self, method: str, url: str, body: bytes | None, headers: dict[str, str]) -> Page:
        for _ in range(6):
            status, told, raw = self._once(method, url, body, headers)
            if status not in REDIRECTS or "location" not in told:
                return read(status, url, raw.decode("utf-8", "replace"))
            url = urljoin(url, told["location"])
            method, body, headers = "GET", None, {}
        raise AssertionError(f"{url} redirects without end")

    def _once(
        self, method: str, url: str, body: bytes | None, headers: dict[str, str]
    ) -> tuple[int, dict[str, str], bytes]:
        at = urlsplit(url)
        path = (at.path or "/") + (f"?{at.query}" if at.query else "")
        if self.cookies:
            cookie = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
            headers = {**headers, "Cookie": cookie}
        link = http.client.HTTPConnection(self.host, self.port, timeout=120)
        try:
            link.request(method, path, body=body, headers=headers)
            answer = link.getresponse()
            raw = answer.read()
        except (OSError, http.client.HTTPException) as gone:
            raise Unanswered(f"{method} {path}: {gone!r}") from gone
        finally:
            link.close()
        for told in answer.headers.get_all("Set-Cookie") or []:
            for name, morsel in SimpleCookie(told).items():
                self.cookies[name] = morsel.value
        return answer.status, {k.lower(): v for k, v in answer.headers.items()}, raw

    def sign_in(self, user: str, password: str) -> Page:
        form = next(one for one in self.get("/sign-in/").forms if "username" in one.names)
        return self.post(self.fill(form, {"username": user, "password": password}))
