"""What a tap on a card does: confirm, make tight, read, skip, take back, take a new order."""

from __future__ import annotations

from collections.abc import Mapping
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import BadRequest
from django.http import HttpResponse
from django.views.decorators.http import require_POST

from witnessmark.shop import store
from witnessmark.shop.answers import done as go_on
from witnessmark.shop.forms import in_words
from witnessmark.shop.pages.bench import tools
from witnessmark.shop.pages.bench.forms import SkipForm
from witnessmark.shop.pages.bench.views import Bench, address, bench_of, page
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import bottles, evidence, planning, releasing, rounds, staff
from witnessmark.shop.work.cards import Card
from witnessmark.shop.work.course import new_order
from witnessmark.shop.work.readings import told
from witnessmark.shop.work.visit import work_with_book
from witnessmark.shop.work.wrenches import shelf


@require_POST
def confirm(request: DeskRequest, visit: UUID) -> HttpResponse:
    """One tap on the card in hand: a fastener clicked, readings written down, or the step done.

    The step is done with the tap that leaves nothing to tighten or read on it, or by the button that says so.
    """
    work = work_with_book(request.desk, visit)
    at = bench_of(work, request.POST.get("card", ""))
    card = _in_hand(at)
    said = tools.take(card, request.POST.dict())
    if {"take", "crow-foot", "bare"} & said.keys():  # another wrench in hand: nothing is written
        return page(request, at, typed=said)
    acts, wrong = evidence.readings_posted(card, request.POST)
    try:
        acts += _tightened(request, card, said)
        acts += rounds.posted(card.proofs, card.id, said)
    except evidence.EvidenceError as error:
        wrong.append(error)
    faults = {error.place: in_words(error) for error in wrong}
    fluids, refused = bottles.posted(work, card, request.POST.dict())
    if wrong or refused:
        faults |= refused
        return page(request, at, typed=request.POST, wrong=faults)
    said_done = "done" in request.POST
    if said_done or evidence.complete(card, acts):
        if releasing.holds(work, card.id):
            return page(request, at, typed=request.POST, refused=True)
        kind, body = evidence.done(card, card.warnings)
        acts += [*releasing.passing(work, card.id), (kind, {**body, **fluids})]
    kept = tools.travelling(card, said)
    if not acts:
        return go_on(request, address(work, card.id, kept))
    stored = store.record_all(request.desk, work.visit, store.ticket_of(request), acts)
    to = address(work) if acts[-1][0] == "done" else address(work, _still(at), kept)
    return go_on(request, to, said=told(work.book, acts), stored=stored)


@require_POST
def skip(request: DeskRequest, visit: UUID) -> HttpResponse:
    """A step that will not be done on this visit, and why. What it would have closed stays open."""
    work = work_with_book(request.desk, visit)
    at = bench_of(work, request.POST.get("card", ""))
    form = SkipForm(request.POST, prefix="skip")
    if not form.is_valid():
        return page(request, at, skip_form=form)
    acts = [("skipped", {"step": _in_hand(at).id, "reason": form.cleaned_data["reason"]})]
    stored = store.record_all(request.desk, work.visit, store.ticket_of(request), acts)
    return go_on(request, address(work), said="Left out, with your reason.", stored=stored)


@require_POST
def undo(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Take the named entry back; it stays in the history."""
    work = work_with_book(request.desk, visit)
    entry = request.POST.get("entry", "")
    if not any(line.entry == entry for line in work.state.history):
        raise BadRequest("no such entry on this visit")
    staff.refuse_take_back(request.desk, work.entries, {entry})
    acts = [("corrected", {"entry": entry, "why": request.POST.get("why", "")[:400]})]
    stored = store.record_all(request.desk, work.visit, store.ticket_of(request), acts)
    return go_on(request, address(work), said="Taken back.", stored=stored)


@require_POST
def take_order(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Follow the best order of what is left, from here on."""
    work = work_with_book(request.desk, visit)
    made = new_order(work)
    if not made.possible:
        messages.error(request, "There is no order in which all that is left can be done.")
        return go_on(request, address(work))
    acts = [("plan_taken", {"plan": planning.keep(request.desk.shop, made)})]
    stored = store.record_all(request.desk, work.visit, store.ticket_of(request), acts)
    return go_on(request, address(work), stored=stored)


def _in_hand(at: Bench) -> Card:
    if at.card is None:
        raise BadRequest("no card was named")
    return at.card


def _still(at: Bench) -> str:
    """The card to stay on: named only where it was chosen by hand."""
    return at.card.id if at.card and at.asked else ""


def _tightened(request: DeskRequest, card: Card, said: Mapping[str, str]) -> list[store.Act]:
    """The entry of a tap on one fastener: the button's value is ``group/place``."""
    tapped = said.get("tight", "")
    if not tapped:
        return []
    name, _, number = tapped.rpartition("/")
    group = next(
        (g for g in tools.groups(shelf(request.desk.shop), card, said, {}) if g.shown.id == name),
        None,
    )
    if (
        group is None
        or not number.isdecimal()
        or not 1 <= int(number) <= group.shown.fastener.count
    ):
        raise BadRequest("no such fastener on this card")
    return [_mark(card, group, int(number), said.get(f"reached-{name}", "").strip())]


def _mark(card: Card, group: tools.Group, place: int, reached: str) -> store.Act:
    name = group.shown.id
    if group.fault:
        raise evidence.EvidenceError(
            f"reach-{name}", group.fault.partition("; ")[0], group.fault.partition("; ")[2]
        )
    if group.crow_foot is not None and group.wrench is None:
        wrong = "what the crow-foot makes of it cannot be reckoned without a wrench of the shop"
        raise evidence.EvidenceError(
            f"reach-{name}", wrong, "take it off, or measure the arm of a wrench"
        )
    try:
        return evidence.tightened(card, group.shown, place, wrench=group.wrench, reached=reached)
    except evidence.EvidenceError as error:
        raise evidence.EvidenceError(f"{error.place}-{name}", error.wrong, error.right) from error
