"""A repair that no book lists: complaint, tests, cause, steps; kept half written, and written down."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.core.exceptions import BadRequest
from django.db import transaction
from django.http import HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from witnessmark.book.select import with_brought
from witnessmark.ledger.bodies import own_id
from witnessmark.shop import store
from witnessmark.shop.pages.repair.forms import RepairForm
from witnessmark.shop.responses import done, recorded, show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import repair_draft
from witnessmark.shop.work.repair_draft import Draft, Judged, Said, judged
from witnessmark.shop.work.visit import Work, work_of

CHANGED = gettext_lazy(
    "This repair was changed since the page was shown. What you typed stands below: to put it in place, save again."
)
BACK = gettext_lazy("It was handed back: a repair belongs to its next visit.")


@dataclass(frozen=True)
class StepShown:
    """A step as the page lists it."""

    name: str
    text: str
    details: tuple[str, ...]
    wrong: tuple[str, ...]
    begun: bool


def named(work: Work, sent: Mapping[str, Any]) -> str:
    """The repair that an address or form names; empty for a new one. Raises BadRequest for one that is not there."""
    of = str(sent.get("of", ""))
    if of and of not in work.state.repairs:
        raise BadRequest(_("no such repair on this visit"))
    return of


def address(work: Work, of: str, page: str = "repair", **more: str) -> str:
    """The page of a repair, or of a step of it."""
    query = {"of": of, **more} if of else more
    path = reverse(page, args=[work.visit.pk])
    return f"{path}?{urlencode(query)}" if query else path


@require_http_methods(["GET", "POST"])
def repair(request: DeskRequest, visit: UUID) -> HttpResponse:
    """The repair as a whole. POST keeps what was typed, and does what its button says."""
    work = work_of(request.desk, visit)
    of = named(work, request.POST if request.method == "POST" else request.GET)
    draft = repair_draft.draft_of(request.desk, work, of)
    if request.method == "POST":
        return _pressed(request, work, draft)
    if not draft.half and not of:
        draft = _suggested(work, draft, request.GET)
    return _page(request, work, draft, _form(work, draft))


def _pressed(request: DeskRequest, work: Work, draft: Draft) -> HttpResponse:
    """The button: go on later, a step, a step up, down or out, write it down, throw it away."""
    go, _slash, step = request.POST.get("go", "save").partition("/")
    if go not in {"save", "step", "up", "down", "remove", "write", "drop"}:
        raise BadRequest(_("no such button"))
    form = _form(work, draft, request.POST)
    if problem := _hindrance(request, work, draft, go, step):
        return _page(request, work, draft, form, problem=problem)
    if go == "drop":
        with transaction.atomic():
            repair_draft.drop(request.desk, work, draft.of)
            gone = _("What was half written is gone.")
            return done(request, "price", work.visit.pk, said=gone)
    if not form.is_valid():
        return _page(request, work, draft, form)
    said = _acted(form.put(draft.said | _finding(request.POST)), go, step)
    if go == "write":
        return _written(request, work, Draft(draft.of, said, half=True))
    with transaction.atomic():
        repair_draft.keep(request.desk, work, draft.of, said)
        page = "repair-step" if go == "step" else "repair"
        to = address(work, draft.of, page, **({"step": step} if go == "step" and step else {}))
        return done(request, to, said=_("Kept, half written.") if go == "save" else "")


def _hindrance(request: DeskRequest, work: Work, draft: Draft, go: str, step: str) -> str:
    """Why the button does nothing now, in words."""
    if work.closed:
        return str(BACK)
    if request.POST.get("mark") != draft.mark and (draft.half or draft.of):
        return str(CHANGED)
    if go == "remove" and step in repair_draft.begun(work, draft.of):
        return _("It was worked on: a step of it is left out at the bench, with the reason.")
    return ""


def _form(work: Work, draft: Draft, sent: Any = None) -> RepairForm:
    return RepairForm(sent, said=draft.said, book=repair_draft.book_beside(work))


def _suggested(work: Work, draft: Draft, asked: Mapping[str, str]) -> Draft:
    """A new one begins with what it is for: the finding that led here, else the complaint."""
    found = next((one for one in work.state.findings if one.entry == asked.get("finding")), None)
    complaint = work.state.complaint
    why = found.text if found else complaint.words if complaint and "complaint" in asked else ""
    said = draft.said | {"job": draft.job | {"why": why}}
    return Draft(draft.of, said | ({"finding": found.entry} if found else {}), half=False)


def _finding(sent: Mapping[str, str]) -> Said:
    return {"finding": sent["finding"]} if sent.get("finding") else {}


def _acted(said: Said, go: str, step: str) -> Said:
    """What was typed, with a step moved or taken out."""
    if go in {"up", "down"}:
        return repair_draft.moved(said, step, -1 if go == "up" else 1)
    return repair_draft.without_step(said, step) if go == "remove" else said


def _written(request: DeskRequest, work: Work, draft: Draft) -> HttpResponse:
    """Write it down, with the jobs it brings; where something is wrong, keep it half written and say what."""
    checked = judged(work, draft)
    if checked.wrong or checked.job is None:
        with transaction.atomic():
            kept = repair_draft.keep(request.desk, work, draft.of, draft.said)
        count = sum(map(len, checked.wrong.values()))
        words = _("Kept half written: it says below what is missing ({count}).").format(count=count)
        return _page(request, work, kept, _form(work, kept), problem=words)
    body = {key: value for key, value in draft.said.items() if key != "finding"}
    ticket = store.ticket_of(request)
    name = draft.of or own_id(ticket.id_of(0))
    acts: list[store.EntryDraft] = [
        ("repair_written", body | ({"repair": draft.of} if draft.of else {}))
    ]
    brought = with_brought(work.book, checked.job.brings)
    finding = {"finding": draft.said["finding"]} if draft.said.get("finding") else {}
    acts += [
        ("job_taken", {"job": job, "because": because} | (finding if job == name else {}))
        for job, because in [(name, ""), *((job, checked.job.text) for job in brought)]
        if job not in work.state.taken
    ]

    def beside() -> None:
        repair_draft.drop(request.desk, work, draft.of)

    said = _(
        "Written down. It is a job of this visit: offer it, and it is planned with the others."
    )
    return recorded(request, work.visit, acts, "price", work.visit.pk, said=said, beside=beside)


def _page(
    request: DeskRequest, work: Work, draft: Draft, form: RepairForm, problem: str = ""
) -> HttpResponse:
    checked = judged(work, draft)
    context = {
        "visit": work.visit,
        "work": work,
        "draft": draft,
        "form": form,
        "problem": problem,
        "steps": list(_steps(work, draft, checked)),
        "wrong": checked.wrong.get("", []) if draft.steps else [],
        "advice": checked.advice,
        "minutes": checked.job.minutes if checked.job else 0,
        "written": work.state.repairs.get(draft.of),
        "finding": draft.said.get("finding", ""),
    }
    return show(request, "repair/page.html", context, faulty=bool(problem))


def _steps(work: Work, draft: Draft, checked: Judged) -> list[StepShown]:
    begun = repair_draft.begun(work, draft.of)
    return [
        StepShown(
            step["name"],
            step["text"],
            tuple(_details(work, draft, step)),
            tuple(checked.wrong.get(step["name"], ())),
            step["name"] in begun,
        )
        for step in draft.steps
    ]


def _details(work: Work, draft: Draft, step: Said) -> list[str]:
    """What a step takes, undoes and closes, in words."""
    job, book = draft.job, work.pinned

    def text(table: str, name: str) -> str:
        own = job.get(table, {}).get(name)
        return str(own["text"] if own else getattr(getattr(book, table).get(name), "text", name))

    told = [_("{minutes} min").format(minutes=f"{step['minutes']:g}")]
    for key, table, words in (
        ("loosens", "fasteners", _("loose: {names}")),
        ("opens", "circuits", _("open: {names}")),
        ("tightens", "fasteners", _("tight: {names}")),
        ("closes", "circuits", _("closed: {names}")),
        ("parts", "parts", _("parts: {names}")),
        ("fluids", "fluids", _("fluids: {names}")),
        ("readings", "readings", _("read: {names}")),
    ):
        if step.get(key):
            told.append(words.format(names=", ".join(text(table, name) for name in step[key])))
    for condition, states in step.get("needs", {}).items():
        if condition in book.conditions:
            known = book.conditions[condition]
            said = ", ".join(known.state_words.get(state, state) for state in states)
            told.append(f"{known.text}: {said}")
    return told
