"""What was written when the machine came in: look, correct, add; pin its service book."""

from __future__ import annotations

from collections.abc import Iterator
from uuid import UUID

from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from witnessmark.ledger.bodies import Arrived, OdometerRead, StatesFound
from witnessmark.shop import store
from witnessmark.shop.forms import in_words
from witnessmark.shop.models import Clash, LastDoneKnown, PhotoKept, StoredBook
from witnessmark.shop.pages.arrival.forms import ArrivalForm, shown_again
from witnessmark.shop.pages.arrival.known import KnownRows, known_rows
from witnessmark.shop.pages.arrival.new_visit import photos_before
from witnessmark.shop.receipts import in_words_apart
from witnessmark.shop.responses import done, recorded, show
from witnessmark.shop.scope import Desk, DeskRequest
from witnessmark.shop.work import arriving
from witnessmark.shop.work.arrival_look import (
    LOOKS,
    also_seen,
    shown,
    unsafe_in,
    where_of,
    words_of,
)
from witnessmark.shop.work.built import built_since
from witnessmark.shop.work.cards import in_words as in_words_of
from witnessmark.shop.work.frame_and_tyre_numbers import number_told, tyres_marked
from witnessmark.shop.work.hand_back import counted
from witnessmark.shop.work.machine_history import odometer_history
from witnessmark.shop.work.visit import Work, work_of

WHY = "corrected at arrival"


@require_http_methods(["GET", "POST"])
def arrival(request: DeskRequest, visit: UUID) -> HttpResponse:
    """The arrival as it stands; POST corrects and adds, and goes on to the needs where asked."""
    work = work_of(request.desk, visit)
    if request.method == "POST" and not work.closed:
        if "forget" in request.POST:
            return _forgotten(request, work)
        return _corrected(request, work)
    return _page(request, work, _form(request.desk, work), _known(request.desk, work))


