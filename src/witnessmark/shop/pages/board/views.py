"""The day's machines together: who does what when, when each is ready; worked out when asked, for it takes seconds."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_GET

from witnessmark.errors import WitnessError
from witnessmark.planner import HOW_SPREAD
from witnessmark.shop.forms import in_words
from witnessmark.shop.models import Member
from witnessmark.shop.pages.board.day_sheet import Sheet
from witnessmark.shop.pages.board.together import Day, day_of, worked_out
from witnessmark.shop.responses import show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work.crew import beginning, people


@require_GET
def board(request: DeskRequest) -> HttpResponse:
    """Which machines and people the plan is for; the sheet itself comes after."""
    day = _day(request)
    context = {
        "day": day,
        "now": timezone.localtime(),
        "query": request.GET.urlencode(),
        "people": [(one, one in day.members) for one in people(request.desk)],
        "hours_missing": [one for one in day.members if not one.hours],
    }
    return show(request, "board/page.html", context)


@require_GET
def sheet(request: DeskRequest) -> HttpResponse:
    """The plan, as a sheet of hours; a part of the page under htmx."""
    day = _day(request)
    context: dict[str, Any] = {"day": day, "how_spread": HOW_SPREAD}
    if day.jobs:
        try:
            context["sheet"] = Sheet(day, worked_out(day))
        except WitnessError as error:
            context["fault"] = in_words(error)
    template = "board/day_sheet.html" if request.htmx else "board/day_sheet_page.html"
    return show(request, template, context)


def _day(request: DeskRequest) -> Day:
    return day_of(request.desk, _members(request), beginning(request.GET.get("begin", "")))


def _members(request: DeskRequest) -> list[Member]:
    """Who works today: as chosen, else all who are planned with."""
    everybody = people(request.desk)
    sent = request.GET.getlist("with")
    return [one for one in everybody if str(one.pk) in sent] or everybody or [request.desk.member]
