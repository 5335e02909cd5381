"""The bench: the card in hand, the cards beside it, what is open."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any
from uuid import UUID

from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_GET

from witnessmark.shop.answers import show
from witnessmark.shop.pages.bench import forms, tools
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import bottles, releasing, staff
from witnessmark.shop.work.cards import Card, FigureShown, card_of, cards, not_ready
from witnessmark.shop.work.codes import codes_of, concerns_codes
from witnessmark.shop.work.course import Course, course_of, new_order
from witnessmark.shop.work.evidence import field_of
from witnessmark.shop.work.visit import Work, who, work_with_book
from witnessmark.shop.work.wrenches import shelf


@dataclass(frozen=True)
class Bench:
    """Everything the page shows."""

    work: Work
    course: Course
    cards: list[Card]
    card: Card | None  # in hand
    asked: bool  # chosen by hand, not the next in order


@require_GET
def bench(request: DeskRequest, visit: UUID) -> HttpResponse:
    """The next card of the order, or the one chosen by `?card=`."""
    at = bench_of(work_with_book(request.desk, visit), request.GET.get("card", ""))
    return page(request, at)


def bench_of(work: Work, chosen: str = "") -> Bench:
    """Read the bench; `chosen` is the id of a step. Http404 for one the book does not have."""
    course = course_of(work)
    in_order = cards(work, course.left)
    if not chosen:
        first = _warned(work, in_order[0]) if in_order else None
        return Bench(work, course, in_order, first, asked=False)
    planned = next((card for card in in_order if card.id == chosen), None)
    asked = planned is None or planned is not in_order[0]
    card = _warned(work, _chosen(work, chosen, planned, in_order))
    return Bench(work, course, in_order, card, asked=asked)


def page(request: DeskRequest, at: Bench, **more: Any) -> HttpResponse:
    """The page, with forms that came back with faults in place of fresh ones."""
    work, card = at.work, at.card
    context: dict[str, Any] = {
        "at": at,
        "visit": work.visit,
        "card": card,
        "last": (last := _last(work)),
        "may_undo": last and last.entry in staff.may_take_back(request.desk, work.entries),
        "held": releasing.holds(work, card.id) if card else (),
        "names": who(request.desk),
        "groups": _groups(request, card, more) if card else [],
        "unproven": _figures_to_prove(card) if card else [],
        "fields": _fields(card, more.get("typed", {}), more.get("wrong", {})) if card else [],
        **_fluids(work, card, more),
        "codes": codes_of(work) if card and concerns_codes(work.book, card.step) else None,
        "others": [other for other in at.cards if card is None or other.id != card.id],
        "spare": _spare(at),
        "offer": _offer(at),
        "open": sorted(work.state.items.values(), key=lambda item: (not item.safety, item.words)),
        "findings": [found for found in work.state.findings if not found.settled],
        **forms.fresh(work, card),
        **more,
    }
    return show(
        request, "bench/page.html", context, faulty=bool(more.get("wrong") or more.get("refused"))
    )


def address(work: Work, card: str = "", kept: Mapping[str, str] | None = None) -> str:
    """The bench, at a card; `kept`: the wrench chosen on it."""
    path = reverse("bench", args=[work.visit.pk])
    query = ({"card": card} if card else {}) | dict(kept or {})
    return f"{path}?{urlencode(query)}" if query else path


# ---------------------------------------------------------------- parts


def _warned(work: Work, card: Card) -> Card:
    """The card, with why the engine should not be started where it would be."""
    starts = any(one.step.gate == "starter" for one in (*card.along, card))
    if not starts or card.over:
        return card
    waits = [f"not to be started: {words}" for words in releasing.verdict(work, "starter").words]
    return replace(card, warnings=(*card.warnings, *waits))


def _chosen(work: Work, chosen: str, planned: Card | None, in_order: list[Card]) -> Card:
    """The chosen card; out of its turn it takes no access steps along, for they may serve others first."""
    if chosen not in work.steps:
        raise Http404("the service book has no such step")
    card = planned or card_of(work, chosen)
    if in_order and card is in_order[0]:
        return card
    alone = replace(card, along=())
    return replace(alone, warnings=tuple(not_ready(work, alone)))


def _groups(request: DeskRequest, card: Card, more: dict[str, Any]) -> list[tools.Group]:
    said = more.get("typed") or request.GET.dict()
    return tools.groups(shelf(request.desk.shop), card, said, more.get("wrong", {}))


def _fluids(work: Work, card: Card | None, more: dict[str, Any]) -> dict[str, Any]:
    """The bottles and waste containers of a card."""
    if card is None:
        return {}
    said, wrong = more.get("typed") or {}, more.get("wrong", {})
    said = said.dict() if hasattr(said, "dict") else said
    return {
        "fitted": work.state.shims.get(card.id),
        "pours": bottles.pours(work, card, said, wrong),
        "drains": bottles.draining(work, card, said, wrong),
    }


def _last(work: Work) -> Any:
    """The newest thing that happened and still counts."""
    return next(
        (
            line
            for line in reversed(work.state.history)
            if not line.undone and line.kind != "corrected"
        ),
        None,
    )


def _figures_to_prove(card: Card) -> list[FigureShown]:
    """The figures this card works by, those that want a value or a source first."""
    figures = [*card.figures, *(group.figure for group in card.fasteners if group.figure)]
    every = {figure.id: figure for figure in figures}
    return sorted(
        every.values(), key=lambda figure: ("missing", "unproven", "proven").index(figure.state)
    )


def _fields(card: Card, typed: Any, wrong: dict[str, str]) -> list[dict[str, Any]]:
    """A field per reading and repeat, with what was typed and what is wrong with it."""
    return [
        {
            "name": field_of(shown.id, place),
            "shown": shown,
            "place": place if shown.reading.repeat > 1 else 0,
            "typed": typed.get(field_of(shown.id, place), ""),
            "fault": wrong.get(field_of(shown.id, place), ""),
            "taken": (last := shown.last(place)) and last[0],
            "verdict": last and last[1],
        }
        for shown in card.readings
        for place in range(1, shown.reading.repeat + 1)
    ]


def _spare(at: Bench) -> list[Card]:
    """Steps that are not cards of the order: access steps that ride along, and what was done before."""
    in_order = {card.id for card in at.cards}
    ids = dict.fromkeys([step.name for step in at.course.left] + list(at.work.state.steps))
    return [
        card_of(at.work, name) for name in ids if name not in in_order and name in at.work.steps
    ]


def _offer(at: Bench) -> dict[str, Any] | None:
    """A new order, where the old one no longer fits; in words why, and what it would take."""
    if at.course.fits or at.work.closed:
        return None
    made = new_order(at.work)
    return {
        "why": at.course.misfits,
        "possible": made.possible,
        "plan": made,
        "old": at.course.plan is not None,
    }