@require_POST
def pin(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Pin a service book, and make it the machine's."""
    work = work_of(request.desk, visit)
    key = request.POST.get("book", "")
    book = next(
        (b for b in request.desk.all(StoredBook).select_related("current") if str(b.pk) == key),
        None,
    )
    if book is None:
        return done(request, "arrival", visit, said=_("No service book was chosen."))
    try:
        acts = arriving.pin(work, book)
    except arriving.ArrivalError as error:
        form = _form(request.desk, work)
        return _page(request, work, form, _known(request.desk, work), fault=in_words(error))
    machine = work.machine
    machine.book = book
    return recorded(
        request,
        work.visit,
        acts,
        "arrival",
        visit,
        said=f"Pinned: {book.title}.",
        beside=lambda: machine.save(update_fields=["book"]),
    )


def _corrected(request: DeskRequest, work: Work) -> HttpResponse:
    desk, ticket = request.desk, store.ticket_of(request)
    form, known = _form(desk, work, request), _known(desk, work, request)
    sound = not [part for part in (form, known) if part is not None and not part.is_valid()]
    amount = form.cleaned_data.get("odometer")
    km = amount.value if amount else work.state.odometer_km
    if known is not None and km is not None:
        sound = known.not_beyond(km) and sound
    form.keep_photos(request.FILES.getlist("photos"), photos_before(desk, request.POST))
    if not sound or form.errors:
        return _page(request, work, form, known)
    onward = "needs" if request.POST.get("next") else "arrival"
    return recorded(
        request,
        work.visit,
        _changes(work, form),
        onward,
        work.visit.pk,
        said="" if onward == "needs" else _("Saved."),
        beside=lambda: arriving.remember(desk, ticket, work.machine, known.rows() if known else []),
    )


def _forgotten(request: DeskRequest, work: Work) -> HttpResponse:
    """What was told of work done before was told wrongly: it is struck out."""
    rows = request.desk.all(LastDoneKnown).filter(machine=work.machine)
    row = next((one for one in rows if str(one.pk) == request.POST["forget"]), None)
    if row is not None:
        row.delete()
    return done(request, "arrival", work.visit.pk, said=_("Struck out."))


def _changes(work: Work, form: ArrivalForm) -> Iterator[store.EntryDraft]:
    """The entries for what was changed on the page, and for nothing else."""
    changed = set(form.changed_data)
    yield from _arrived_again(work, form, changed)
    if "odometer" in changed:
        yield from arriving.again(work, "odometer", list(form.reading().acts()), WHY)
    if any(name.startswith("state_") for name in changed) and form.states():
        yield from arriving.again(
            work, "states_found", [("states_found", {"states": form.states()})], WHY
        )
    yield from arriving.pictures(form.kept)


def _arrived_again(work: Work, form: ArrivalForm, changed: set[str]) -> Iterator[store.EntryDraft]:
    said = _said(work)
    before = said.model_dump(mode="json") if said else {}
    now = form.said()
    fields = {"look" if name.startswith(("look_", "else_", "tyre_")) else name for name in changed}
    new = {name: now[name] for name in fields if name in now}
    if "look" in new:  # one thing changed here, another by somebody else: both stay
        new["look"] = _look_again(before.get("look", {}), form.look(), changed)
    if new:
        people = {"machine": str(work.machine.pk), "owner": str(work.machine.owner_id)}
        yield from arriving.again(work, "arrived", [("arrived", people | before | new)], WHY)
    seen = unsafe_in(before.get("look", {}))
    yield from arriving.found([one for one in unsafe_in(new.get("look", {})) if one not in seen])


def _look_again(before: dict[str, str], now: dict[str, str], changed: set[str]) -> dict[str, str]:
    names = {name.removeprefix("look_") for name in changed}
    kept = {name: text for name, text in before.items() if name not in names}
    return kept | {name: text for name, text in now.items() if name in names}


# ---------------------------------------------------------------- the page


def _page(
    request: DeskRequest, work: Work, form: ArrivalForm, known: KnownRows | None, fault: str = ""
) -> HttpResponse:
    desk, state = request.desk, work.state
    books = list(desk.all(StoredBook).select_related("current"))
    pinned = next((book for book in books if book.current.sha256 == state.book), None)
    said = _said(work)
    return show(request, "arrival/page.html", {
        "visit": work.visit,
        "work": work,
        "machine": work.machine,
        "form": form,
        "known": known,
        "known_faulty": bool(known and known.is_bound and not known.is_valid()),
        "facts": facts(said) if said else [],
        "states": _states_in_words(work),
        "wanted_by": said.wanted_by if said else None,
        "unsafe": _not_to_be_ridden(said),
        "number": number_told(work.machine.identification),
        "tyres": tyres_marked(said.look) if said else [],
        "pictures": _pictures(desk, work),
        "told": _told(work),
        "books": books,
        "pinned": pinned,
        "built_since": built_since(work),
        "newer": work.machine.book if state.book and not pinned and not state.taken else None,
        "clashes": _clashes(work),
        "fault": fault,
    }, faulty=bool(fault))  # fmt: skip


def _not_to_be_ridden(said: Arrived | None) -> str:
    seen = unsafe_in(said.look) if said else []
    return _("Not to be ridden as it is. {names}.").format(names=". ".join(seen)) if seen else ""


def facts(said: Arrived) -> list[tuple[str, str]]:
    """What was written at arrival, name and words; what was not said is left out."""
    look = [
        (_(one.text), shown([*words_of(text), *words_of(said.look.get(where_of(name), ""))]))
        for name, one in LOOKS.items()
        if (text := said.look.get(name, ""))
    ]
    look += [(_("Also seen"), text) for text in also_seen(said.look)]
    told = [
        (_("Here for"), said.complaint),
        (_("Keys"), counted(said.keys, said.fobs) or _("none counted")),
        (_("Fuel"), _(said.fuel) if said.fuel else ""),
        (_("Luggage"), said.luggage),
        (_("Alarm"), _yes_no(said.alarm)),
        (_("May we ride it"), _yes_no(said.may_ride)),
        (_("Old parts back"), _yes_no(said.old_parts_back)),
        (_("Owner says was done"), said.owner_said),
        *look,
    ]
    return [(name, words) for name, words in told if words]


def _yes_no(said: object) -> str:
    """Empty where it was not asked."""
    return "" if said is None else _("yes") if said else _("no")


def _said(work: Work) -> Arrived | None:
    entries = arriving.standing(work, "arrived")
    said = entries[-1].said if entries else None
    assert said is None or isinstance(said, Arrived)
    return said


def _clashes(work: Work) -> list[tuple[Clash, str]]:
    """What was kept apart, in words."""
    table = store.table(work.visit)
    return [(one, in_words_apart(one, table)) for one in store.clashes(work.visit)]


def _odometer_text(work: Work) -> str:
    entries = arriving.standing(work, "odometer")
    said = entries[0].said if entries else None
    assert said is None or isinstance(said, OdometerRead)
    return said.text if said else ""


def _states(work: Work) -> dict[str, str]:
    """What was said of the states found, not what the book starts with."""
    found: dict[str, str] = {}
    for entry in arriving.standing(work, "states_found"):
        assert isinstance(entry.said, StatesFound)
        found = dict(entry.said.states) | found
    return found


def _states_in_words(work: Work) -> list[str]:
    return [
        in_words_of(work.book, name, state)
        for name, state in _states(work).items()
        if name in work.book.conditions
    ]


def _form(desk: Desk, work: Work, request: DeskRequest | None = None) -> ArrivalForm:
    said = _said(work)
    return ArrivalForm(
        request.POST if request else None,
        request.FILES if request else None,
        desk=desk,
        book=work.pinned if work.state.book else None,
        history=odometer_history(work.machine, but=work.visit),
        as_shown=True,
        without=_over(work),
        initial=shown_again(
            desk, said.model_dump(mode="json") if said else {}, _odometer_text(work), _states(work)
        ),
    )


def _over(work: Work) -> list[str]:
    """Fields that cannot be corrected any more: states move with the work; a second odometer reading stands."""
    over = []
    if len(arriving.standing(work, "odometer")) > 1:
        over += ["odometer", "right_because"]
    if work.state.steps:
        over += [f"state_{name}" for name in work.pinned.conditions]
    return over


def _known(desk: Desk, work: Work, request: DeskRequest | None = None) -> KnownRows | None:
    book = work.pinned if work.state.book else None
    return known_rows(desk, book, request.POST if request else None)


def _pictures(desk: Desk, work: Work) -> list[PhotoKept]:
    hashes = [r.sha256 for r in work.state.remarks if r.sha256 and r.step is None and not r.erased]
    every = desk.all(PhotoKept).filter(sha256__in=hashes, erased_on=None)
    rows = {row.sha256: row for row in every}
    return [rows[sha256] for sha256 in dict.fromkeys(hashes) if sha256 in rows]


def _told(work: Work) -> list[tuple[str, LastDoneKnown]]:
    """What was told of jobs done before, newest first by job."""
    jobs = work.book.jobs
    return [
        (jobs[row.job].text if row.job in jobs else row.job, row)
        for row in work.machine.last_done_known.order_by("job", "-told_at")
    ]
