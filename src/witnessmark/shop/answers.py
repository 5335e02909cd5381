"""How a page answers: a page, 422 with what was typed, 303 to where it goes on, or a table for other programs."""

import csv
import re
from collections.abc import Callable, Iterable
from functools import partial
from typing import Any, TypeVar, cast

from django.contrib import messages
from django.forms import BaseForm
from django.forms.formsets import BaseFormSet
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render, resolve_url
from django.utils.functional import SimpleLazyObject

from witnessmark.shop.store import Stored

CLASH = (
    "This form had been stored before with other content. What you sent now was kept apart and "
    "counts for nothing; enter it again if it should."
)
NUMBER = re.compile(r"-?\d+(\.\d+)?(e[+-]\d+)?", re.ASCII)
T = TypeVar("T")
UNPROCESSABLE = 422  # htmx is told to show it; a browser without scripts shows it anyway


class SeeOther(HttpResponseRedirect):
    """After a POST: the answer stands at another address (303, so that it is fetched by GET)."""

    status_code = 303


def show(
    request: HttpRequest,
    template: str,
    context: dict[str, Any] | None = None,
    *,
    faulty: bool = False,
) -> HttpResponse:
    """Render a page. Status 422 when a form in `context` came back with faults (or `faulty`), else 200."""
    context = context or {}
    status = UNPROCESSABLE if faulty or any(map(_faulty, context.values())) else 200
    return render(request, template, context, status=status)


def late(made: Callable[..., T], *args: Any) -> T:
    """A value worked out where a page first needs it: inside the `part` that a fault in it is told in."""
    return cast("T", SimpleLazyObject(partial(made, *args)))


def done(
    request: HttpRequest,
    to: Any,
    *args: Any,
    said: str = "",
    stored: Iterable[Stored] = (),
    **kwargs: Any,
) -> HttpResponse:
    """Go on after a POST: to a URL name, a model with an address, or a path; `said` is shown there.

    `stored`: what the store answered; an entry that was kept apart is told in place of `said`.
    """
    if any(one.clash for one in stored):
        messages.error(request, CLASH)
    elif said:
        messages.success(request, said)
    return SeeOther(resolve_url(to, *args, **kwargs))


def as_table(name: str, columns: Iterable[str], rows: Iterable[Iterable[str]]) -> HttpResponse:
    """A file of comma-separated values (RFC 4180, UTF-8) to keep."""
    answer = HttpResponse(
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}.csv"'},
    )
    writer = csv.writer(answer)
    writer.writerow(columns)
    writer.writerows([harmless(cell) for cell in row] for row in rows)
    return answer


def harmless(cell: str) -> str:
    """A text that a spreadsheet would take for a formula begins with an apostrophe; a number does not."""
    formula = cell[:1] in {"=", "+", "-", "@", "\t", "\r"} and not NUMBER.fullmatch(cell)
    return f"'{cell}" if formula else cell


def _faulty(value: object) -> bool:
    # by its own type: what is worked out `late` must not be worked out here
    form = issubclass(type(value), BaseForm | BaseFormSet)
    return form and value.is_bound and not value.is_valid()  # type: ignore[attr-defined]
