"""What a tap on a card does: confirm, make tight, read, skip, take back, take a new order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from uuid import UUID

from django.core.exceptions import BadRequest, PermissionDenied
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST

from witnessmark.errors import WitnessError
from witnessmark.shop import store
from witnessmark.shop.forms import in_words
from witnessmark.shop.pages.bench import cannot_go_on, out_of_limits, tools
from witnessmark.shop.pages.bench.forms import (
    AFTER_ALL,
    LOOSE,
    PASSED_BY,
    SHORT_WAIT,
    WAITS,
    LeaveJobForm,
    SkipForm,
    StopWaitForm,
)
from witnessmark.shop.pages.bench.views import (
    Bench,
    bench_at,
    bench_of,
    jobs_of_card,
    page,
)
from witnessmark.shop.responses import recorded
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import (
    bottles,
    evidence,
    figures_wanted,
    hand_back,
    meanwhile,
    planning,
    rounds,
    staff,
    undoing,
    waiting,
)
from witnessmark.shop.work.cards import Card
from witnessmark.shop.work.plan_followed import new_order
from witnessmark.shop.work.readings import told
from witnessmark.shop.work.visit import Work, bench_address, work_of
from witnessmark.shop.work.wrenches import shelf

HELD = {
    "gate": gettext_lazy("Nothing was recorded: what must be closed first stands below."),
    "report": gettext_lazy(
        "Not recorded as done: it was reported that it cannot be done. What was tightened or read before stands. "
        "The ways on stand below."
    ),
    "wait": gettext_lazy("Nothing was recorded: the wait is not over."),
    "loose": gettext_lazy(
        "Nothing was recorded: something safety-critical is not tight. Make it tight, or say why you go on."
    ),
    "other wait": gettext_lazy(
        "Nothing was recorded: the wait has changed since this page was made."
    ),
}


@require_POST
def confirm(request: DeskRequest, visit: UUID) -> HttpResponse:
    """One tap on the card in hand: a fastener clicked, readings written down, or the step done.

    The step is done with the tap that leaves nothing to tighten or read on it, or by the button that says so.
    """
    work, ticket = work_of(request.desk, visit), store.ticket_of(request)
    at = bench_at(work, request.POST)
    card = in_hand(at)
    after_all = request.POST.getlist(AFTER_ALL)
    said = tools.take(card, request.POST.dict())
    if {"take", "crow-foot", "bare"} & said.keys():  # another wrench in hand: nothing is written
        return page(request, at, typed=said, after_all=after_all)
    wait, said_done = waiting.wait_of(work, card), "done" in request.POST
    later = waiting.to_begin(card) and card.step.shown_by_waiting  # read when the wait is over
    acts, problem = evidence.readings_posted(
        card, {} if later else request.POST, all_of_them=said_done and not later
    )
    if any("taken_as" in body for _, body in acts) and not request.desk.may("bench-skip"):
        raise PermissionDenied(_("A technician says what a reading is taken as."))
    try:
        acts += _tightened(request, card, said)
        acts += rounds.posted(card.proofs, card.id, said)
    except evidence.EvidenceError as error:
        problem.append(error)
    faults = {error.place: in_words(error) for error in problem}
    posted = bottles.posted(work, card, request.POST.dict())
    fluids, refused = ({}, {}) if wait else posted  # told when it began
    reports = {one.key.name for one in cannot_go_on.reported(work, card)}
    unasked = not reports and not (wait and wait.left) and evidence.complete(card, acts)
    closes = said_done or unasked
    asked = [*acts, evidence.done(card, card.warnings, with_acts=acts)] if closes else acts
    if problem or refused:
        meanwhile.refuse(request.desk, work.visit, work.folded, ticket, asked)
        return page(request, at, typed=request.POST, problem=faults | refused, after_all=after_all)
    if closes:
        closing, hold = _closing(work, card, request.POST, fluids, acts)
        if not reports <= {*after_all}:
            hold = "report"
        new = [one for one in card.warnings if one not in request.POST.getlist("warned")]
        if hold or new:
            meanwhile.refuse(request.desk, work.visit, work.folded, ticket, asked)
            since = _("Since this page was made: {names}. Look at it, then tap again.").format(
                names="; ".join(new)
            )
            more = {"refused": HELD[hold] if hold else since, "hold": hold, "after_all": after_all}
            return page(request, at, typed=request.POST, **more)
        acts += closing
    kept = tools.travelling(card, said)
    over = bool(acts) and acts[-1][0] in {"done", "wait_begun"}
    to = bench_address(work) if over else bench_address(work, _still(at) if acts else card.id, kept)
    verdicts = told(work.book, acts)
    if acts and reports and not closes:
        recorded_words = _(
            "Recorded. The step itself is not: it was reported that it cannot be done."
        )
        verdicts = f"{recorded_words} {verdicts}".strip()
    return recorded(request, work.visit, acts, to, said=verdicts)


@require_POST
def mend(request: DeskRequest, visit: UUID) -> HttpResponse:
    """What puts a reading right becomes a line for the owner: a job of the book, or own words.

    One at its limit may be let be instead: ``let`` names the entry of the reading.
    """
    work, posted = work_of(request.desk, visit), request.POST
    named = (m for m in out_of_limits.mends(work) if m.reading == posted.get("reading"))
    one = next(named, None)
    job, let, ticket = posted.get("job", ""), posted.get("let", ""), store.ticket_of(request)
    gone = one is None or one.asked or (let and not (one.asks and let == one.newest.entry))
    if one is None or gone or job in work.state.taken:
        raise meanwhile.since(request.desk, work, ticket)
    if let:
        said = _("Let be, with your name: {words}.").format(words=one.words)
        return recorded(
            request, work.visit, out_of_limits.let_be(one), bench_address(work), said=said
        )
    if job not in dict(one.jobs) and (job or one.jobs):
        raise BadRequest(_("No job of this book with that name puts this right"))
    try:
        acts = out_of_limits.offered(work, one, job, ticket)
    except WitnessError as error:
        return page(request, bench_of(work), refused=in_words(error))
    return recorded(request, work.visit, acts, "bench-owner", work.visit.pk)


@require_POST
def skip(request: DeskRequest, visit: UUID) -> HttpResponse:
    """A step that will not be done on this visit, and why. What it would have closed stays open."""
    work = work_of(request.desk, visit)
    at = bench_at(work, request.POST)
    form = SkipForm(request.POST, prefix="skip")
    card = in_hand(at)
    if not card.job:  # the order would only ask for it again
        words = _(
            "Other work needs this step. Say that it cannot be done, or leave that work for later."
        )
        return page(request, at, refused=words)
    if not form.is_valid():
        return page(request, at, skip_form=form)
    acts = [("skipped", {"step": card.id, "reason": form.cleaned_data["reason"]})]
    return recorded(
        request, work.visit, acts, bench_address(work), said=_("Left out, with your reason.")
    )


@require_POST
def leave(request: DeskRequest, visit: UUID) -> HttpResponse:
    """A job that a card is for is not done on this visit, and why. What it opened stays open until it is closed."""
    work = work_of(request.desk, visit)
    at = bench_at(work, request.POST)
    if not (jobs := jobs_of_card(at)):
        raise meanwhile.since(request.desk, work, store.ticket_of(request))
    form = LeaveJobForm(request.POST, prefix="leave", jobs=jobs)
    if not form.is_valid():
        return page(request, at, leave_form=form)
    said = _("Left for later, with your reason. Tell the owner.")
    acts = [("job_left", form.cleaned_data)]
    return recorded(request, work.visit, acts, bench_address(work), said=said)


@require_POST
def stop_wait(request: DeskRequest, visit: UUID) -> HttpResponse:
    """A wait that is broken off shows nothing: its step is begun anew, or left out; what it opened stays open."""
    work = work_of(request.desk, visit)
    at = bench_at(work, request.POST)
    wait = waiting.wait_of(work, in_hand(at))
    if wait is None or wait.entry != request.POST.get("began"):
        raise meanwhile.since(request.desk, work, store.ticket_of(request))
    form = StopWaitForm(request.POST, prefix="stop")
    if not form.is_valid():
        return page(request, at, stop_form=form)
    acts = [("wait_stopped", {"step": wait.step, **form.cleaned_data})]
    said = _("Broken off, with your reason. The step is to be done again.")
    return recorded(request, work.visit, acts, bench_address(work), said=said)


@require_POST
def undo(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Take back what one tap wrote, all of it; it stays in the history."""
    work = work_of(request.desk, visit)
    entries = request.POST.getlist("entry")
    happened = {line.entry: line for line in work.state.history}
    if not entries or not happened.keys() >= {*entries}:
        raise BadRequest(_("This form names nothing of this visit to take back"))
    staff.refuse_take_back(request.desk, work.entries, entries)
    one = undoing.named(work, entries)
    if one is None:
        raise meanwhile.undone_already(request.desk, work, entries)
    if undoing.is_elsewhere(one):
        raise PermissionDenied(_("That is corrected at arrival, not taken back."))
    said = _("Taken back: {words}.").format(words=one.words)
    in_book = partial(figures_wanted.take_back, request.desk, work, entries)
    return recorded(
        request, work.visit, undoing.acts(one), bench_address(work), said=said, beside=in_book
    )


