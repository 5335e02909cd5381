"""The bench: the card in hand, the cards beside it, what is open."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any
from uuid import UUID

from django.core.exceptions import BadRequest
from django.http import Http404, HttpResponse, QueryDict
from django.urls import reverse
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from witnessmark.ledger.gates import for_safety, things
from witnessmark.ledger.stuck import stuck, unanswered
from witnessmark.ledger.work_left import steps_that_free
from witnessmark.planner import lasting
from witnessmark.shop.models import VisitSummary
from witnessmark.shop.pages.bench import cannot_go_on, forms, out_of_limits, tools
from witnessmark.shop.pages.bench.rows import line
from witnessmark.shop.responses import show
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import (
    beyond_book,
    bottles,
    branches,
    hand_back,
    staff,
    undoing,
    waiting,
)
from witnessmark.shop.work.built import built_since
from witnessmark.shop.work.cards import (
    Card,
    FigureShown,
    card_of,
    cards,
    gives_evidence,
    not_ready,
    torque_words,
)
from witnessmark.shop.work.codes import codes_of, concerns_codes
from witnessmark.shop.work.evidence import TAKEN, UNREAD, VOUCH, field_of
from witnessmark.shop.work.figures_wanted import to_come
from witnessmark.shop.work.held_up import held_up, stays_so
from witnessmark.shop.work.plan_followed import (
    PlanProgress,
    jobs_served,
    new_order,
    plan_progress,
)
from witnessmark.shop.work.planned import Planned
from witnessmark.shop.work.planning import to_do
from witnessmark.shop.work.visit import Work, who, work_of
from witnessmark.shop.work.waits_now import Wait
from witnessmark.shop.work.wrenches import shelf


@dataclass(frozen=True)
class Bench:
    """Everything the page shows."""

    work: Work
    course: PlanProgress
    cards: list[Card]
    card: Card | None  # in hand
    asked: bool  # chosen by hand, not the next in order
    next: Card | None = None  # by the order; while one waits, what is done beside it


@require_GET
def bench(request: DeskRequest, visit: UUID) -> HttpResponse:
    """The next card of the order, or the one chosen by `?card=`."""
    at = bench_of(work_of(request.desk, visit), request.GET.get("card", ""))
    return page(request, at)


def bench_of(work: Work, chosen: str = "") -> Bench:
    """Read the bench; `chosen` is the id of a step. Http404 for one the book does not have."""
    course = plan_progress(work)
    in_order = waiting.with_waits(work, beyond_book.among(work, cards(work, course.left)))
    now = course.plan.problem.now if course.plan else None
    tails = {one.name: one.unattended for one in now.running} if now else {}
    to_come = waiting.next_of(in_order, tails)
    if not chosen:
        mends = () if work.closed else out_of_limits.mends(work)
        again = next((mend.again for mend in mends if mend.again), "")
        card = (  # nothing is secured over a reading out of limits
            _chosen(work, again, None, to_come) if again else to_come
        )
        return Bench(work, course, in_order, card, asked=False, next=to_come)
    planned = next((card for card in in_order if card.id == chosen), None)
    asked = planned is None or planned is not to_come
    card = _chosen(work, chosen, planned, to_come)
    return Bench(work, course, in_order, card, asked=asked, next=to_come)


def bench_at(work: Work, posted: QueryDict) -> Bench:
    """The bench at the card that a form names, with the access steps it showed along with it.

    Raises BadRequest for a form that names none: what it means is never made up from what comes next.
    """
    step, along = posted.get("card", ""), posted.getlist("along")
    if step not in work.steps:
        raise BadRequest(_("This form does not name its card"))
    if any(n not in work.steps or gives_evidence(work.book, work.steps[n]) for n in along):
        raise BadRequest(_("This form names a step that goes along with no card"))
    at = bench_of(work, step)
    assert at.card is not None
    if [before.id for before in at.card.along] == along:
        return at
    card = replace(at.card, along=tuple(card_of(work, name) for name in along))
    card = replace(card, warnings=tuple(not_ready(work, card)))
    return replace(at, card=card)


def page(request: DeskRequest, at: Bench, **more: Any) -> HttpResponse:
    """The page, with forms that came back with faults in place of fresh ones."""
    work, card = at.work, at.card
    wait = waiting.wait_of(work, card) if card else None
    gated = card is not None and not card.over and wait is None  # what began has passed its gate
    held = hand_back.held(work, card.id) if card and gated else None
    left_out = cannot_go_on.left_out(work) if held and held.gate == "road test" else []
    offer, jobs, numbers = _offer(at), jobs_of_card(at), _numbers(at)
    safety = for_safety(work.state.items.values())
    context: dict[str, Any] = {
        "at": at,
        "visit": work.visit,
        "card": card,
        "last": (last := undoing.newest(work)),
        "decided": branches.newly_decided(work, at.course.plan, last.lines if last else ()),
        "may_undo": last is not None and undoing.may_take_back(request.desk, work, last),
        "leaving": [(words, cannot_go_on.left_by(work, job)) for job, words in jobs],
        "leave_open": "leave" in request.GET or "leave_form" in more,
        "steps": len(card.along) + 1 if card else 0,  # what Done confirms
        "cautions": _cautions(card) if card else [],
        "more_open": "leave" in request.GET or any(name.endswith("_form") for name in more),
        "last_tap": card is not None and _closes_with_next(work, card),
        "reported": cannot_go_on.reports(request.desk, work, card) if card else [],
        "held": held,
        "left_out": left_out,
        "may_take_back": staff.may_take_back(request.desk, work.entries) if left_out else set(),
        **_wait(request, at, wait),
        "passed_by": more.get("typed", {}).get(forms.PASSED_BY, ""),
        "begins": card is not None and waiting.to_begin(card),
        "mends": () if work.closed else out_of_limits.mends(work),
        "built_since": since if (since := built_since(work)) and since.jobs_gone else None,
        "unanswered": work.state.unanswered,
        "groups": _groups(request, card, more) if card else [],
        "unproven": _figures_to_prove(card) if card else [],
        "fields": _fields(
            request, card, more.get("typed", {}), more.get("problem", {}), at.course.plan
        )
        if card
        else [],
        **_fluids(work, card, more),
        "codes": codes_of(work) if card and concerns_codes(work.book, card.step) else None,
        **_waiting(at, offer),
        "number": numbers.get(card.id, "") if card else "",
        "of": len(at.course.plan.answer.steps) if at.course.plan else 0,
        "others": _others(at, numbers),
        "next_torque": _next_torque(at, numbers),
        "spare": _spare(at),
        "offer": offer,
        "open": _open(work, safety),
        "open_safety": len(safety),
        "figures_to_come": to_come(work),
        "findings": [found for found in work.state.findings if not found.settled],
        **forms.fresh(work, jobs),
        **more,
    }
    return show(
        request, "bench/page.html", context, faulty=bool(more.get("problem") or more.get("refused"))
    )


def jobs_of_card(at: Bench) -> tuple[tuple[str, str], ...]:
    """The jobs taken on that the card in hand is for, by id and words: its own, else those that need its access."""
    work, card = at.work, at.card
    if card is None:
        return ()
    jobs = [card.job] if card.job else jobs_served(work, at.course.plan, card.id)
    every = work.book.jobs
    return tuple((job, every[job].text) for job in jobs if job in every and job in work.state.taken)


# ---------------------------------------------------------------- parts


def _chosen(work: Work, chosen: str, planned: Card | None, to_come: Card | None) -> Card:
    """The chosen card; out of its turn it takes no access steps along, for they may serve others first."""
    if chosen not in work.steps:
        raise Http404(_("the service book has no such step"))
    card = planned or card_of(work, chosen)
    if card is to_come:
        return card
    alone = replace(card, along=())
    return replace(alone, warnings=tuple(not_ready(work, alone)))


def _closes_with_next(work: Work, card: Card) -> bool:
    """Whether the next mark is all that is left on the card: the tap confirms the rest of it, too."""
    to_come = any(group.round and group.round < group.rounds for group in card.fasteners)
    unread = any(shown.left for shown in card.readings)
    return card.loose == 1 and not (to_come or unread or cannot_go_on.reported(work, card))


def _groups(request: DeskRequest, card: Card, more: dict[str, Any]) -> list[tools.FastenerGroup]:
    if not card.fasteners:
        return []
    said = more.get("typed") or request.GET.dict()
    return tools.groups(shelf(request.desk.shop), card, said, more.get("problem", {}))


def _fluids(work: Work, card: Card | None, more: dict[str, Any]) -> dict[str, Any]:
    """The bottles and waste containers of a card; of one that waits they were told when it began."""
    if card is None or waiting.wait_of(work, card):
        return {}
    said, problem = more.get("typed") or {}, more.get("problem", {})
    said = said.dict() if hasattr(said, "dict") else said
    return {
        "fitted": work.state.shims.get(card.id),
        "pours": bottles.pours(work, card, said, problem),
        "drains": bottles.draining(work, card, said, problem),
    }


def _wait(request: DeskRequest, at: Bench, wait: Wait | None) -> dict[str, Any]:
    """The wait of the card in hand; where nothing is left to do beside it, the other machines in the shop."""
    if wait is None:
        return {"wait": None}
    alone = bool(wait.left) and at.card is at.next
    there = request.desk.all(VisitSummary).filter(handed_back_at=None).exclude(visit=wait.visit)
    return {
        "wait": wait,
        "begun_by": who(request.desk).get(wait.by, ""),
        "alone": alone,
        "elsewhere": list(there.select_related("machine")[:3]) if alone else [],
    }


def _cautions(card: Card) -> list[str]:
    """The cautions of the card and of the access steps ahead of it, each once; what several end with, once at last."""
    every = dict.fromkeys(text for one in (*card.along, card) for text in one.cautions)
    said = [re.split(r"(?<=[.]) ", text) for text in every]
    kept = [
        " ".join(one for one in sentences if not any(one in later for later in said[place + 1 :]))
        for place, sentences in enumerate(said)
    ]
    return [text for text in kept if text]


def _figures_to_prove(card: Card) -> list[FigureShown]:
    """The figures this card works by, those that want a value or a source first."""
    figures = [*card.figures, *(group.figure for group in card.fasteners if group.figure)]
    every = {figure.id: figure for figure in figures}
    return sorted(
        every.values(), key=lambda figure: ("missing", "unproven", "proven").index(figure.state)
    )


def _fields(
    request: DeskRequest,
    card: Card,
    typed: Any,
    problem: dict[str, str],
    plan: Planned | None,
) -> list[dict[str, Any]]:
    """A field per reading and repeat, with what was typed and what is wrong with it.

    What only waiting shows is read when the wait is over; all else when it begins, and is not asked again.
    """
    if waiting.to_begin(card) and card.step.shown_by_waiting:
        return []
    told = () if card.step.shown_by_waiting or waiting.to_begin(card) else card.readings
    let = any(one.let_be for shown in card.readings for one in shown.taken)
    names = who(request.desk) if let else {}
    return [
        {
            "name": field_of(shown.id, place),
            "again": VOUCH + field_of(shown.id, place),
            "unread": UNREAD + field_of(shown.id, place),
            "why": next((one.because for one in shown.unread if one.index == place), ""),
            "shown": shown,
            "place": place if shown.reading.repeat > 1 else 0,
            "typed": typed.get(field_of(shown.id, place), ""),
            "fault": problem.get(field_of(shown.id, place), ""),
            "taken": (last := shown.last(place)) and last[0],
            "verdict": last and last[1],
            "decides": branches.to_come(card.work, plan, card.id, shown.id)
            if place == 1 and not shown.taken
            else [],
            "take_as": branches.take_as(card.work, card.id, shown.id)
            if request.desk.may("bench-skip")
            else [],
            "take": TAKEN + field_of(shown.id, place),
            "let_be": names.get(last[0].let_be, "") if last else "",
        }
        for shown in card.readings
        for place in range(1, shown.reading.repeat + 1)
        if not (shown in told and card.step.unattended and place not in shown.left)
    ]


def _numbers(at: Bench) -> dict[str, str]:
    """The cards by the numbers that their steps have on the page of the order."""
    steps = at.course.plan.answer.steps if at.course.plan else ()
    place = {(step.name, step.start): str(n) for n, step in enumerate(steps, 1)}
    planned = (card.planned for card in at.cards if card.planned)
    return {one.name: place[one.name, one.start] for one in reversed([*planned])}


def _others(at: Bench, numbers: Mapping[str, str]) -> list[SafeString]:
    """The other cards of the order, each with its number there and the figure of its next fastener."""
    others = (one for one in at.cards if at.card is None or one.id != at.card.id)
    here = reverse("bench", args=[at.work.visit.pk])
    return [
        line(
            one.step.text,
            one.job_words or ", ".join(one.serves),
            bench=here,
            card=one.id,
            nr=numbers.get(one.id, ""),
            state=torque_words(one.to_tighten),
        )
        for one in others
    ]


def _next_torque(at: Bench, numbers: Mapping[str, str]) -> tuple[str, str] | None:
    """The card of the next torque after what is in hand now, and what is made tight there, to what, at which step.

    A further torque of the card in hand comes first.
    """
    for one in (at.card, *(card for card in at.cards if at.card is None or card.id != at.card.id)):
        if one is None:
            continue
        groups = one.to_tighten[1:] if one is at.card else one.to_tighten
        if not groups:
            continue
        said = _("{fastener}, {torque}, step {number}")
        if one is at.card:
            said = _("{fastener}, {torque}, on this card")
        elif one.id not in numbers:
            said = "{fastener}, {torque}"
        torque = torque_words(groups).replace(" ", "\N{NO-BREAK SPACE}")
        words = said.format(
            fastener=groups[0].fastener.text, torque=torque, number=numbers.get(one.id, "")
        )
        return one.id, words
    return None


def _spare(at: Bench) -> list[SafeString]:
    """Steps that are no cards of the order: what rides along, what was done, what changes what stands in the way."""
    work, in_order = at.work, {card.id for card in at.cards}
    frees = () if at.course.fits else steps_that_free(work.book, work.state, at.course.left)
    ids = dict.fromkeys([*(step.name for step in at.course.left), *work.state.steps, *frees])
    spare = [card_of(work, name) for name in ids if name not in in_order and name in work.steps]
    spare += [card for card in beyond_book.to_open_again(work) if card.id not in ids]
    here = reverse("bench", args=[work.visit.pk])
    return [
        line(card.step.text, card.stands, bench=here, card=card.id, proven=card.stands == "done")
        for card in spare
    ]


def _open(work: Work, safety: set[str]) -> list[SafeString]:
    """What is open, things that concern safety first, lines of one thing together; counted as on every other page."""
    every = things(work.state.items.values())
    every.sort(key=lambda thing: (thing[0].id not in safety, min(one.words for one in thing)))
    here = reverse("bench", args=[work.visit.pk])
    return [
        line(
            item.words,
            item.where,
            bench=here,
            card=item.closed_by[0] if item.closed_by else "",
            state=_("safety") if item.id in safety else "",
        )
        for thing in every
        for item in sorted(thing, key=lambda one: one.words)
    ]


def _waiting(at: Bench, offer: Mapping[str, Any] | None) -> dict[str, Any]:
    """The steps reported that have no answer yet, by id and words; how the machine stays until then; what of the open
    waits with them; and what no card closes.
    """
    made = offer["plan"] if offer else at.course.plan
    waits = stuck(at.work.book, at.work.state, to_do(at.work))
    stays, with_it = _stays_open(at, made, waits)
    return {
        "failed": [
            (one.step, at.work.steps[one.step].text)
            for one in unanswered(at.work.state)
            if one.step in at.work.steps and not at.work.closed
        ],
        "held_up": [] if at.work.closed else held_up(at.work),
        "stays_so": stays_so(at.work, made),
        "stays_open": stays,
        "waits_with_it": with_it,
    }


def _stays_open(
    at: Bench, made: Planned | None, waits: set[str]
) -> tuple[list[tuple[str, str, str]], list[str]]:
    """What neither the order, nor the one offered in its place, nor a card beside it closes: what, the step that
    does, and the words of that; and in words alone what a step that waits for an answer closes.
    """
    if at.course.plan is None or made is None or at.work.closed:
        return [], []
    order = at.course.left if made is at.course.plan else made.answer.steps
    every = [one for card in at.cards if card.planned is None for one in (*card.along, card)]
    found: dict[str, list[str]] = {}
    with_it: list[str] = []
    for item in cannot_go_on.stays_open(
        at.work, {*(s.name for s in order), *(one.id for one in every)}
    ):
        if waits & {*item.closed_by}:
            with_it.append(item.words)
            continue
        found.setdefault(next((s for s in item.closed_by if s in at.work.steps), ""), []).append(
            item.words
        )
    return [
        (" · ".join(words), name, at.work.steps[name].text if name else "")
        for name, words in found.items()
    ], with_it


def _offer(at: Bench) -> dict[str, Any] | None:
    """A new order, where the old one no longer fits, and why; else what stands in the way and frees it."""
    if at.course.fits or at.work.closed or not (at.work.state.plan or to_do(at.work)):
        return None
    made = new_order(at.work)
    told = {
        "why": at.course.misfits,
        "plan": made,
        "old": at.course.plan is not None,
        "attended": lasting(made.answer.attended_minutes or 0),
        "finish": lasting(made.answer.finish_minutes or 0),
        "empty": made.possible and not made.answer.steps,
    }
    if made.possible:
        return told | {"again": cannot_go_on.again(at.work, made)}
    return told | {
        "conflict": cannot_go_on.conflict(at.work, made),
        "frees": list(cannot_go_on.frees(at.work, made)),
    }
