"""One step of a repair: typed, kept in what is half written."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from witnessmark.shop.pages.repair.step_form import StepForm
from witnessmark.shop.pages.repair.views import BACK, CHANGED, address, named
from witnessmark.shop.responses import done, show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import repair_draft
from witnessmark.shop.work.visit import work_of


@require_http_methods(["GET", "POST"])
def step(request: DeskRequest, visit: UUID) -> HttpResponse:
    """A step of a repair, or a new one behind the last. POST keeps it; `more` stays for further rows."""
    desk, work = request.desk, work_of(request.desk, visit)
    sent = request.POST if request.method == "POST" else request.GET
    of, name = named(work, sent), sent.get("step", "")
    draft = repair_draft.draft_of(desk, work, of)
    if work.closed:
        messages.error(request, BACK)
        return done(request, address(work, of))
    stands = next((one for one in draft.steps if one["name"] == name), None)
    if name and stands is None:
        messages.error(request, _("That step was taken out meanwhile."))
        return done(request, address(work, of))
    form = StepForm(
        request.POST if request.method == "POST" else None,
        said=draft.said, step=stands or {}, book=repair_draft.book_beside(work), shop=desk.shop,
        left_open=repair_draft.judged(work, draft).left_open,
    )  # fmt: skip
    changed = request.method == "POST" and request.POST.get("mark") != draft.mark
    if request.method == "POST" and not changed and form.is_valid():
        with transaction.atomic():
            said = form.put()
            repair_draft.keep(desk, work, of, said)
            kept = name or said["job"]["steps"][-1]["name"]
            to = {"more": address(work, of, "repair-step", step=kept),
                  "next": address(work, of, "repair-step")}.get(request.POST.get("go", ""), "")  # fmt: skip
            return done(request, to or address(work, of), said=_("Step kept.") if to else "")
    context = {
        "visit": work.visit,
        "work": work,
        "draft": draft,
        "form": form,
        "problem": str(CHANGED) if changed else "",
        "name": name,
        "number": draft.steps.index(stands) + 1 if stands else len(draft.steps) + 1,
        "begun": name in repair_draft.begun(work, of),
        "back": address(work, of),
    }
    return show(request, "repair/step.html", context, faulty=changed)