@require_POST
def take_order(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Follow the best order of what is left, from here on."""
    work = work_of(request.desk, visit)
    made = new_order(work)
    if not made.possible or made.hash != request.POST.get("plan"):
        words = _("The order has changed since this page was made: look again.")
        return page(request, bench_of(work), refused=words)
    acts = [("plan_taken", {"plan": planning.keep(request.desk.shop, made)})]
    return recorded(request, work.visit, acts, bench_address(work))


def _closing(
    work: Work,
    card: Card,
    posted: Mapping[str, str],
    fluids: Mapping[str, object],
    acts: Sequence[store.EntryDraft],
) -> tuple[list[store.EntryDraft], str]:
    """The entries of a card said to be done, or which hold refuses it: its gate, its wait."""
    because = posted.get(PASSED_BY, "").strip()[:400]
    wait, said = waiting.wait_of(work, card), posted.get(WAITS)
    hold = None if wait else hand_back.held(work, card.id)  # what began has passed its gate
    if hold and not (hold.for_a_reason and because):
        return [], "gate"
    passed = [] if wait else hand_back.passing(work, card.id, because)
    if said == ("begin" if wait else "over"):  # an old page: begun, ended or opened again meanwhile
        return [], "other wait"
    if waiting.to_begin(card):
        return [*passed, *waiting.begun(card, fluids)], ""
    short = posted.get(SHORT_WAIT, "").strip()[:400]
    if wait and wait.left and not short:
        return [], "wait"
    why = short if wait and wait.left else ""
    loose, because = evidence.loose_for_safety(card, acts), posted.get(LOOSE, "").strip()[:400]
    if loose and not because:
        return [], "loose"
    kind, body = evidence.done(
        card,
        card.warnings,
        began=wait.entry if wait else None,
        short_wait=why,
        not_tight_because=because if loose else "",
        with_acts=acts,
    )
    return [*passed, (kind, {**body, **fluids})], ""


def in_hand(at: Bench) -> Card:
    """The card that a form named."""
    assert at.card is not None  # `bench_at` refuses a form without it
    return at.card


def _still(at: Bench) -> str:
    """The card to stay on: named only where it was chosen by hand."""
    return at.card.id if at.card and at.asked else ""


def _tightened(request: DeskRequest, card: Card, said: Mapping[str, str]) -> list[store.EntryDraft]:
    """The entry of a tap on one fastener: the button's value is ``group/place/round``."""
    tapped = said.get("tight", "")
    if not tapped:
        return []
    groups = tools.groups(shelf(request.desk.shop), card, said, {})
    named = ((g, n, k) for g in groups for n in g.shown.order for k in range(g.shown.rounds + 1))
    for group, place, number in named:
        if tapped == f"{group.shown.id}/{place}/{number}":
            return [_mark(card, group, place, number, said)]
    raise BadRequest(_("This form names no fastener of its card"))


def _mark(
    card: Card, group: tools.FastenerGroup, place: int, number: int, said: Mapping[str, str]
) -> store.EntryDraft:
    name = group.shown.id
    reached = said.get(f"reached-{name}", "").strip()
    if number != group.shown.round:
        problem = _("round {round} of {rounds} is in hand now, not the one that was tapped").format(
            round=group.shown.round, rounds=group.shown.rounds
        )
        raise evidence.EvidenceError(f"figure-{name}", problem, _("look which of them are done"))
    if group.chosen and group.wrench and said.get(f"set-{name}") != group.wrench.setting:
        problem = _("the wrench is to be set to {setting}").format(setting=group.wrench.setting)
        raise evidence.EvidenceError(f"figure-{name}", problem, _("set it, then tap again"))
    if group.gone:
        problem = _("the wrench that this page showed in hand cannot be taken for it any more")
        raise evidence.EvidenceError(f"figure-{name}", problem, _("look which one is in hand now"))
    if group.refused:
        raise evidence.EvidenceError(f"reach-{name}", group.refused.problem, group.refused.expected)
    if group.crow_foot is not None and group.wrench is None:
        problem = _(
            "what the crow-foot makes of it cannot be calculated without a wrench of the shop"
        )
        raise evidence.EvidenceError(
            f"reach-{name}", problem, _("take it off, or measure the arm of a wrench")
        )
    try:
        wrench = group.wrench if group.chosen else None  # the page had none in hand
        return evidence.tightened(card, group.shown, place, wrench=wrench, reached=reached)
    except evidence.EvidenceError as error:
        raise evidence.EvidenceError(
            f"{error.place}-{name}", error.problem, error.expected
        ) from error
