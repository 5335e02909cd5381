"""Trouble codes of a visit: paste what the reader showed, see what became of each code."""

from __future__ import annotations

import hashlib
from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from witnessmark.shop.pages.codes.forms import ClearedForm, PastedForm
from witnessmark.shop.responses import recorded, show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import codes as work_codes
from witnessmark.shop.work import meanwhile, staff
from witnessmark.shop.work.codes import codes_of
from witnessmark.shop.work.visit import Work, bench_address, who, work_of


@require_http_methods(["GET", "POST"])
def codes(request: DeskRequest, visit: UUID) -> HttpResponse:
    """The codes as they stand; POST keeps what was pasted, once what could not be read was seen."""
    work = work_of(request.desk, visit)
    if request.method == "GET":
        return page(request, work)
    form = PastedForm(request.POST, known=codes_of(work))
    if not form.is_valid():
        return page(request, work, form=form)
    read = form.read
    assert read is not None
    shown = _mark_of(form.cleaned_data["pasted"])
    if read.unread and request.POST.get("seen_unread") != shown:
        return page(request, work, form=form, doubt=read, shown=shown)
    said = form.cleaned_data
    body = work_codes.body_of(
        read, said["pasted"], said["moment"], adds=said.get("adds", False), unit=said["unit"]
    )
    return recorded(
        request,
        work.visit,
        work_codes.acts_of(work, body, request.desk.member.role),
        back(request, work),
        said=_("Copied to the visit."),
    )


@require_POST
def cleared(request: DeskRequest, visit: UUID) -> HttpResponse:
    """That the codes were cleared; without a copy only when that is said."""
    work = work_of(request.desk, visit)
    known = codes_of(work)
    form = ClearedForm(request.POST, known=known, prefix="clear")
    if not form.is_valid():
        return page(request, work, clear_form=form)
    acts = [("codes_cleared", {"text": form.cleaned_data["text"], "copied": known.copied})]
    return recorded(
        request,
        work.visit,
        acts,
        back(request, work),
        said=_("Written down. Read them again after the ride."),
    )


@require_POST
def undo(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Take a reading or a clearing back; it stays in the history."""
    work = work_of(request.desk, visit)
    named = request.POST.get("entry", "")
    acts = work_codes.undoing(work, named)
    if not acts:
        raise meanwhile.undone_already(request.desk, work, [named])
    staff.refuse_take_back(request.desk, work.entries, {named})
    return recorded(request, work.visit, acts, "codes", work.visit.pk, said=_("Taken back."))


def page(request: DeskRequest, work: Work, **more: Any) -> HttpResponse:
    """The page, with a form that came back, or with what could not be read (`doubt`)."""
    known = codes_of(work)
    context: dict[str, Any] = {
        "visit": work.visit,
        "work": work,
        "codes": known,
        "names": who(request.desk),
        "may_take_back": staff.may_take_back(request.desk, work.entries),
        "card": request.POST.get("card", "") or request.GET.get("card", ""),
        "form": PastedForm(known=known),
        "clear_form": ClearedForm(known=known, prefix="clear"),
        **more,
    }
    return show(request, "codes/page.html", context, faulty="doubt" in more)


def _mark_of(text: str) -> str:
    """Tells one text from another, whatever ends its lines: what could not be read of it was seen."""
    return hashlib.sha256("\n".join(text.splitlines()).encode()).hexdigest()


def back(request: DeskRequest, work: Work) -> str:
    """To the card that sent here, else to the codes."""
    card = request.POST.get("card", "")
    if card and card in work.steps and work.state.book:
        return bench_address(work, card)
    return f"/visits/{work.visit.pk}/codes/"
