"""The day's machines: what is in the shop, where each stands, and what it waits for."""

from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_GET

from witnessmark.shop.backups.log import reminder
from witnessmark.shop.models import OpenItemRow, VisitSummary
from witnessmark.shop.pages.today.setting_up import steps_left
from witnessmark.shop.responses import show
from witnessmark.shop.scope import Desk, DeskRequest
from witnessmark.shop.work.held_up import held_up
from witnessmark.shop.work.recalls import to_see_to
from witnessmark.shop.work.visit import read


@require_GET
def today(request: DeskRequest) -> HttpResponse:
    """What is to be called back; visits not yet handed back, the longest in the shop first; those gone today."""
    visits = request.desk.all(VisitSummary).select_related("machine__owner", "visit")
    here = list(visits.filter(handed_back_at=None).order_by("arrived_at", "visit__number"))
    waits = _waits(request.desk)
    for one in here:
        one.waits = waits.get(one.visit_id, [])
    day = timezone.localdate()
    midnight = timezone.localtime().replace(hour=0, minute=0, second=0, microsecond=0)
    return show(request, "today/page.html", {
        "steps": steps_left(request.desk),
        "wrenches": to_see_to(request.desk),
        "backup": reminder(Path(settings.HOME), request.desk.shop.backup_days, timezone.now()),
        "day": day,
        "here": here,
        "back": visits.filter(call_back__gt=0).order_by("-open_safety", "handed_back_at"),
        "gone": visits.filter(handed_back_at__gte=midnight).order_by("handed_back_at"),
    })  # fmt: skip


def _waits(desk: Desk) -> dict[UUID, list[str]]:
    """What each machine waits for whose work could not be done; only these visits are read."""
    rows = desk.all(OpenItemRow).filter(
        item__startswith="wont/", visit__summary__handed_back_at=None
    )
    stopped = {
        row.visit_id: row.visit for row in rows.select_related("visit__machine", "visit__shop")
    }
    return {key: held_up(read(visit)) for key, visit in stopped.items()}
