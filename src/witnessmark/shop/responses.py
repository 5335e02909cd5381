"""How a page answers: a page, 422 with what was typed, 303 to where it goes on, or a table for other programs."""

import csv
import re
from collections.abc import Callable, Iterable
from datetime import date
from functools import partial
from typing import Any, TypeVar, cast

from django.contrib import messages
from django.db import transaction
from django.forms import BaseForm
from django.forms.formsets import BaseFormSet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render, resolve_url
from django.utils.functional import SimpleLazyObject
from django.utils.http import url_has_allowed_host_and_scheme

from witnessmark.shop import receipts, store
from witnessmark.shop.folded import folded
from witnessmark.shop.models import Visit
from witnessmark.shop.receipts import CLASH, SeeOther
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import meanwhile

__all__ = [
    "SeeOther",
    "as_table",
    "back_or",
    "day_in",
    "done",
    "harmless",
    "planning_page",
    "recorded",
    "show",
]
NUMBER = re.compile(r"-?\d+(\.\d+)?(e[+-]\d+)?", re.ASCII)
T = TypeVar("T")
UNPROCESSABLE = 422  # htmx is told to show it; a browser without scripts shows it anyway


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


def planning_page(request: HttpRequest, visit: Visit, page: str, query: str) -> HttpResponse:
    """Say at once that an order is being worked out; the page then asks for itself again, with ``query``."""
    return show(request, "parts/planning.html", {"visit": visit, "page": page, "query": query})


def late(made: Callable[..., T], *args: Any) -> T:
    """A value worked out where a page first needs it: inside the `part` that a fault in it is told in."""
    return cast("T", SimpleLazyObject(partial(made, *args)))


def done(
    request: DeskRequest,
    to: Any,
    *args: Any,
    said: str = "",
    stored: Iterable[store.Stored] = (),
    **kwargs: Any,
) -> HttpResponse:
    """Go on after a POST: to a URL name, a model with an address, or a path; `said` is shown there.

    `stored`: what the store answered; an entry that was kept apart is told in place of `said`. A form
    with a ticket gets its receipt here: store and go on in one transaction, or use `recorded`.
    """
    stored, path, said = list(stored), resolve_url(to, *args, **kwargs), str(said)
    if any(one.clash for one in stored):
        messages.error(request, CLASH)
        return SeeOther(path)
    if said:
        messages.success(request, said)
    receipts.keep(request, path, said, stored)
    return SeeOther(path)


def back_or(request: HttpRequest, to: str) -> str:
    """The page of ours that led here (`?back=`), else the page ``to``."""
    back = request.GET.get("back", "")
    ours = url_has_allowed_host_and_scheme(back, None, request.is_secure())
    return back if ours and back.startswith("/") else to


def day_in(said: str) -> date | None:
    """The day that an address names; None for none, and for what is no day."""
    try:
        return date.fromisoformat(said)
    except ValueError:
        return None


def recorded(
    request: DeskRequest,
    visit: Visit,
    acts: Iterable[store.EntryDraft] | Callable[[Visit], Iterable[store.EntryDraft]],
    to: Any,
    *args: Any,
    said: str = "",
    beside: Callable[[], object] | None = None,
    **kwargs: Any,
) -> HttpResponse:
    """Store the entries of the posted form with its receipt, all or none, and go on.

    `acts`: the entries, or what makes them of the visit once it is locked; raised there, nothing is stored.
    `beside`: what is written with them in ordinary rows.
    Raises ChangedMeanwhileError (told as a page) where something came in since the page was made that
    bears on them.
    """
    ticket, made = store.ticket_of(request), None
    if not callable(acts):
        acts = list(acts)
        made = store.ahead(request.desk, visit, ticket, acts)
    with transaction.atomic():
        locked = store.lock(request.desk, visit)
        before = receipts.again(request)
        if before is not None:
            return before
        now = folded(locked)
        acts = list(acts(locked) if callable(acts) else acts)
        meanwhile.refuse(request.desk, visit, now, ticket, acts)
        stored = store.record_onto(request.desk, locked, now, ticket, acts, made)
        if beside and not any(one.again or one.clash for one in stored):
            beside()
        return done(request, to, *args, said=said, stored=stored, **kwargs)


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
