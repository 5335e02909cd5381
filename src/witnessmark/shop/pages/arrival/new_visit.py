"""The door: which machine comes in, and the one form that takes it in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import BadRequest
from django.db import transaction
from django.http import HttpResponse, QueryDict
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from witnessmark.book.model import Book
from witnessmark.shop import content_store, store
from witnessmark.shop.models import Machine, Owner, PhotoKept, StoredBook
from witnessmark.shop.pages.arrival import half_typed
from witnessmark.shop.pages.arrival.forms import ArrivalForm
from witnessmark.shop.pages.arrival.known import KnownRows, known_rows
from witnessmark.shop.responses import SeeOther, done, show
from witnessmark.shop.scope import Desk, DeskRequest
from witnessmark.shop.work import arriving
from witnessmark.shop.work.arrival_look import unsafe_in
from witnessmark.shop.work.forms import MachineForm, OwnerForm
from witnessmark.shop.work.machine_history import odometer_history
from witnessmark.shop.work.search import machines_by

MOST_SHOWN = 40
NO_BOOK = "none"


@dataclass
class Sheet:
    """Everything the form of the door holds."""

    said: QueryDict  # what the address, the form sent or the one half typed says
    machine: Machine
    book: Book | None
    machine_form: MachineForm | None  # of a machine that was never here
    owner_form: OwnerForm | None  # where no owner is known
    form: ArrivalForm
    known: KnownRows | None

    def valid(self) -> bool:
        """Whether all of it can be used; every part says what is wrong with it."""
        parts = [self.machine_form, self.owner_form, self.form, self.known]
        sound = not [part for part in parts if part is not None and not part.is_valid()]
        odometer = self.form.cleaned_data.get("odometer")
        if self.known is not None and odometer is not None:
            sound = self.known.not_beyond(odometer.value) and sound
        return sound


@require_http_methods(["GET", "POST"])
def arrive(request: DeskRequest) -> HttpResponse:
    """Choose a machine, then write down how it comes in."""
    if request.method == "POST":
        return _taken_in(request)
    said = _said(request)
    chosen = _chosen(request.desk, said)
    if chosen is None:
        return _choice(request)
    return _page(request, _sheet(request, chosen, said))


def _said(request: DeskRequest) -> QueryDict:
    """What an address says: with ``half``, what was left half typed, and the book made for it."""
    said, half = request.GET, request.GET.get("half", "")
    if not half:
        return said
    typed = half_typed.again(request, half)
    if typed is None:
        gone = _(
            "What was half typed is not here any more. It stays on the device where it was typed, "
            "until one signs out there or three others were begun."
        )
        messages.error(request, gone)
        return said
    typed["half"] = half
    if said.get("book"):
        typed["book"] = said["book"]
    return typed


def _choice(request: DeskRequest) -> HttpResponse:
    words = request.GET.get("q", "").strip()[:80]
    rows = list(machines_by(request.desk, words)[: MOST_SHOWN + 1])
    found = arriving.those_here(request.desk, rows[:MOST_SHOWN])
    return show(request, "arrival/choose.html", {
        "q": words,
        "found": found,
        "more": len(rows) > MOST_SHOWN,
        "half": half_typed.names(request).items(),
        "books": request.desk.all(StoredBook),
    })  # fmt: skip


def _chosen(desk: Desk, said: Mapping[str, str], key: UUID | None = None) -> Machine | None:
    """The machine named by `machine`, or a new one; of the model that `book` names, where it has none."""
    book = said.get("book", "")
    if said.get("machine"):
        known = desk.get(Machine, _uuid(said["machine"]), "owner", "book__current")
        if known.book is None and book not in ("", NO_BOOK):
            known.book = desk.get(StoredBook, _uuid(book), "current")
        return known
    if not book:
        return None
    if key and (made := desk.all(Machine).filter(pk=key).first()):
        return made
    new = desk.new(Machine, **({"id": key} if key else {}))
    if book != NO_BOOK:
        new.book = desk.get(StoredBook, _uuid(book), "current")
        about = content_store.book_of(desk.shop, new.book.current.sha256).machine
        new.maker, new.model = (about.maker, about.model) if about else ("", "")
    return new


def _sheet(
    request: DeskRequest, machine: Machine, said: QueryDict, key: UUID | None = None
) -> Sheet:
    """The forms for a machine: fresh, half typed, or as posted. `key`: the id that a new machine of this form has."""
    desk = request.desk
    posted, files = (request.POST, request.FILES) if request.method == "POST" else (None, None)
    new = machine._state.adding or machine.pk == key  # noqa: SLF001 - as in forms
    book = content_store.book_of(desk.shop, machine.book.current.sha256) if machine.book else None
    nobody = new or machine.owner is None or machine.owner.erased_on or other_owner(said)
    sheet = Sheet(
        said=said,
        machine=machine,
        book=book,
        machine_form=None,
        owner_form=None,
        form=ArrivalForm(
            posted, files, desk=desk, book=book, history=[] if new else odometer_history(machine)
        ),
        known=known_rows(desk, book, posted),
    )
    if new:
        sheet.machine_form = MachineForm(posted, prefix="machine", instance=machine, desk=desk)
    if nobody:
        sheet.owner_form = OwnerForm(posted, prefix="owner", instance=desk.new(Owner), desk=desk)
    if posted is None and "half" in said:
        _begin_with(desk, sheet, said)
    return sheet


def _begin_with(desk: Desk, sheet: Sheet, typed: QueryDict) -> None:
    for form in (sheet.machine_form, sheet.owner_form, sheet.form):
        named_by_book = form is sheet.machine_form and sheet.book is not None
        if form is not None:
            half_typed.begin_with(form, typed, ("maker", "model") if named_by_book else ())
    sheet.form.kept = photos_before(desk, typed)


def other_owner(said: Mapping[str, str]) -> bool:
    """Whether the machine comes with another owner than last time."""
    return said.get("owner") == "other"


def _taken_in(request: DeskRequest) -> HttpResponse:
    desk, ticket = request.desk, store.ticket_of(request)
    key = arriving.key_of(ticket, "machine")
    machine = _chosen(desk, request.POST, key)
    if machine is None:
        return done(request, "arrive")
    sheet = _sheet(request, machine, request.POST, key)
    sound = sheet.valid()
    sheet.form.keep_photos(request.FILES.getlist("photos"), photos_before(desk, request.POST))
    if "build" in request.POST and sheet.book is None:
        return _to_the_build_sheet(request, ticket, sheet)
    if not sound or sheet.form.errors:
        return _page(request, sheet)
    try:
        with transaction.atomic():
            visit, stored = arriving.take_in(desk, ticket, _arrival(sheet, ticket))
            half_typed.drop(request, request.POST.get("half", ""))
            return done(request, "arrival", visit.pk, said=_("Taken in."), stored=stored)
    except arriving.ArrivalError as error:
        sheet.form.refuse(error)
        return _page(request, sheet)


def _to_the_build_sheet(request: DeskRequest, ticket: store.Ticket, sheet: Sheet) -> HttpResponse:
    """Leave the form half typed, say how the model is built, and come back. Nothing is taken in, so no receipt."""
    typed, machine = request.POST.copy(), sheet.machine
    typed.setlist("kept_photo", [str(photo.pk) for photo in sheet.form.kept])
    back = half_typed.keep(request, ticket.entry_id, typed)
    about = {n: typed.get(f"machine-{n}", getattr(machine, n)) for n in ("maker", "model")}
    return SeeOther(f"{reverse('book-new')}?{urlencode({'back': back} | about)}")


def _arrival(sheet: Sheet, ticket: store.Ticket) -> arriving.Arrival:
    owner = sheet.owner_form.owner() if sheet.owner_form else sheet.machine.owner
    if owner is None:
        raise BadRequest(_("a machine comes in with its owner"))
    if owner._state.adding:  # noqa: SLF001 - as in forms
        owner.pk = arriving.key_of(ticket, "owner")
    form = sheet.form
    return arriving.Arrival(
        machine=sheet.machine,
        owner=owner,
        said=form.said(),
        odometer=form.reading(),
        states=form.states(),
        unsafe=unsafe_in(form.look()),
        photos=form.kept,
        known=sheet.known.rows() if sheet.known else [],
    )


def photos_before(desk: Desk, said: QueryDict) -> list[PhotoKept]:
    """Photos that an earlier try of this form had brought, and that are still ticked."""
    keys = [_uuid(key) for key in said.getlist("kept_photo")]
    return list(desk.all(PhotoKept).filter(pk__in=keys, erased_on=None).order_by("pk"))


def _page(request: DeskRequest, sheet: Sheet) -> HttpResponse:
    known_faulty = bool(sheet.known and sheet.known.is_bound and not sheet.known.is_valid())
    return show(request, "arrival/new_visit.html", {
        "sheet": sheet,
        "form": sheet.form,
        "known": sheet.known,
        "known_faulty": known_faulty,
        "machine_form": sheet.machine_form,
        "owner_form": sheet.owner_form,
        "machine": sheet.machine,
        "chosen_book": sheet.machine.book_id or NO_BOOK,
        "half": sheet.said.get("half", ""),
        "here": arriving.here(request.desk, sheet.machine),
        "other_owner": other_owner(sheet.said),
    })  # fmt: skip


def _uuid(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        raise BadRequest(_("not an address of a row")) from None
