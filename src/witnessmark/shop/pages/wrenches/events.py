"""What happens to a wrench: it is checked, it falls, it goes back to its owner."""

from __future__ import annotations

from uuid import UUID

from django.core.exceptions import BadRequest
from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from witnessmark.shop.dates import time_text
from witnessmark.shop.models import Wrench, WrenchEvent
from witnessmark.shop.pages.wrenches.forms import CheckForm, TimeForm, weights
from witnessmark.shop.pages.wrenches.views import on_shelf
from witnessmark.shop.responses import done, show
from witnessmark.shop.scope import Desk, DeskRequest
from witnessmark.shop.work import wrenches as shelf
from witnessmark.wrenches import Check, found_wrong, renews, verdict
from witnessmark.wrenches.lever import CAUTION
from witnessmark.wrenches.standard import AMBIENT_C, LOAD_SECONDS


@require_http_methods(["GET", "POST"])
def check(request: DeskRequest, wrench: UUID) -> HttpResponse:
    """A calibration by a laboratory, or a check in house."""
    row = request.desk.get(Wrench, wrench)
    one = on_shelf(request.desk, row)
    form = CheckForm(request.POST or None, tool=one.tool)
    if request.method == "POST" and form.is_valid():
        return _checked(request, one, _kept(request.desk, row, form))
    return show(request, "wrenches/check.html", {
        "form": form, "row": row, "tool": one.tool, "weights": weights(one.tool),
        "caution": CAUTION, "ambient": AMBIENT_C, "seconds": LOAD_SECONDS,
    })  # fmt: skip


def _kept(desk: Desk, row: Wrench, form: CheckForm) -> WrenchEvent:
    said = form.cleaned_data
    event = desk.new(
        WrenchEvent,
        wrench=row,
        kind=said["kind"],
        on=said["on"],
        at=said["at"],
        certificate=said["certificate"],
        adjusted=said["adjusted"],
        points=said["points"],
        uncertainty_percent=said["uncertainty_percent"],
        note=said["note"],
        by=desk.member,
    )
    event.save()
    return event


def _checked(request: DeskRequest, one: shelf.OnShelf, event: WrenchEvent) -> HttpResponse:
    """What the check says; a wrench found wrong goes on to what it has closed."""
    made = shelf.happened(event)
    assert isinstance(made, Check)
    words = verdict(made, one.tool)
    words = f"{words[:1].upper()}{words[1:]}."
    if found_wrong(made, one.tool):
        return done(request, "wrench-doubt", event.pk, said=words)
    if renews(made, one.tool) and one.row.cycles_told:
        one.row.cycles_told = 0
        one.row.save(update_fields=["cycles_told"])
    return done(request, "wrench", one.row.pk, said=words)


@require_http_methods(["GET", "POST"])
def time_of_check(request: DeskRequest, wrenchevent: UUID) -> HttpResponse:
    """The time of a check of which only the day was known; a known one is changed by taking the check back."""
    event = request.desk.get(WrenchEvent, wrenchevent, "wrench")
    if event.at is not None:
        at = time_text(event.at)
        said = _(
            "It was made at {at}. If that is wrong, take the check back and add it again."
        ).format(at=at)
        return done(request, "wrench", event.wrench_id, said=said)
    form = TimeForm(request.POST or None, on=event.on)
    if request.method == "POST" and form.is_valid():
        event.at = form.cleaned_data["time"]
        event.save(update_fields=["at"])
        return done(request, "wrench", event.wrench_id, said=_("Its time is saved."))
    return show(request, "wrenches/time.html", {"form": form, "event": event})


@require_POST
def dropped(request: DeskRequest, wrench: UUID) -> HttpResponse:
    """It fell or was overloaded today: out of use until it is checked."""
    row = request.desk.get(Wrench, wrench)
    event = request.desk.new(
        WrenchEvent, wrench=row, kind=WrenchEvent.Kind.DROPPED, on=timezone.localdate(),
        at=timezone.now(), by=request.desk.member,
    )  # fmt: skip
    event.save()
    return done(request, "wrench", row.pk, said=_("Out of use until it is checked."))


@require_POST
def given_back(request: DeskRequest, wrench: UUID) -> HttpResponse:
    """A borrowed wrench is back with its owner."""
    row = request.desk.get(Wrench, wrench)
    if not row.borrowed_from:
        raise BadRequest(_("this wrench was not borrowed"))
    row.given_back_on = timezone.localdate()
    row.save(update_fields=["given_back_on"])
    return done(request, "wrenches", said=_("{name} is back with its owner.").format(name=row.name))


@require_POST
def take_back(request: DeskRequest, wrenchevent: UUID) -> HttpResponse:
    """What was written down by mistake; it counts no longer."""
    event = request.desk.get(WrenchEvent, wrenchevent)
    if event.taken_back_at is None:
        event.taken_back_at = timezone.now()
        event.save(update_fields=["taken_back_at"])
    return done(request, "wrench", event.wrench_id, said=_("Taken back: it counts no longer."))
