"""The order of work: proven, with a reason for each access step, its picture, and the kit."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.core.exceptions import BadRequest
from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_POST

from witnessmark.kit.lay_out import Missing
from witnessmark.planner import (
    HOW_SPREAD,
    Price,
    Wish,
    WishError,
    lasting,
    price_in_words,
    price_of_wish,
)
from witnessmark.shop.dates import time_text
from witnessmark.shop.models import Member
from witnessmark.shop.pages.order.moments import moments as told_moments
from witnessmark.shop.pages.order.order_view import OrderView, fluids_shown, kit_of
from witnessmark.shop.pages.order.wishes import WishForm, from_address, in_address
from witnessmark.shop.responses import done, planning_page, recorded, show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import beyond_book, planning, solving
from witnessmark.shop.work.built import built_since
from witnessmark.shop.work.crew import beginning, crew_of, people
from witnessmark.shop.work.figures_wanted import to_come
from witnessmark.shop.work.pricing import waiting
from witnessmark.shop.work.visit import Work, work_of

NO_ORDER = gettext_lazy("There is no order to work with.")


@require_GET
def order(request: DeskRequest, visit: UUID) -> HttpResponse:
    """The order followed, or the best one to take; `?later=` leaves a job for another time.

    Where it has yet to be worked out the page says so at once, and asks again with `?now=`.
    """
    reading = _reading(request, visit)
    if reading.must_plan and "now" not in request.GET:
        again = urlencode([*_sent(request), ("now", 1)])
        return planning_page(request, reading.work.visit, "order", again)
    return _page(request, reading)


@require_POST
def take(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Follow this order from here on."""
    reading = _reading(request, visit)
    if not reading.possible:
        return _page(request, reading, violation=_("There is no order to take."))
    if reading.plan.hash != request.POST.get("plan"):
        return _page(
            request,
            reading,
            violation=_("The order has changed since this page was made: look again."),
        )
    work = reading.work
    acts = [("plan_taken", {"plan": planning.keep(work.visit.shop, reading.plan)})]
    return recorded(request, work.visit, acts, "bench", visit)


@require_POST
def stands(request: DeskRequest, visit: UUID) -> HttpResponse:
    """A state the machine has reached meanwhile: the engine has gone stone cold overnight."""
    work = work_of(request.desk, visit)
    name, _before, state = request.POST.get("stand", "").partition("/")
    condition = work.book.conditions.get(name)
    if condition is None or state not in condition.states:
        raise BadRequest(_("the service book knows no such state"))
    acts = [("states_found", {"states": {name: state}})]
    to = "bench" if request.POST.get("from") == "bench" else "order"
    return recorded(request, work.visit, acts, to, visit)


@require_GET
def saving(request: DeskRequest, visit: UUID) -> HttpResponse:
    """What doing the jobs together saves; worked out when asked, for it plans each job alone."""
    reading = _reading(request, visit)
    if not reading.possible:
        return done(request, "order", visit, said=str(NO_ORDER))
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
        "labour": reading.labour,
        "alone": alone,
    }
    template = "order/saving.html" if request.htmx else "order/saving_page.html"
    return show(request, template, context)


@require_GET
def wish(request: DeskRequest, visit: UUID) -> HttpResponse:
    """What a wish costs: the order planned again with it."""
    reading = _reading(request, visit, wish=False)
    if not reading.possible:
        return done(request, "order", visit, said=str(NO_ORDER))
    form = _wish_form(request, reading, request.GET)
    context: dict[str, Any] = {"visit": reading.work.visit, "sent": _sent(request)}
    if not form.is_valid():
        faults = "; ".join(str(fault) for faults in form.errors.values() for fault in faults)
        context |= {"fault": faults, "wish_form": form}
    else:
        price, said = priced(reading, form.wish)
        asked = [(name, value) for name, value in _sent(request) if name != "wish"]
        if price.later is not None:
            context["to_take"] = urlencode([*asked, ("wish", in_address(form.wish))])
        context["said"] = said
    template = "order/wish.html" if request.htmx else "order/wish_page.html"
    return show(request, template, context)


