"""Pass the gates: the road test, an override by name, and the return of the machine."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db import transaction
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST

from witnessmark.shop import photos, store
from witnessmark.shop.forms import in_words
from witnessmark.shop.models import PhotoKept
from witnessmark.shop.pages.handback import forms
from witnessmark.shop.pages.handback.closing import line_of
from witnessmark.shop.pages.handback.views import page, return_form
from witnessmark.shop.responses import done as go_on
from witnessmark.shop.responses import recorded, show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import billing, hand_back
from witnessmark.shop.work.hand_back import Blocking, NotReleasedError
from witnessmark.shop.work.visit import Work, work_of

GONE = _("That was closed meanwhile.")
CAME_IN = _("Something was recorded since this page was shown. Look at it, then tap again.")


@require_POST
def road_test(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Ready for the road; nobody can let a safety-critical item through this gate."""
    work = work_of(request.desk, visit)
    ticket = store.ticket_of(request)
    try:
        with transaction.atomic():
            stored = hand_back.pass_gate(request.desk, work.visit, ticket, "road test")
            said = _("Ready for the road test.")
            return go_on(request, "handback", work.visit.pk, said=said, stored=stored)
    except NotReleasedError:
        return _refused(request, visit, "road test")


@require_POST
def give_back(request: DeskRequest, visit: UUID) -> HttpResponse:
    """The return: nothing passes while one item is open."""
    work = work_of(request.desk, visit)
    verdict = hand_back.verdict(work, "hand-back")
    if work.closed and verdict.passes and not work.state.recalls:
        return go_on(request, "papers", work.visit.pk, said=_("It was handed back already."))
    form = return_form(request, work, verdict, request.POST)
    if unpaid := billing.leaves_unpaid(work):
        return page(request, work, refused=unpaid, return_form=form)
    if not verdict.passes:
        return _refused(request, visit, "hand-back")
    if not form.is_valid():
        return page(request, work, return_form=form)
    ticket = store.ticket_of(request)
    try:
        with transaction.atomic():
            stored = hand_back.pass_gate(request.desk, work.visit, ticket, "hand-back", form.acts())
            return go_on(request, "handback", work.visit.pk, said=_("Handed back."), stored=stored)
    except NotReleasedError:
        return _refused(request, visit, "hand-back", return_form=form)


@require_http_methods(["GET", "POST"])
def override(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Sign one open item off as it is: who, why, and for what is safety-critical by which signed paper."""
    work = work_of(request.desk, visit)
    line = line_of(work, request.POST.get("item") or request.GET.get("item", ""))
    if line is None:
        return go_on(request, "handback", work.visit.pk, said=str(GONE))
    given = (request.POST, request.FILES) if request.method == "POST" else ()
    before = _signed_before(request)
    form = forms.OverrideForm(
        *given, request=request, safety=line.safety, signed=before is not None
    )
    refused = line.safety and work.visit.shop.refuse_override
    if request.method == "POST" and not refused and form.is_valid():
        acts = _overridden(request, line, form, before)
        if not form.errors:
            said = _("Signed off as is, by name. It will be printed first.")
            return recorded(request, work.visit, acts, "handback", work.visit.pk, said=said)
    if (
        request.method == "POST" and not refused and "signature" not in form.errors
    ):  # a photo of the paper is not sent a second time
        before = _paper(request, form) or before
    context = {
        "visit": work.visit, "line": line, "form": form, "refused": refused, "signed": before,
    }  # fmt: skip
    return show(
        request, "handback/override.html", context, faulty=refused and request.method == "POST"
    )


# ---------------------------------------------------------------- parts


def _refused(request: DeskRequest, visit: UUID, name: str, **more: Any) -> HttpResponse:
    """The page as it stands now, with the refusal on top. What was typed is kept."""
    work: Work = work_of(request.desk, visit)
    verdict = hand_back.verdict(work, name)  # type: ignore[arg-type]
    if verdict.passes:
        first = hand_back.steps_first(work) if name == "road test" else []
        return page(request, work, refused=hand_back.not_ready(first) or str(CAME_IN), **more)
    still = len(verdict.words)
    if name == "road test":
        words = ngettext(
            "Not to be ridden: {n} thing is open.", "Not to be ridden: {n} things are open.", still
        )
    else:
        words = ngettext(
            "Not to be handed back: {n} thing is open.",
            "Not to be handed back: {n} things are open.",
            still,
        )
    return page(request, work, refused=words.format(n=still))


def _paper(request: DeskRequest, form: forms.OverrideForm) -> PhotoKept | None:
    """The photo of the signed paper, kept; a file that is none is refused beside its field."""
    file = form.cleaned_data.get("signature")
    if not file:
        return None
    try:
        return photos.keep(request.desk, file, file.name)
    except photos.PhotoError as error:
        form.add_error("signature", in_words(error))
        return None


def _signed_before(request: DeskRequest) -> PhotoKept | None:
    """The photo that an earlier try of this form had brought."""
    sha256 = request.POST.get("signed", "")
    return request.desk.all(PhotoKept).filter(sha256=sha256, erased_on=None).first()


def _overridden(
    request: DeskRequest, line: Blocking, form: forms.OverrideForm, before: PhotoKept | None
) -> list[store.EntryDraft]:
    """An entry per item of the line, by whoever is signed in; the photo of the signed paper is kept first."""
    said = form.cleaned_data
    body = {"person": str(request.desk.member.pk), "reason": said["reason"], "paper": said["paper"]}
    acts: list[store.EntryDraft] = []
    kept = _paper(request, form) or before
    if form.errors:
        return []
    if kept:
        picture = {"sha256": kept.sha256, "media_type": kept.media_type}
        acts.append(("photo", {**picture, "text": f"signed: {said['paper']}"}))
        body["signature"] = kept.sha256
    return [*acts, *(("overridden", {"item": item.id, **body}) for item in line.items)]
