"""What a number or a marking says, as it is typed: a part of a form, asked for by its field."""

from __future__ import annotations

from django.http import HttpResponse
from django.views.decorators.http import require_GET

from witnessmark.decode import Described
from witnessmark.shop.responses import show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work.frame_and_tyre_numbers import number_told, tyre_told

MOST = 200


@require_GET
def number(request: DeskRequest) -> HttpResponse:
    """An identification number."""
    return _told(request, number_told(_typed(request)))


@require_GET
def tyre(request: DeskRequest) -> HttpResponse:
    """What stands on a tyre."""
    return _told(request, tyre_told(_typed(request)))


def _typed(request: DeskRequest) -> str:
    """What stands in the field, whatever its form calls it."""
    return str(next(iter(request.GET.values()), ""))[:MOST]


def _told(request: DeskRequest, told: Described) -> HttpResponse:
    return show(request, "machine/understood.html", {"told": told})
