"""The strip of waits as it stands now, for a page that is open while time goes by."""

from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from witnessmark.shop.models import Visit
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work.waits_now import running


@require_GET
def waits(request: DeskRequest, visit: UUID | None = None) -> HttpResponse:
    """The waits of one visit, or of all machines in the shop: the lines of the strip alone."""
    of = request.desk.get(Visit, visit) if visit else None
    return render(request, "parts/waits_now.html", {"waits": running(request.desk, of), "of": of})
