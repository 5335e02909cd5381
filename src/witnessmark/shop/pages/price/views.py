"""The price: what can be offered, what waits for the owner's answer, what was agreed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from witnessmark.book.figures import figure_state
from witnessmark.errors import WitnessError
from witnessmark.money import Estimate
from witnessmark.shop.dates import moment_text
from witnessmark.shop.forms import in_words
from witnessmark.shop.models import Owner, StockPack
from witnessmark.shop.pages.price.brought import may_be_brought
from witnessmark.shop.pages.price.forms import LimitForm, SaidForm
from witnessmark.shop.pages.price.totals import LineShown, PriceView, begun, shown
from witnessmark.shop.responses import planning_page, show
from witnessmark.shop.scope import Desk, DeskRequest
from witnessmark.shop.work import pricing
from witnessmark.shop.work.figures_wanted import to_come
from witnessmark.shop.work.left import left_for_later
from witnessmark.shop.work.visit import Work, who, work_of

VERDICT = "answer-"  # fields of the form: answer-<line>


@dataclass(frozen=True)
class Revision:
    """An estimate that was offered, and when."""

    estimate: Estimate
    sha256: str
    number: int  # 1, 2, … in the order they were offered
    when: str
    offered: int  # how many of its lines were put to the owner
    open: int  # how many of these have no answer


@require_GET
def price(request: DeskRequest, visit: UUID) -> HttpResponse:
    """What is new is offered first; else what waits is answered."""
    work = work_of(request.desk, visit)
    totals = PriceView(work)
    if totals.must_plan and "now" not in request.GET:
        return planning_page(request, work.visit, "price", "now=1")
    return page(request, totals, mode=request.GET.get("mode", ""))


@require_GET
def rest(request: DeskRequest, visit: UUID) -> HttpResponse:
    """What the rest would cost without the lines answered no: a part of the page."""
    work = work_of(request.desk, visit)
    totals = PriceView(work)
    noes = totals.planned(noes_in(verdicts(request)))
    context: dict[str, Any] = {"visit": work.visit, "currency": work.visit.shop.currency}
    try:
        context["rest"] = totals.rest(noes) if noes else None
    except WitnessError as error:
        context["fault"] = in_words(error)
    return show(request, "price/rest.html", context)


@require_GET
def estimate(request: DeskRequest, visit: UUID, sha256: str) -> HttpResponse:
    """An estimate as it was offered on this visit."""
    work = work_of(request.desk, visit)
    found = next((one for one in revisions(work) if one.sha256 == sha256), None)
    if found is None:
        raise Http404(_("no such estimate was offered on this visit"))
    made = found.estimate
    lines = [shown(work, made, line.id) for line in made.lines]
    context = {"visit": work.visit, "one": found, "estimate": made, "lines": lines}
    return show(request, "price/estimate.html", context)


def page(request: DeskRequest, totals: PriceView, *, mode: str = "", **more: Any) -> HttpResponse:
    """The page, with what was typed and what is wrong with it."""
    work = totals.work
    asked: dict[str, Any] = {"desk": request.desk, "work": work}
    made = totals.estimate
    names = who(request.desk)
    context: dict[str, Any] = {
        "visit": work.visit,
        "work": work,
        "money": totals,
        "currency": work.visit.shop.currency,
        "mode": _mode(totals, mode),
        "draft": list(totals.draft_lines()),
        "estimate": made,
        "unpriced": list(unpriced(request, totals)),
        "untaxed": work.visit.shop.untaxed,
        "at_most": pricing.at_most(work, made) if made and totals.agreed else None,
        "waiting": totals.waiting_lines(verdicts(request)),
        "agreed": _with_words(request.desk, totals.agreed_lines()),
        "declined": _with_words(request.desk, totals.declined_lines()),
        "begun": begun(work),
        "brought": may_be_brought(work),
        "left": [
            (one, names.get(one.author, "")) for one in left_for_later(work) if not one.declined
        ],
        "own": [(n, line) for n, line in work.state.lines.items() if n not in work.state.agreed],
        "revisions": revisions(work),
        "figures_to_come": to_come(work),
        "changing": None,
        "said_form": SaidForm(**asked),
        "change_form": SaidForm(auto_id="change_%s", **asked),
        "limit_form": LimitForm(prefix="limit", **asked),
        **more,
    }
    return show(request, "price/page.html", context, faulty=bool(more))


@dataclass(frozen=True)
class Unpriced:
    """What has no price, in words; where that is entered, and what is entered there."""

    words: str
    address: str
    act: str


def unpriced(request: DeskRequest, totals: PriceView) -> Iterator[Unpriced]:
    """What has no price, with the address of the very field where it is entered, and back here."""
    work, desk = totals.work, request.desk
    back = urlencode({"back": request.path})
    lines = totals.estimate.lines if totals.estimate else ()
    bare = [(line, item) for line in lines for item in line.bare]
    parts = {
        item.name: 1 for line, item in bare if item.kind == "part" and not _repair(work, line.id)
    }
    wanted = urlencode({"back": request.path, "for": [*parts]}, doseq=True)
    for line, item in bare:
        words, act = f"{line.text}: {item.text}", _("Enter the price")
        address = _repair(work, line.id) if item.kind == "part" else ""
        if item.kind == "fluid" and (volume := _volume_to_come(work, item.name)):
            words = _("{fluid}: not known yet how much goes in").format(fluid=words)
            act = _("Enter how much goes in")
            if desk.may("figure-set"):
                figure = reverse("figure", args=[work.visit.pk, volume])
                address = f"{figure}?only=1&{back}"
        elif (
            item.kind == "part"
            and item.name
            and not address
            and desk.may("prices-book")
            and work.machine.book_id
        ):
            book = reverse("prices-book", args=[work.machine.book_id])
            address = f"{book}?{wanted}#id_{item.name}"
        elif item.kind == "fluid" and desk.may("pack-new"):
            address = _pack(desk, work, item.name, back)
        yield Unpriced(words, address, act)


def _volume_to_come(work: Work, fluid: str) -> str:
    """The figure that says how much of a fluid goes in, where it has no value; else empty."""
    for use in to_come(work):
        steps = [work.steps[one] for one in use.where if one in work.steps]
        fills = any(fluid in step.fluids and step.fluids[fluid].figure == use.id for step in steps)
        if fills and figure_state(use.figure) == "missing":
            return use.id
    return ""


def _repair(work: Work, line: str) -> str:
    """The repair of a line, where its own parts have their prices; empty for a job of the book."""
    return (
        f"{reverse('repair', args=[work.visit.pk])}?of={line}" if line in work.state.repairs else ""
    )


def _pack(desk: Desk, work: Work, fluid: str, back: str) -> str:
    """The pack of a fluid that lacks its price, or a new one where none is on the shelf."""
    family = work.book.fluids[fluid].family
    rows = desk.all(StockPack).filter(price_minor=None)
    row = rows.filter(fluid=fluid).first() or rows.filter(family=family).first()
    if row is not None:
        return f"{reverse('pack', args=[row.pk])}?{back}#id_price_minor"
    return f"{reverse('pack-new')}?{urlencode({'holds': f'{family}/{fluid}'})}&{back}"


def verdicts(request: HttpRequest) -> dict[str, str]:
    """The yes and no of each line on the page."""
    sent = request.POST or request.GET
    return {
        name.removeprefix(VERDICT): verdict
        for name, verdict in sent.items()
        if name.startswith(VERDICT) and verdict in {"yes", "no"}
    }


def noes_in(said: dict[str, str]) -> list[str]:
    """The lines answered no."""
    return [name for name, verdict in said.items() if verdict == "no"]


def revisions(work: Work) -> list[Revision]:
    """The estimates offered, newest first."""
    at = {line.entry: line.at for line in work.state.history}
    return [
        Revision(
            pricing.estimate_kept(work.visit.shop, offer.estimate),
            offer.estimate,
            number,
            _when(at[offer.entry]),
            len(offer.lines),
            len(offer.unanswered),
        )
        for number, offer in reversed([*enumerate(work.state.offers, start=1)])
    ]


def _mode(totals: PriceView, asked: str) -> str:
    if totals.work.closed:
        return "settled"
    if asked == "answer" and totals.waiting:
        return "answer"
    if totals.new or totals.fault:
        return "offer"
    return "answer" if totals.waiting else "settled"


def _with_words(desk: Desk, lines: Iterable[LineShown]) -> list[LineShown]:
    """Who said what was said, how and when."""
    every = list(lines)
    by = {line.answer.by for line in every if line.answer}
    people = {str(row.pk): str(row) for row in desk.all(Owner).filter(pk__in=by)}
    return [
        replace(
            line,
            number=number,
            said=f"{people.get(a.by) or _('the owner')}, {_(a.how)}, {_when(a.at)}",
        )
        if (a := line.answer)
        else line
        for number, line in enumerate(every, start=1)
    ]


def _when(at: str) -> str:
    return moment_text(datetime.fromisoformat(at))
