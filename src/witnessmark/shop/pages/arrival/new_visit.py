"""The door: which machine comes in, and the one form that takes it in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from uuid import UUID

from django.core.exceptions import BadRequest
from django.db import transaction
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from witnessmark.book.model import Book
from witnessmark.shop import content_store, store
from witnessmark.shop.models import Machine, Owner, PhotoKept, StoredBook
from witnessmark.shop.pages.arrival.forms import ArrivalForm
from witnessmark.shop.pages.arrival.known import KnownRows, known_rows
from witnessmark.shop.responses import done, show
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
    chosen = _chosen(request.desk, request.GET)
    if chosen is None:
        return _choice(request)
    return _page(request, _sheet(request, chosen))


def _choice(request: DeskRequest) -> HttpResponse:
    words = request.GET.get("q", "").strip()[:80]
    rows = list(machines_by(request.desk, words)[: MOST_SHOWN + 1])
    found = arriving.those_here(request.desk, rows[:MOST_SHOWN])
    return show(request, "arrival/choose.html", {
        "q": words,
        "found": found,
        "more": len(rows) > MOST_SHOWN,
        "books": request.desk.all(StoredBook),
    })  # fmt: skip


def _chosen(desk: Desk, said: Mapping[str, str], key: UUID | None = None) -> Machine | None:
    """The machine named by `machine`, or a new one of the model that `book` names."""
    if said.get("machine"):
        return desk.get(Machine, _uuid(said["machine"]), "owner", "book__current")
    if not said.get("book"):
        return None
    if key and (made := desk.all(Machine).filter(pk=key).first()):
        return made
    new = desk.new(Machine, **({"id": key} if key else {}))
    if said["book"] != NO_BOOK:
        new.book = desk.get(StoredBook, _uuid(said["book"]), "current")
        about = content_store.book_of(desk.shop, new.book.current.sha256).machine
        new.maker, new.model = (about.maker, about.model) if about else ("", "")
    return new


def _sheet(request: DeskRequest, machine: Machine, key: UUID | None = None) -> Sheet:
    """The forms for a machine: fresh, or as posted. `key`: the id that a new machine of this form has."""
    desk = request.desk
    posted, files = (request.POST, request.FILES) if request.method == "POST" else (None, None)
    new = machine._state.adding or machine.pk == key  # noqa: SLF001 - as in forms
    book = content_store.book_of(desk.shop, machine.book.current.sha256) if machine.book else None
    nobody = new or machine.owner is None or machine.owner.erased_on or other_owner(request)
    sheet = Sheet(
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
    return sheet


def other_owner(request: DeskRequest) -> bool:
    """Whether the machine comes with another owner than last time."""
    said = request.POST if request.method == "POST" else request.GET
    return said.get("owner") == "other"


def _taken_in(request: DeskRequest) -> HttpResponse:
    desk, ticket = request.desk, store.ticket_of(request)
    key = arriving.key_of(ticket, "machine")
    machine = _chosen(desk, request.POST, key)
    if machine is None:
        return done(request, "arrive")
    sheet = _sheet(request, machine, key)
    sound = sheet.valid()
    sheet.form.keep_photos(request.FILES.getlist("photos"), photos_before(request))
    if not sound or sheet.form.errors:
        return _page(request, sheet)
    try:
        with transaction.atomic():
            visit, stored = arriving.take_in(desk, ticket, _arrival(sheet, ticket))
            return done(request, "arrival", visit.pk, said=_("Taken in."), stored=stored)
    except arriving.ArrivalError as error:
        sheet.form.refuse(error)
        return _page(request, sheet)


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


def photos_before(request: DeskRequest) -> list[PhotoKept]:
    """Photos that an earlier try of this form had brought, and that are still ticked."""
    keys = [_uuid(key) for key in request.POST.getlist("kept_photo")]
    return list(request.desk.all(PhotoKept).filter(pk__in=keys, erased_on=None).order_by("pk"))


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
        "here": arriving.here(request.desk, sheet.machine),
        "other_owner": other_owner(request),
    })  # fmt: skip


def _uuid(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        raise BadRequest(_("not an address of a row")) from None
