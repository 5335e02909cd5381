"""What is not in the plan: a step that cannot be done, something found, a note, and how each is answered."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.core.exceptions import BadRequest
from django.forms import Form
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from witnessmark.errors import WitnessError
from witnessmark.ledger.bodies import own_id
from witnessmark.shop import photos, store
from witnessmark.shop.forms import in_words
from witnessmark.shop.pages.bench.forms import FoundForm, NoteForm, WontForm, jobs_of
from witnessmark.shop.pages.bench.views import Bench, bench_at, bench_of, jobs_of_card, page
from witnessmark.shop.responses import recorded
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import pricing
from witnessmark.shop.work.cards import Card
from witnessmark.shop.work.forms import JudgeForm, SettleForm
from witnessmark.shop.work.lines import written
from witnessmark.shop.work.visit import Work, bench_address, work_of


@require_POST
def wont(request: DeskRequest, visit: UUID) -> HttpResponse:
    """The step fails: how, what is safe now, a photo, an extra line for the owner; a new order is offered."""
    at = _named(request, visit)
    step = _card(at).id
    form = WontForm(request.POST, request.FILES, prefix="wont", jobs=jobs_of_card(at))
    if not form.is_valid():
        return page(request, at, wont_form=form, trouble="wont")
    said = form.cleaned_data
    ticket = store.ticket_of(request)
    acts: list[store.EntryDraft] = [
        (
            "wont",
            {
                "step": step,
                "what": said["what"],
                "safe_now": said["safe_now"],
                "text": said["text"],
                **form.stopped(),
            },
        )
    ]
    acts += _photo(request, form, step)
    if form.errors:
        return page(request, at, wont_form=form, trouble="wont")
    acts += _own_line(at, ticket, said, place=len(acts))
    return recorded(
        request,
        at.work.visit,
        acts,
        bench_address(at.work),
        said=_("Written down. What comes after it waits."),
    )


@require_POST
def found(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Something found becomes a line for the owner: a job of the book, or words and minutes."""
    at = _named(request, visit)
    step = _card(at).id
    form = FoundForm(request.POST, request.FILES, prefix="found", jobs=jobs_of(at.work))
    if not form.is_valid():
        return page(request, at, found_form=form, trouble="found")
    said = form.cleaned_data
    ticket = store.ticket_of(request)
    own = [] if said["job"] else _own_line(at, ticket, said, place=1)
    line = said["job"] or (own_id(ticket.id_of(1)) if own else None)
    acts: list[store.EntryDraft] = [
        ("found", {"text": said["text"], "step": step, "safety": said["safety"], "line": line}),
        *own,
    ]
    acts += _photo(request, form, step)
    try:
        acts += _offer(at.work, [said["job"]] if said["job"] else [])
    except WitnessError as error:
        form.add_error("job", in_words(error))
    if form.errors:
        return page(request, at, found_form=form, trouble="found")
    words = _("Written down; it is a line for the owner now.") if line else _("Written down.")
    return recorded(request, at.work.visit, acts, bench_address(at.work, _here(at)), said=words)


@require_POST
def note(request: DeskRequest, visit: UUID) -> HttpResponse:
    """A remark for whoever works on this next, a photo, or both."""
    at = _named(request, visit)
    step = _card(at).id
    form = NoteForm(request.POST, request.FILES, prefix="note")
    acts: list[store.EntryDraft] = []
    if form.is_valid():
        acts += _photo(request, form, step)
        if form.cleaned_data["text"] and not form.cleaned_data.get("photo"):
            acts.append(("noted", {"text": form.cleaned_data["text"], "step": step}))
    if form.errors:
        return page(request, at, note_form=form, trouble="note")
    return recorded(
        request, at.work.visit, acts, bench_address(at.work, _here(at)), said=_("Noted.")
    )


@require_POST
def settle(request: DeskRequest, visit: UUID) -> HttpResponse:
    """A finding, or a step that would not go, has its answer."""
    at = _beside(request, visit)
    entry = request.POST.get("entry", "")
    if not any(one.entry == entry for one in at.work.state.findings):
        raise BadRequest(_("no such finding on this visit"))
    form = SettleForm(request.POST, prefix="settle")
    if not form.is_valid():
        return page(request, at, settle_form=form, settling=entry)
    acts = [("settled", {"entry": entry, **form.cleaned_data})]
    return recorded(
        request, at.work.visit, acts, bench_address(at.work, _here(at)), said=_("Answered.")
    )


@require_POST
def judge(request: DeskRequest, visit: UUID) -> HttpResponse:
    """A thread that kept turning or a bolt past its value was judged; a lower second value does not do it."""
    at = _beside(request, visit)
    named = request.POST.get("tight", "")
    name, _before, index = named.rpartition("/")
    if named not in {
        f"{f}/{n}" for f, one in at.work.book.fasteners.items() for n in range(1, one.count + 1)
    }:
        raise BadRequest(_("the service book has no such fastener"))
    form = JudgeForm(request.POST, prefix="judge")
    if not form.is_valid():
        return page(request, at, judge_form=form, judging=f"{name}/{index}")
    acts = [("judged", {"fastener": name, "index": int(index), **form.cleaned_data})]
    return recorded(
        request, at.work.visit, acts, bench_address(at.work, _here(at)), said=_("Judged.")
    )


# ---------------------------------------------------------------- parts


def _named(request: DeskRequest, visit: UUID) -> Bench:
    """The bench at the card that the form was written on."""
    return bench_at(work_of(request.desk, visit), request.POST)


def _card(at: Bench) -> Card:
    assert at.card is not None  # `bench_at` refuses a form without it
    return at.card


def _beside(request: DeskRequest, visit: UUID) -> Bench:
    """The bench to go back to: what such a form means stands in it, whatever card is in hand."""
    work = work_of(request.desk, visit)
    return bench_at(work, request.POST) if request.POST.get("card") else bench_of(work)


def _here(at: Bench) -> str:
    return at.card.id if at.card and at.asked else ""


def _photo(request: DeskRequest, form: Form, step: str | None) -> list[store.EntryDraft]:
    """The photo of a form as an entry; a file that is none is refused beside its field."""
    file = form.cleaned_data.get("photo")
    if not file:
        return []
    try:
        kept = photos.keep(request.desk, file, file.name)
    except photos.PhotoError as error:
        form.add_error("photo", in_words(error))
        return []
    text = form.cleaned_data.get("text") or ""
    return [
        (
            "photo",
            {"sha256": kept.sha256, "media_type": kept.media_type, "step": step, "text": text},
        )
    ]


def _own_line(
    at: Bench, ticket: store.Ticket, said: Mapping[str, Any], place: int
) -> list[store.EntryDraft]:
    """A line of the technician's own for the owner, where one was written."""
    if not said["line"]:
        return []
    why = f"found at “{at.card.step.text}”" if at.card else ""
    body = {"words": said["line"], "why": why, "minutes": round(said["minutes"] or 0.0, 1)}
    body["safety"] = said.get("safety", False)
    return written(at.work, ticket, body, offer=True, place=place)


def _offer(work: Work, jobs: list[str]) -> list[store.EntryDraft]:
    """The entries that put new jobs before the owner."""
    if not jobs:
        return []
    made = pricing.supplement(work, jobs)
    sha256 = pricing.keep_estimate(work.visit.shop, made)
    taken: list[store.EntryDraft] = [
        ("job_taken", {"job": job, "because": "found at the bench"}) for job in jobs
    ]
    return [*taken, ("offered", {"estimate": sha256, "lines": [line.id for line in made.lines]})]