@require_GET
def moments(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Until when answers are in time; worked out when asked, for it plans each open job from several instants."""
    work = work_of(request.desk, visit)
    now = timezone.localtime()
    context = {
        "visit": work.visit,
        "agreed": planning.to_do(work),
        "told": told_moments(work, now),
        "now": time_text(now),
    }
    template = "order/moments.html" if request.htmx else "order/moments_page.html"
    return show(request, template, context)


def _reading(request: DeskRequest, visit: UUID, *, wish: bool = True) -> OrderView:
    """The order for what the address or the form says: left for later, people, beginning, wish."""
    work = work_of(request.desk, visit)
    sent = request.POST or request.GET
    try:
        asked = from_address(sent.get("wish", "")) if wish else None
    except WishError as error:
        raise BadRequest(str(error)) from None
    return OrderView(
        work,
        tuple(job for job in sent.getlist("later") if job in work.book.jobs),
        crew_of(_chosen(request), beginning(sent.get("begin", ""))),
        asked,
        asked=bool(asked or sent.getlist("with")),
    )


def _chosen(request: DeskRequest) -> list[Member]:
    """Who works on it: as chosen, else who looks."""
    sent = (request.POST or request.GET).getlist("with")
    chosen = [member for member in people(request.desk) if str(member.pk) in sent]
    return chosen or [request.desk.member]


def _sent(request: DeskRequest) -> list[tuple[str, str]]:
    """What the address says of the order, to be said again by the next form."""
    sent = request.POST or request.GET
    said = [(name, value) for name in ("later", "with", "wish") for value in sent.getlist(name)]
    return [*said, ("begin", f"{beginning(sent.get('begin', '')):%Y-%m-%dT%H:%M}")]


def _wish_form(request: DeskRequest, reading: OrderView, data: Any = None) -> WishForm:
    book = reading.work.book
    return WishForm(
        data,
        jobs={job: book.jobs[job].text for job in reading.plan.jobs},
        people=[one.name for one in reading.crew.technicians],
        begin=beginning((request.POST or request.GET).get("begin", "")),
    )


def priced(reading: OrderView, wished: Wish) -> tuple[Price, str]:
    """What a wish costs against the order for the same jobs and people, and that in words."""
    work = reading.work
    jobs = [job for job in reading.jobs if job not in reading.later]
    before = planning.ordered(work, jobs, reading.crew).problem
    price = price_of_wish(before, solving.solved_once(before), wished, solving.solved_once)
    return price, price_in_words(price, {name: job.text for name, job in work.book.jobs.items()})


def _page(request: DeskRequest, reading: OrderView, violation: str = "") -> HttpResponse:
    work = reading.work
    context: dict[str, Any] = {
        "visit": work.visit,
        "work": work,
        "order": reading,
        "built_since": built_since(work),
        "problem": violation,
        "later": [(job, work.book.jobs[job].text) for job in reading.later],
        "sent": _sent(request),
        "answers_open": bool(waiting(work) or work.state.declined),
        "how_spread": HOW_SPREAD,
        "unanswered": [one.line.text for one in waiting(work).values()],
        "query": urlencode(_sent(request)),
        "own": beyond_book.cards_left(work),
        "unwished": urlencode([(name, value) for name, value in _sent(request) if name != "wish"]),
    }
    if reading.possible:
        laid = kit_of(work, reading.plan)
        everybody = people(request.desk)
        chosen = {one.name for one in reading.plan.problem.technicians}
        if not chosen & {str(one) for one in everybody}:  # planned before anybody was named
            chosen = {str(request.desk.member)}
        begin = beginning((request.POST or request.GET).get("begin", ""))
        working = [one for one in everybody if str(one) in chosen] or [request.desk.member]
        context |= {
            "ready_by": reading.ready_by(begin, crew_of(working, begin)),
            "people": [(one, str(one) in chosen) for one in everybody],
            "working": working,
            "wish_form": _wish_form(request, reading),
            "priced": priced(reading, reading.wish)[1] if reading.wish else "",
            "pictures": [(name, mark_safe(svg)) for name, svg in reading.pictures()],  # noqa: S308 - ours
            "kit": laid,
            "figures_to_come": to_come(work),
            "missing": [(one.words, _where(request, work, one)) for one in laid.missing],
            "fluids": list(fluids_shown(work, laid.fluids, request.desk.units)),  # type: ignore[arg-type]
            "left_for_later": _texts(work, reading.plan.later),
        }
    return show(request, "order/page.html", context, faulty=bool(violation))


def _where(request: DeskRequest, work: Work, one: Missing) -> str:
    """Where what is missing is entered, and back here; nothing where whoever looks may not, or nothing can be."""
    back = urlencode({"back": request.path})
    if one.kind == "figure":
        return f"{reverse('figure', args=[work.visit.pk, one.name])}?only=1&{back}"
    if one.kind == "fluid" and request.desk.may("pack-new"):
        return f"{reverse('pack-new')}?{back}"
    return reverse("wrenches") if one.kind == "wrench" else ""


def _texts(work: Work, jobs: tuple[str, ...]) -> list[str]:
    return [work.book.jobs[job].text for job in jobs]
