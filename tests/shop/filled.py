"""What a browser without scripts sends: the form of a page as it came, with some fields typed over."""

from html.parser import HTMLParser
from typing import Any

from django.http import HttpResponse
from django.test import Client


class Forms(HTMLParser):
    """The POST forms of a page: the names of their fields, and the values they would send."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[tuple[set[str], dict[str, Any]]] = []
        self._into: dict[str, Any] | None = None
        self._select = self._area = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._into = {} if said.get("method") == "post" else None
            if self._into is not None:
                self.found.append((set(), self._into))
        elif self._into is None:
            return
        elif tag == "input":
            self.found[-1][0].add(said["name"])
            self._input(said)
        elif tag == "textarea":
            self._area = said["name"]
            self._into[self._area] = ""
        elif tag == "select":
            self._select = said["name"]
        elif (
            tag == "option"
            and self._select
            and ("selected" in said or self._select not in self._into)
        ):
            self._into[self._select] = said["value"]

    def _input(self, said: dict[str, str]) -> None:
        assert self._into is not None
        kind = said.get("type", "text")
        if kind == "file" or (kind in ("radio", "checkbox") and "checked" not in said):
            return
        value = said.get("value", "on" if kind == "checkbox" else "")
        if kind == "checkbox":
            self._into.setdefault(said["name"], []).append(value)
        elif kind == "hidden" and said["name"] in self._into:
            self._into[said["name"]] = [*_listed(self._into[said["name"]]), value]
        else:
            self._into[said["name"]] = value

    def handle_data(self, data: str) -> None:
        if self._area and self._into is not None:
            self._into[self._area] += (
                data.removeprefix("\n") if not self._into[self._area] else data
            )

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea":
            self._area = ""
        elif tag == "select":
            self._select = ""
        elif tag == "form":
            self._into = None


def _listed(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [value]


def form_of(page: str, field: str) -> dict[str, Any]:
    """The values of the one form that has this field."""
    (values,) = (values for names, values in Forms(page).found if field in {*names, *values})
    return dict(values)


def send(
    client: Client, path: str, typed: dict[str, Any], *, by: str = "", to: str = ""
) -> HttpResponse:
    """Open a page, type some fields of its form over, send it. None takes a field away, as unticking does.

    `by`: a field that names the form, where the first one typed does not.
    """
    page = client.get(path)
    assert page.status_code == 200, (path, page.status_code)
    values = form_of(page.content.decode(), by or next(iter(typed))) | typed
    sent = {name: value for name, value in values.items() if value is not None}
    return client.post(to or path.partition("?")[0], sent)


def faults_of(answer: HttpResponse) -> list[str]:
    """The faults that stand on a page."""

    class Faults(HTMLParser):
        def __init__(self) -> None:
            super().__init__()
            self.found: list[str] = []
            self.inside = False

        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            self.inside = ("class", "fault") in attrs

        def handle_data(self, data: str) -> None:
            if self.inside:
                self.found.append(data)

        def handle_endtag(self, tag: str) -> None:
            self.inside = False

    faults = Faults()
    faults.feed(answer.content.decode())
    return faults.found
