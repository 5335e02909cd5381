"""Where the old fluids stand: containers, how full they are, what went in, who collected it."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from witnessmark.fluids.waste import STREAMS
from witnessmark.shop.models import WasteContainer, WasteMove
from witnessmark.shop.pages.waste.forms import (
    CollectedForm,
    ContainerForm,
    MoveForm,
    PutInForm,
    move_of,
)
from witnessmark.shop.responses import as_table, day_in, done, show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import waste as log


@require_GET
def waste(request: DeskRequest) -> HttpResponse:
    """All containers with their levels, streams without one, and the log."""
    containers = log.containers(request.desk.shop)
    streams = {one.stream for one in containers}
    return show(request, "waste/list.html", {
        "containers": containers,
        "lacking": [stream for stream in STREAMS[:3] if stream not in streams],
        "retired": request.desk.all(WasteContainer).exclude(retired_on=None),
        "homeless": log.into_none(request.desk.shop),
        "page": _page(request),
    })  # fmt: skip


@require_GET
def table(request: DeskRequest) -> HttpResponse:
    """The whole log as CSV."""
    return as_table("waste", log.COLUMNS, log.cells(log.log(request.desk.shop)))


@require_GET
def container(request: DeskRequest, wastecontainer: UUID) -> HttpResponse:
    """One container: how full, and what happened to it."""
    row = request.desk.get(WasteContainer, wastecontainer)
    context = {"row": row, "one": log.as_container(row), "page": _page(request, row)}
    return show(request, "waste/one.html", context)


@require_http_methods(["GET", "POST"])
def new_container(request: DeskRequest) -> HttpResponse:
    """Another container."""
    return _form(request, request.desk.new(WasteContainer), _("A waste container"))


@require_http_methods(["GET", "POST"])
def change(request: DeskRequest, wastecontainer: UUID) -> HttpResponse:
    """What is known of a container, to be corrected."""
    row = request.desk.get(WasteContainer, wastecontainer)
    return _form(request, row, _("Change {name}").format(name=row))


@require_http_methods(["GET", "POST"])
def put_in(request: DeskRequest, wastecontainer: UUID) -> HttpResponse:
    """Something put in by hand."""
    row = request.desk.get(WasteContainer, wastecontainer)
    form = PutInForm(request.POST or None, row=row)
    return _move(request, form, WasteMove.Kind.PUT_IN, _("Put into {row}").format(row=row))


@require_http_methods(["GET", "POST"])
def collected(request: DeskRequest, wastecontainer: UUID) -> HttpResponse:
    """Emptied: by whom, when, how much, on which paper."""
    row = request.desk.get(WasteContainer, wastecontainer)
    form = CollectedForm(request.POST or None, row=row)
    return _move(request, form, WasteMove.Kind.COLLECTED, _("{row} collected").format(row=row))


@require_POST
def take_back(request: DeskRequest, wastemove: UUID) -> HttpResponse:
    """A mistyped line counts no more; it stays on record."""
    move = request.desk.get(WasteMove, wastemove, "container")
    if (
        move.kind == WasteMove.Kind.PUT_IN
        and log.level_of(move.container) < move.volume_ml - log.HAIR_ML
    ):
        messages.error(request, _("That much is no longer in it: take back the collection first."))
        return done(request, "waste-container", move.container_id)
    move.taken_back_at = timezone.now()
    move.save(update_fields=["taken_back_at"])
    return done(request, "waste-container", move.container_id, said=_("Taken back."))


def _page(request: DeskRequest, container: WasteContainer | None = None) -> log.Page:
    """The page of the log that the address names; the newest where it names none."""
    before, after = (day_in(request.GET.get(name, "")) for name in ("before", "after"))
    return log.page(request.desk.shop, container, before, after)


def _form(request: DeskRequest, row: WasteContainer, title: str) -> HttpResponse:
    new = row._state.adding  # noqa: SLF001 - as in forms
    form = ContainerForm(request.POST or None, instance=row)
    if request.method == "POST" and form.is_valid():
        form.save()
        return done(request, "waste-container", row.pk, said=_("Saved."))
    return show(
        request, "waste/form.html", {"form": form, "title": title, "row": None if new else row}
    )


def _move(request: DeskRequest, form: MoveForm, kind: str, title: str) -> HttpResponse:
    if request.method == "POST" and form.is_valid():
        move_of(form, kind, request.desk.member).save()
        return done(request, "waste-container", form.row.pk, said=_("Written down."))
    return show(request, "waste/form.html", {"form": form, "title": title, "row": form.row})
