"""Close what no card closes: looks, the walk round, conflicts, findings, figures, threads."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.core.exceptions import BadRequest
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST

from witnessmark.shop import store
from witnessmark.shop.pages.handback import forms
from witnessmark.shop.pages.handback.views import page, returned_now, wanted_state
from witnessmark.shop.responses import recorded
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import hand_back, meanwhile, staff, undoing
from witnessmark.shop.work.forms import LeaveForm
from witnessmark.shop.work.hand_back import Blocking, Means
from witnessmark.shop.work.visit import Work, work_of

TOO_LATE = gettext_lazy(
    "It can no longer be taken back: its day is over, or something was recorded since. "
    "Take the machine in again as a new visit."
)


@require_POST
def walk(request: DeskRequest, visit: UUID) -> HttpResponse:
    """The closing walk round the machine."""
    work = work_of(request.desk, visit)
    return _stored(request, work, [("walked_round", {})], _("Walked round."))


@require_POST
def look(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Second looks by somebody who did none of the work."""
    work = work_of(request.desk, visit)
    chosen = _chosen(request, work, mine=False)
    if not chosen:
        return page(request, work, refused=_("Tick what you looked at."))
    return _stored(request, work, [("looked", {"items": chosen})], _("Looked at."))


@require_POST
def alone(request: DeskRequest, visit: UUID) -> HttpResponse:
    """A lone worker's look at their own work: recorded, and printed, as that."""
    work = work_of(request.desk, visit)
    chosen = _chosen(request, work, mine=True)
    if not chosen:
        return page(request, work, refused=_("Tick what you looked at."))
    looks = [one for one in hand_back.looks(work) if one.item.id in chosen]
    form = forms.AloneForm(request.POST, looks=looks, auto_id="alone-%s")
    if not form.is_valid():
        return page(request, work, alone_form=form, ticked=chosen)
    acts: list[store.EntryDraft] = [("looked", {"items": chosen, "fallback": form.cleaned_data})]
    return _stored(request, work, acts, _("Looked at, alone; it will be printed as that."))


@require_POST
def close(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Close the line named in the form by what closes such a line."""
    work = work_of(request.desk, visit)
    line = line_of(work, request.POST.get("item", ""))
    if line is None:
        raise meanwhile.since(request.desk, work, store.ticket_of(request))
    form = forms.of_line(line, request.POST, auto_id="back-%s")
    if form is not None and not form.is_valid():
        return page(request, work, bound={("close", line.key): form})
    said = form.cleaned_data if form else {}
    acts = _acts(work, line, said)
    if not acts:
        raise BadRequest(_("this line is closed elsewhere"))
    if line.means == "take back":
        staff.refuse_take_back(request.desk, work.entries, {line.name})
    return _stored(request, work, acts, _("Written down."))


@require_POST
def leave(request: DeskRequest, visit: UUID) -> HttpResponse:
    """An agreed job that is not done on this visit, and why."""
    work = work_of(request.desk, visit)
    line = line_of(work, request.POST.get("item", ""))
    if line is None:
        raise meanwhile.since(request.desk, work, store.ticket_of(request))
    if line.item.kind != "job":
        raise BadRequest(_("only a job can be left"))
    form = LeaveForm(request.POST, auto_id="back-%s")
    if not form.is_valid():
        return page(request, work, bound={("leave", line.key): form})
    acts: list[store.EntryDraft] = [("job_left", {"job": line.name, **form.cleaned_data})]
    return _stored(request, work, acts, _("Left out, with your reason. Tell the owner."))


@require_POST
def take_back(request: DeskRequest, visit: UUID) -> HttpResponse:
    """An override is taken back, for every item it was given for; or the return, while that is still possible.

    It stays in the history.
    """
    work = work_of(request.desk, visit)
    named = request.POST.getlist("entry")
    if any(line.kind == "returned" and line.entry in named for line in work.state.history):
        return _return_taken_back(request, work, named)
    overrides = {line.entry for line in work.state.history if line.kind == "overridden"}
    if not named or not overrides.issuperset(named):
        raise BadRequest(_("no such override on this visit"))
    staff.refuse_take_back(request.desk, work.entries, named)
    acts: list[store.EntryDraft] = [("corrected", {"entry": entry}) for entry in named]
    return _stored(request, work, acts, _("Taken back."))


def line_of(work: Work, key: str) -> Blocking | None:
    """The line of what blocks that an item is on; None once it is closed."""
    every = hand_back.blocking(work, hand_back.verdict(work, "hand-back"))
    return next((one for one in every if key in {item.id for item in one.items}), None)


# ---------------------------------------------------------------- parts


def _return_taken_back(request: DeskRequest, work: Work, named: list[str]) -> HttpResponse:
    staff.refuse_take_back(request.desk, work.entries, named)
    one = undoing.named(work, named)
    if one is None:
        raise meanwhile.undone_already(request.desk, work, named)
    if returned_now(request.desk, work) is None:
        return page(request, work, refused=str(TOO_LATE))
    return _stored(request, work, undoing.acts(one), _("Taken back: the machine is here."))


def _stored(
    request: DeskRequest, work: Work, acts: list[store.EntryDraft], said: str
) -> HttpResponse:
    return recorded(request, work.visit, acts, "handback", work.visit.pk, said=said)


def _chosen(request: DeskRequest, work: Work, *, mine: bool) -> list[str]:
    """The looks ticked: wanted still, and (not) of the person's own work."""
    me, ticked = str(request.desk.member.pk), request.POST.getlist("look")
    wanted = {one.item.id: me in one.doers for one in hand_back.looks(work)}
    if not wanted.keys() >= {*ticked}:
        raise meanwhile.since(request.desk, work, store.ticket_of(request))
    return [item for item, own in wanted.items() if own == mine and item in ticked]


def _acts(work: Work, line: Blocking, said: dict[str, Any]) -> list[store.EntryDraft]:
    """The entries that close a line."""
    make = _CLOSES.get(line.means)
    return [make(work, line, said)] if make else []


def _confirmed(_work: Work, line: Blocking, said: dict[str, Any]) -> store.EntryDraft:
    return "confirmed", {"items": [item.id for item in line.items], **said}


def _settled(_work: Work, line: Blocking, said: dict[str, Any]) -> store.EntryDraft:
    return "settled", {"entry": line.name, **said}


def _judged(_work: Work, line: Blocking, said: dict[str, Any]) -> store.EntryDraft:
    return "judged", {"fastener": line.name, "index": line.item.key.place, **said}


def _found(_work: Work, line: Blocking, said: dict[str, Any]) -> store.EntryDraft:
    return "found", {"reading": line.name, **said}


def _state(work: Work, line: Blocking, _said: dict[str, Any]) -> store.EntryDraft:
    return "states_found", {"states": {line.name: wanted_state(work, line)[0]}}


def _corrected(_work: Work, line: Blocking, _said: dict[str, Any]) -> store.EntryDraft:
    return "corrected", {"entry": line.name}


_CLOSES: dict[Means, Callable[[Work, Blocking, dict[str, Any]], store.EntryDraft]] = {
    "confirm": _confirmed,
    "settle": _settled,
    "judge": _judged,
    "outside": _found,
    "state": _state,
    "take back": _corrected,
}
