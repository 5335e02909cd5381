"""The shims of a visit: what was measured, which shim goes where, what has to be bought."""

from __future__ import annotations

from uuid import UUID

from django.core.exceptions import BadRequest
from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from witnessmark.ledger.ids import StepId
from witnessmark.shop.pages.shims import sizes as calculated
from witnessmark.shop.responses import recorded, show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work.visit import Work, work_of


@require_GET
def shims(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Ask for the clearances and shims of a step; with them, the plan that buys fewest."""
    work = work_of(request.desk, visit)
    step = _step(work, request.GET.get("step", ""))
    return _page(request, work, calculated.shim_work(work, step, request.GET.dict()))


@require_POST
def fit(request: DeskRequest, visit: UUID) -> HttpResponse:
    """The shims were fitted as worked out: written down, and the box counted anew."""
    work = work_of(request.desk, visit)
    made = calculated.shim_work(
        work, _step(work, request.POST.get("step", "")), request.POST.dict()
    )
    if not made.plans:
        return _page(request, work, made, faulty=True)
    to = f"{reverse('bench', args=[work.visit.pk])}?{urlencode({'card': made.step})}"
    return recorded(
        request,
        work.visit,
        [calculated.fitted(made)],
        to,
        said=_("Written down. Turn it twice by hand, then measure again."),
        beside=lambda: calculated.move_box(request.desk.shop, made),
    )


def _step(work: Work, name: str) -> str:
    """The step asked for; else the first of the visit's jobs that has shims."""
    with_shims = [step for step, text in work.steps.items() if text.shims]
    of_the_visit = [step for step in with_shims if StepId(step).job in work.state.taken]
    if name and name not in with_shims:
        raise Http404(_("no shims are changed in this step"))
    if not with_shims:
        raise BadRequest(_("this machine's book names no shims"))
    return name or (of_the_visit or with_shims)[0]


def _page(
    request: DeskRequest, work: Work, made: calculated.ShimWork, *, faulty: bool = False
) -> HttpResponse:
    said = request.POST if request.method == "POST" else request.GET
    again = {k: v for k, v in said.items() if k not in {"csrfmiddlewaretoken", "entry_id", "seen"}}
    context = {
        "visit": work.visit,
        "made": made,
        "again": again,
    }
    return show(request, "shims/page.html", context, faulty=faulty)
