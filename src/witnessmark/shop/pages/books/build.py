"""Start a model by how it is built, and change later how it is built, without losing a figure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from typing import Any
from uuid import UUID

from django.core.exceptions import BadRequest
from django.db import transaction
from django.http import HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from witnessmark.book import Book, BookErrors, load_book_text
from witnessmark.book import build as sheet
from witnessmark.book.build import Brings, Change
from witnessmark.book.errors import Path
from witnessmark.book.figures_form import figures_sheet
from witnessmark.book.rebuild import Rebuilt, rebuilt
from witnessmark.book.vocabulary import NOT_KNOWN
from witnessmark.shop import content_store
from witnessmark.shop.forms import in_words
from witnessmark.shop.models import BookRevision, StoredBook
from witnessmark.shop.pages.books.sheet import (
    BuildForm,
    NewForm,
    choices_sent,
    slot_shown,
    wrong_in,
)
from witnessmark.shop.pages.books.views import visits_here
from witnessmark.shop.responses import back_or, done, show
from witnessmark.shop.scope import Desk, DeskRequest


@dataclass(frozen=True)
class Difference:
    """What saving another build would do to a book, in words."""

    choices: list[str]
    change: Change
    set_aside: list[str]
    taken_back: list[str]
    result: str  # the hash of the text that would be saved


@require_http_methods(["GET", "POST"])
def new(request: DeskRequest) -> HttpResponse:
    """Start a model: how it is built, maker and model; its figures sheet is what is left to fill in."""
    asked = request.POST if request.method == "POST" else request.GET
    begin = asked.get("begin", "")
    begun = begin or request.POST.get("begun", "")
    points = sheet.starting_points()
    started = points[begin][1] if begin in points else sheet.whole({})
    sent = request.POST if request.method == "POST" and not begin else None
    typed = {name: asked.get(name, "")[:80] for name in ("maker", "model", "years")}
    form = NewForm(sent, desk=request.desk, started=started, initial=typed)
    looks = sent is not None and "look" in sent
    if looks:  # only to be told what it brings: what is not typed yet is no fault
        form = NewForm(
            None, desk=request.desk, started=choices_sent(request.POST)[0], initial=typed
        )
    elif sent is not None and form.is_valid():
        try:
            with transaction.atomic():
                stored = _started(request.desk, form)
                said = _("Started. Its figures are asked for when work needs them.")
                return done(request, *_onward(request, stored), said=said)
        except BookErrors as errors:
            _tell(form, errors)
    return show(request, "books/new.html", {
        "form": form,
        "points": [(name, title) for name, (title, _build) in points.items()],
        "begun": begun if begun in points else "",
        "back": back_or(request, ""),
        "begun_title": points[begun][0] if begun in points else "",
        "all": sheet.brings(form.build) if looks or begin else None,
    })  # fmt: skip


def _onward(request: DeskRequest, stored: StoredBook) -> tuple[Any, ...]:
    """Back to the arrival that asked for the model; else on to its figures."""
    back = back_or(request, "")
    if back.partition("?")[0] == reverse("arrive"):
        return (f"{back}{'&' if '?' in back else '?'}book={stored.pk}",)
    return (back,) if back else ("book-figures", stored.pk)


def _started(desk: Desk, form: NewForm) -> StoredBook:
    """Keep the new book, its figures sheet still empty. Raises BookErrors where the blocks do not go together."""
    said = form.cleaned_data
    about = {"maker": said["maker"], "model": said["model"], "years": said["years"]}
    made = sheet.book_built(form.build)
    text = figures_sheet(made, build=form.build, name=form.name, **about)
    return content_store.keep_book(desk.shop, load_book_text(text), text)


@require_http_methods(["GET", "POST"])
def change(request: DeskRequest, storedbook: UUID) -> HttpResponse:
    """Change how a model is built. What comes and goes is shown first; visits keep the revision they pinned."""
    desk = request.desk
    with transaction.atomic():
        stored = desk.get(StoredBook, storedbook, "current")
        if request.method == "POST":  # whoever saves next reads what is saved here
            stored = desk.all(StoredBook).select_for_update().get(pk=stored.pk)
        book = content_store.book_of(desk.shop, stored.current.sha256)
        form = BuildForm(
            request.POST or None,
            started=sheet.whole(book.build),
            initial={"shown": stored.current.sha256},
        )
        difference = None
        if not book.build:
            return show(request, "books/build.html", {"stored": stored}, faulty=form.is_bound)
        if form.is_bound and form.is_valid() and _only_mine(desk, form, stored, book):
            made = _made(form, stored, book)
            difference = _difference(form, book, made) if made else None
            if made and difference and difference.result == form.cleaned_data["looked"]:
                content_store.keep_book(desk.shop, made.book, made.text)
                return done(request, "book", stored.pk, said=_("Saved as a new revision."))
        if form.is_bound:
            form.show_again(stored.current.sha256, difference.result if difference else "")
    return show(request, "books/build.html", {
        "form": form,
        "stored": stored,
        "difference": difference,
        "visits": visits_here(desk, stored),
    })  # fmt: skip


def _only_mine(desk: Desk, form: BuildForm, stored: StoredBook, now: Book) -> bool:
    """Leave what the page did not change as it stands now; tell what somebody else changed as well."""
    asked = form.cleaned_data["shown"]
    known = desk.all(BookRevision).filter(sha256=asked).exists()
    before = content_store.book_of(desk.shop, asked) if known else now
    was = sheet.whole(before.build if before.name == stored.name else now.build)
    stands = sheet.whole(now.build)
    both = [
        s for s in stands if form.build[s] != was[s] and stands[s] not in (was[s], form.build[s])
    ]
    for slot in both:
        _text, words, more = next(sheet.in_words({slot: stands[slot]}))
        chosen = ", ".join([words, *more])
        form.refuse_slot(
            slot,
            _("Somebody chose “{words}” meanwhile. Save again to replace it.").format(words=chosen),
        )
    form.build = {s: form.build[s] if form.build[s] != was[s] else stands[s] for s in stands}
    return not both


def _made(form: BuildForm, stored: StoredBook, book: Book) -> Rebuilt | None:
    """The book as it would be saved; None where it cannot be, which is told, or where nothing was changed."""
    stands = sheet.whole(book.build)
    differs = {slot: one for slot, one in form.build.items() if one != stands[slot]}
    if not differs:
        form.add_error(None, _("Nothing is changed: choose what differs."))
        return None
    try:
        return rebuilt(content_store.text_of(stored), differs, stored.name)
    except BookErrors as errors:
        _tell(form, errors)
        return None


def _difference(form: BuildForm, book: Book, made: Rebuilt) -> Difference:
    return Difference(
        [
            _("{slot}: {old}; then: {new}").format(slot=slot, old=old, new=new)
            for slot, old, new in sheet.built_otherwise(book.build, form.build)
        ],
        sheet.change(_brings(book), _brings(made.book)),
        list(_words(made.set_aside, book)),
        list(_words(made.taken_back, made.book)),
        sha256(made.text.encode()).hexdigest(),
    )


def _tell(form: BuildForm, errors: BookErrors) -> None:
    """Every error with its place: where two blocks disagree, that has both lines."""
    for error in errors.errors:
        form.add_error(None, f"{error.place}: {in_words(error)}")


def _brings(book: Book) -> Brings:
    return Brings(
        {name: job.text for name, job in book.jobs.items()},
        {name: one.text for name, one in book.figures.items()},
        (),
    )


def _words(paths: list[Path], book: Book) -> Iterator[str]:
    """What entries of a text are called in the book that has them; a figure with its value, empty ones not at all."""
    others = 0
    for path in paths:
        table: Any = getattr(book, str(path[0]), None)
        entry = table.get(path[1]) if isinstance(table, dict) else None
        if path[0] == "figures" and entry is not None:
            value = entry.value or " – ".join(filter(None, (entry.low, entry.high)))
            if value or entry.source:
                yield f"{entry.text}: {value or entry.source}"
        elif entry is not None and hasattr(entry, "text"):
            yield str(entry.text)
        else:
            others += 1
    if others:
        yield _("{count} other lines of its text").format(count=others)


@require_GET
def look(request: DeskRequest, storedbook: UUID | None = None) -> HttpResponse:
    """What a choice brings before it is taken: the slot changed, against what it was. Writes nothing."""
    begun = sheet.starting_points().get(request.GET.get("begun", ""))
    stands = begun[1] if begun else {name: {"is": NOT_KNOWN} for name in sheet.whole({})}
    if storedbook is not None:
        stored = request.desk.get(StoredBook, storedbook, "current")
        stands = sheet.whole(content_store.book_of(request.desk.shop, stored.current.sha256).build)
    build, faults = choices_sent(request.GET)
    slot = request.GET.get("slot", "")
    if slot not in build:
        raise BadRequest(_("the build sheet has no such question"))
    before = {**build, slot: stands[slot]}
    old = {words for told in wrong_in(before).values() for words in told}
    after = sheet.brings(build)
    return show(request, "books/brings.html", {
        "change": sheet.change(sheet.brings(before), after),
        "slot": next(slot_shown(one, build[slot], []) for one in sheet.asked() if one.name == slot),
        "same": build[slot] == stands[slot],
        "not_known": build[slot]["is"] == NOT_KNOWN,
        "faults": [words for told in faults.values() for words in told if words not in old],
        "all": after,
    })  # fmt: skip
