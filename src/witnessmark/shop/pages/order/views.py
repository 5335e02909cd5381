"""The order of work: proven, with a reason for each access step, its picture, and the kit."""

from __future__ import annotations

from functools import lru_cache
from typing import Any
from uuid import UUID

from django.core.exceptions import BadRequest
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_GET, require_POST

from witnessmark.charts import Bar, bars, order_picture
from witnessmark.charts.order import Theme
from witnessmark.planner.wording import job_of, lasting
from witnessmark.shop import store
from witnessmark.shop.answers import done as go_on
from witnessmark.shop.answers import show
from witnessmark.shop.pages.order.reading import Reading, fluids_shown, kit_of
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import planning
from witnessmark.shop.work.pricing import waiting
from witnessmark.shop.work.visit import Work, work_with_book

WIDTHS = {"wide": 900, "narrow": 620}
THEMES: dict[str, Theme] = {"paper": "light", "night": "dark"}


@require_GET
def order(request: DeskRequest, visit: UUID) -> HttpResponse:
    """The order followed, or the best one to take; `?later=` leaves a job for another time."""
    return _page(request, _reading(request, visit))


@require_POST
def take(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Follow this order from here on."""
    reading = _reading(request, visit)
    if not reading.possible:
        return _page(request, reading, wrong="There is no order to take.")
    if reading.plan.hash != request.POST.get("plan"):
        return _page(
            request, reading, wrong="The order has changed since this page was made: look again."
        )
    work = reading.work
    acts = [("plan_taken", {"plan": planning.keep(work.visit.shop, reading.plan)})]
    stored = store.record_all(request.desk, work.visit, store.ticket_of(request), acts)
    return go_on(request, "bench", visit, stored=stored)


@require_POST
def stands(request: DeskRequest, visit: UUID) -> HttpResponse:
    """A state the machine has reached meanwhile: the engine has gone stone cold overnight."""
    work = work_with_book(request.desk, visit)
    name, _, state = request.POST.get("stand", "").partition("/")
    condition = work.book.conditions.get(name)
    if condition is None or state not in condition.states:
        raise BadRequest("the service book knows no such state")
    acts = [("states_found", {"states": {name: state}})]
    stored = store.record_all(request.desk, work.visit, store.ticket_of(request), acts)
    return go_on(request, "order", visit, stored=stored)


@require_GET
def saving(request: DeskRequest, visit: UUID) -> HttpResponse:
    """What doing the jobs together saves; worked out when asked, for it plans each job alone."""
    reading = _reading(request, visit)
    if not reading.possible:
        raise Http404("there is no order")
    found, book = planning.saved(reading.work, reading.plan), reading.work.book
    alone = [
        (book.jobs[job].text, None if minutes is None else lasting(minutes))
        for job, minutes in found.alone.items()
    ]
    context = {
        "visit": reading.work.visit,
        "possible": found.minutes is not None,
        "saved": lasting(found.minutes) if found.minutes else "",
        "sum": lasting(sum(minutes or 0 for minutes in found.alone.values())),
        "attended": reading.attended,
        "alone": alone,
    }
    template = "order/saving.html" if request.htmx else "order/saving_page.html"
    return show(request, template, context)


@require_GET
def picture(request: DeskRequest, visit: UUID) -> HttpResponse:
    """The timeline as SVG: `?theme=paper|night&size=wide|narrow`."""
    reading = _reading(request, visit)
    if not reading.possible:
        raise Http404("there is no order to draw")
    size, theme = request.GET.get("size", "wide"), request.GET.get("theme", "paper")
    if size not in WIDTHS or theme not in THEMES:
        raise BadRequest("no such picture")
    drawn = _drawn(tuple(_bars(reading)), WIDTHS[size], THEMES[theme])
    return HttpResponse(drawn, content_type="image/svg+xml")


def _reading(request: HttpRequest, visit: UUID) -> Reading:
    work = work_with_book(request.desk, visit)  # type: ignore[attr-defined]
    sent = request.POST or request.GET
    return Reading(work, tuple(job for job in sent.getlist("later") if job in work.book.jobs))


def _page(request: DeskRequest, reading: Reading, wrong: str = "") -> HttpResponse:
    work = reading.work
    context: dict[str, Any] = {
        "visit": work.visit,
        "work": work,
        "order": reading,
        "wrong": wrong,
        "later": [(job, work.book.jobs[job].text) for job in reading.later],
        "unanswered": [one.line.text for one in waiting(work).values()],
        "query": request.GET.urlencode(),
    }
    if reading.possible:
        laid = kit_of(work, reading.plan)
        context |= {
            "rows": list(reading.rows()),
            "kit": laid,
            "fluids": list(fluids_shown(work, laid.fluids, request.desk.units)),  # type: ignore[arg-type]
            "left_for_later": _texts(work, reading.plan.later),
            "themes": THEMES,
        }
    return show(request, "order/page.html", context, faulty=bool(wrong))


def _texts(work: Work, jobs: tuple[str, ...]) -> list[str]:
    return [work.book.jobs[job].text for job in jobs]


def _bars(reading: Reading) -> list[Bar]:
    made, book = reading.plan, reading.work.book
    jobs = {step.name: job_of(step.name) for step in made.answer.steps}
    return bars(made.answer, jobs, {name: job.text for name, job in book.jobs.items()})


@lru_cache(maxsize=64)
def _drawn(drawn: tuple[Bar, ...], width_px: int, theme: Theme) -> str:
    return order_picture(list(drawn), width_px=width_px, theme=theme)
