"""The shop's wrenches: how each stands, what it may prove, what happened to it."""

from __future__ import annotations

from uuid import UUID

from django.db.models import prefetch_related_objects
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from witnessmark.shop.models import Wrench
from witnessmark.shop.pages.wrenches.forms import WrenchForm
from witnessmark.shop.responses import done, show
from witnessmark.shop.scope import Desk, DeskRequest
from witnessmark.shop.work import wrenches as shelf
from witnessmark.wrenches import CLASSES, Check, found_wrong, permitted, renews, verdict


@require_GET
def wrenches(request: DeskRequest) -> HttpResponse:
    """All wrenches with their range and how they stand, in words."""
    every = shelf.shelf(request.desk.shop)
    return show(request, "wrenches/list.html", {
        "here": [one for one in every if one.here],
        "gone": [one for one in every if not one.here],
    })  # fmt: skip


@require_GET
def wrench(request: DeskRequest, wrench: UUID) -> HttpResponse:
    """One wrench: how it stands, its figures, everything that happened to it."""
    one = on_shelf(request.desk, request.desk.get(Wrench, wrench))
    prefetch_related_objects(one.events, "by__user")
    happened = [(event, *said(one, event)) for event in reversed(one.events)]
    return show(request, "wrenches/one.html", {
        "one": one,
        "happened": happened,
        "permitted": permitted(one.tool) * 100,
        "class_words": CLASSES[one.tool.tool_class].text,
    })  # fmt: skip


@require_http_methods(["GET", "POST"])
def new_wrench(request: DeskRequest) -> HttpResponse:
    """Another wrench."""
    return _form(request, request.desk.new(Wrench), _("A wrench"))


@require_http_methods(["GET", "POST"])
def change(request: DeskRequest, wrench: UUID) -> HttpResponse:
    """What is known of a wrench, to be corrected."""
    row = request.desk.get(Wrench, wrench)
    return _form(request, row, _("Change {name}").format(name=row))


def on_shelf(desk: Desk, row: Wrench) -> shelf.OnShelf:
    """One wrench with what happened to it and its cycles."""
    return shelf.shelf(desk.shop, only=row)[0]


def said(one: shelf.OnShelf, event: object) -> tuple[str, bool, bool]:
    """What a check says, whether it found the wrench wrong, whether it renewed the calibration."""
    check = next((c for e, c in zip(one.events, one.tool.history, strict=True) if e is event), None)
    if not isinstance(check, Check):
        return _("out of use until it is checked"), False, False
    return verdict(check, one.tool), found_wrong(check, one.tool), renews(check, one.tool)


def _form(request: DeskRequest, row: Wrench, title: str) -> HttpResponse:
    new = row._state.adding  # noqa: SLF001 - as in forms
    form = WrenchForm(request.POST or None, instance=row)
    if request.method == "POST" and form.is_valid():
        form.save()
        return done(request, "wrench", row.pk, said=_("Saved."))
    return show(
        request, "wrenches/form.html", {"form": form, "title": title, "row": row, "new": new}
    )
