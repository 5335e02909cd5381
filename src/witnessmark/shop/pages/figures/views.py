"""The figures that the cards of a visit work by: all of them, and one at a time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from witnessmark.book.figures import FigureUse, figure_state, holds_lives
from witnessmark.shop.models import PhotoKept
from witnessmark.shop.pages.figures.forms import FigureForm
from witnessmark.shop.responses import back_or, show
from witnessmark.shop.scope import Desk, DeskRequest
from witnessmark.shop.work import figures_wanted as wanted
from witnessmark.shop.work.figure_from_manual import VOUCH
from witnessmark.shop.work.figure_looks import looks_at, understood
from witnessmark.shop.work.visit import Work, who, work_of


@dataclass(frozen=True)
class FigureLine:
    """One of the figures wanted, as the list shows it."""

    number: int
    use: FigureUse
    for_: tuple[str, ...]
    seen_by: str  # who confirmed it
    grave: bool  # somebody can be hurt where it is wrong

    @property
    def state(self) -> str:
        """missing, unproven or proven."""
        return figure_state(self.use.figure)


@dataclass(frozen=True)
class At:
    """A figure of the visit in hand, its place among those wanted (0: it is none of them), and the one after it."""

    work: Work
    name: str
    uses: list[FigureUse]

    @property
    def place(self) -> int:
        """1 for the first."""
        return next((n for n, use in enumerate(self.uses, 1) if use.id == self.name), 0)

    @property
    def after(self) -> str:
        """The next one that is still to come; empty where none is."""
        later = self.uses[self.place :] if self.place else []
        return next((use.id for use in later if figure_state(use.figure) != "proven"), "")

    @property
    def others_to_come(self) -> bool:
        """Whether another one is still to come."""
        return any(figure_state(u.figure) != "proven" for u in self.uses if u.id != self.name)


@require_GET
def figures(request: DeskRequest, visit: UUID) -> HttpResponse:
    """All the figures wanted, in the order of the cards."""
    work = work_of(request.desk, visit)
    names, uses = who(request.desk), wanted.figures_wanted(work)
    lines = [
        FigureLine(
            number,
            use,
            tuple(wanted.steps_in_words(work, use)),
            (wanted.seen_twice(work, use.id, names) or ("",))[0],
            holds_lives(work.book, use.id),
        )
        for number, use in enumerate(uses, 1)
    ]
    context = {
        "visit": work.visit,
        "work": work,
        "lines": lines,
        "to_come": [line for line in lines if line.state != "proven"],
        "carried": carried(request),
        "back": back_or(request, ""),
        "booked": bool(work.state.taken),
    }
    return show(request, "figures/all.html", context)


@require_GET
def figure(request: DeskRequest, visit: UUID, figure: str) -> HttpResponse:
    """One figure: what is known of it, and the form to type it in."""
    return page(request, at(request.desk, visit, figure))


@require_GET
def look(request: DeskRequest, visit: UUID, figure: str) -> HttpResponse:
    """How a figure looks as it is typed: what was understood, and what speaks against it. Writes nothing."""
    one = at(request.desk, visit, figure)
    form = form_of(request, one, request.GET)
    typed = form.typed()
    context = {
        "looks": looks_at(one.work.book, figure, typed),
        "understood": understood(one.work.book, figure, typed),
        "field": "vouched",
        "word": request.GET.get("vouched", "")[:400],
        "label": VOUCH,
    }
    return show(request, "parts/figure_look.html", context)


def at(desk: Desk, visit: UUID, name: str) -> At:
    """The figure at this address. Http404 for one that the visit's book does not have."""
    work = work_of(desk, visit)
    if name not in work.book.figures:
        raise Http404(_("the service book has no such figure"))
    return At(work, name, wanted.figures_wanted(work))


def form_of(request: DeskRequest, one: At, data: Any = None, initial: Any = None) -> FigureForm:
    """The form of a figure, with what is remembered in it."""
    look_path = reverse("figure-look", args=[one.work.visit.pk, one.name])
    return FigureForm(
        data,
        request.FILES if data is not None and request.method == "POST" else None,
        initial=initial or _remembered(request, one),
        desk=request.desk,
        book=one.work.book,
        name=one.name,
        look_path=look_path,
    )


def page(
    request: DeskRequest, one: At, form: FigureForm | None = None, refused: str = ""
) -> HttpResponse:
    """The page, with what was typed and what is wrong with it."""
    work, name, desk = one.work, one.name, request.desk
    about = work.book.figures[name]
    state = figure_state(about)
    use = next((use for use in one.uses if use.id == name), None)
    form = form or form_of(request, one)
    grave = holds_lives(work.book, name)
    context: dict[str, Any] = {
        "visit": work.visit,
        "work": work,
        "at": one,
        "name": name,
        "about": about,
        "state": state,
        "for": list(wanted.steps_in_words(work, use)) if use else [],
        "form": form,
        "looks": looks_at(work.book, name, form.typed()) if form.is_bound else [],
        "first": [form[key] for key in form.asked],
        "more": [form[key] for key in form.more],
        "ranged": "value" in form.more,
        "faulty_more": any(form[key].errors or form[key].value() for key in form.more)
        or len([key for key in form.asked if form[key].errors]) == 1 < len(form.asked),
        "photo": _photo(desk, about.photo or ""),
        "photo_sent": bool(form["kept"].value()),
        "offers": [] if work.closed or state == "proven" else wanted.offers(desk, work, name),
        "grave": grave,
        "seen": wanted.seen_twice(work, name, who(desk)),
        "may_confirm": grave and not wanted.typed_it(desk, work, name),
        "typed_by": wanted.typed_by(desk, work, name),
        "carried": carried(request),
        "skip": onward(request, one),
        "refused": refused,
    }
    return show(request, "figures/one.html", context, faulty=bool(refused) or form.is_bound)


def carried(request: HttpRequest) -> str:
    """What of the address goes along: where the page leads back to, and whether after this figure alone."""
    said = {key: request.GET[key] for key in ("back", "only") if request.GET.get(key)}
    return f"?{urlencode(said)}" if said else ""


def onward(request: HttpRequest, one: At, *, done: bool = False) -> str:
    """Where it goes on: the next figure to come; at the end the page that led here, or the list of what is open."""
    every = reverse("figures", args=[one.work.visit.pk]) + carried(request)
    if request.GET.get("only"):
        return back_or(request, every)
    if one.after:
        return reverse("figure", args=[one.work.visit.pk, one.after]) + carried(request)
    return back_or(request, every) if done and not one.others_to_come else every


def _remembered(request: DeskRequest, one: At) -> dict[str, str]:
    """What stands in the form: the figure as it is, the unit and document used last."""
    about = one.work.book.figures[one.name]
    first = {key: getattr(about, key) or "" for key in ("value", "low", "high", "tolerance")}
    document, number = wanted.document_for(one.work), ""
    if figure_state(about) == "proven":
        document, number = wanted.parts_of_source(about.source or "")
    if about.quantity != "words":
        first["unit"] = wanted.unit_for(one.work, one.name, request.desk.units)  # type: ignore[arg-type]
    return first | {"document": document, "page": number}


def _photo(desk: Desk, sha256: str) -> PhotoKept | None:
    row: PhotoKept | None = desk.all(PhotoKept).filter(sha256=sha256, erased_on=None).first()
    return row
