"""What is written of a figure: read in the manual, taken over from a sibling, confirmed by somebody else."""

from __future__ import annotations

from functools import partial
from typing import Any
from uuid import UUID

from django.core.exceptions import BadRequest
from django.http import HttpResponse, QueryDict
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from witnessmark.book.figures import figure_state, holds_lives, names_a_source
from witnessmark.book.model import Confirmed
from witnessmark.ledger.bodies import FigureSet
from witnessmark.shop import photos, store
from witnessmark.shop.forms import in_words
from witnessmark.shop.models import PhotoKept
from witnessmark.shop.pages.figures.views import At, at, form_of, onward, page
from witnessmark.shop.responses import recorded
from witnessmark.shop.scope import DeskRequest
from witnessmark.shop.work import figures_wanted as wanted
from witnessmark.shop.work.figure_from_manual import DoubtError, figure_set
from witnessmark.units import QuantityError


@require_POST
def set_figure(request: DeskRequest, visit: UUID, figure: str) -> HttpResponse:
    """A figure read in the machine's manual, with its source, and a photo of the page where one was taken."""
    one = at(request.desk, visit, figure)
    if one.work.closed:
        return _too_late(request, one)
    posted, fault = _with_photo_kept(request)
    form = form_of(request, one, posted)
    entry = form.entry()
    if fault:
        form.add_error("photo", fault)
    if entry is None or fault:
        return page(request, one, form)
    return _recorded(request, one, entry, form.cleaned_data["kept"])


@require_POST
def same(request: DeskRequest, visit: UUID, figure: str) -> HttpResponse:
    """A figure taken over from another book, with the words of where it is from."""
    one = at(request.desk, visit, figure)
    if one.work.closed:
        return _too_late(request, one)
    there = wanted.offers(request.desk, one.work, figure)
    offer = next((each for each in there if each.key == request.POST.get("from")), None)
    if offer is None:
        words = _("What you chose is no longer offered: that book was changed. Look again.")
        return page(request, one, refused=words)
    given = {key: getattr(offer.figure, key) or "" for key in ("value", "low", "high", "tolerance")}
    try:
        entry = figure_set(one.work.book, figure, given, offer.source)
    except (DoubtError, QuantityError) as error:
        form = form_of(request, one, initial=given | {"document": offer.source})
        return page(request, one, form, in_words(error))
    return _recorded(request, one, entry, offer.figure.photo or "", again=True)


@require_POST
def confirm(request: DeskRequest, visit: UUID, figure: str) -> HttpResponse:
    """Somebody who did not type it compared the figure with its source."""
    one, desk = at(request.desk, visit, figure), request.desk
    about = one.work.book.figures[figure]
    of, source = request.POST.get("of", ""), request.POST.get("source", "")
    if one.work.closed:
        return _too_late(request, one)
    if not (of and source) or not holds_lives(one.work.book, figure):
        raise BadRequest(_("This form names no figure to confirm"))
    if (of, source) != (about.written, about.source) or figure_state(about) != "proven":
        words = _("It was changed meanwhile. Compare what stands here now.")
        return page(request, one, refused=words)
    if wanted.typed_it(desk, one.work, figure):
        words = _("You typed it yourself: somebody else has to compare it.")
        return page(request, one, refused=words)
    seen = Confirmed(by=str(desk.member), on=timezone.localdate(), of=of)

    def in_book() -> None:
        if wanted.stands_in_book(one.work, figure, of):
            wanted.keep_in_book(desk, one.work, figure, {"confirmed": seen})

    body = {"figure": figure, "of": of, "source": source}
    said = _("{figure}: confirmed.").format(figure=about.text)
    acts: list[store.EntryDraft] = [("figure_confirmed", body)]
    to = onward(request, one, done=True)
    return recorded(request, one.work.visit, acts, to, said=said, beside=in_book)


# ---------------------------------------------------------------- parts


def _too_late(request: DeskRequest, one: At) -> HttpResponse:
    words = _("The machine was handed back: its record is closed. Write it into the service book.")
    return page(request, one, refused=words)


def _with_photo_kept(request: DeskRequest) -> tuple[QueryDict, str]:
    """What was sent, with the photo kept at once, so that a fault elsewhere does not lose it; what is wrong with it."""
    posted = request.POST.copy()
    file: Any = request.FILES.get("photo")
    if file:
        try:
            posted["kept"] = photos.keep(request.desk, file, file.name).sha256
        except photos.PhotoError as error:
            return posted, in_words(error)
    return posted, ""


def _recorded(
    request: DeskRequest, one: At, entry: store.EntryDraft, photo: str, *, again: bool = False
) -> HttpResponse:
    """Keep a figure on the visit, and for good in the book of the model; `again`: its photo was kept before."""
    desk, work, name = request.desk, one.work, one.name
    about = work.book.figures[name]
    kind, body = entry
    body = {**body, **({"photo": photo} if photo else {})}
    figure = FigureSet.model_validate(body)
    acts: list[store.EntryDraft] = [(kind, body)]
    if photo and not again:
        row = desk.all(PhotoKept).get(sha256=photo)
        text = f"{about.text}: {body['source']}"
        acts.append(("photo", {"sha256": photo, "media_type": row.media_type, "text": text}))
    written = wanted.written_of(figure)
    said = _("{figure}: {value}, saved.").format(figure=about.text, value=written)
    other = wanted.kept_otherwise(work, name, proven=names_a_source(body["source"]))
    if other is not None and other.written != written:
        words = _("For this visit alone: the service book has {value}, {source}, and keeps it.")
        said = f"{said} {words.format(value=other.written, source=other.source)}"
    entries = wanted.in_book(figure, str(desk.member), timezone.localdate())
    beside = None if other else partial(wanted.keep_in_book, desk, work, name, entries)
    to = onward(request, one, done=names_a_source(body["source"]))
    return recorded(request, work.visit, acts, to, said=said, beside=beside)
