"""Change one thing of a book: what changes is shown first, against the block, with its plans; then it is saved."""

from __future__ import annotations

import re
from dataclasses import dataclass
from hashlib import sha256
from typing import Any
from uuid import UUID

from django.db import transaction
from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from witnessmark.book import Book, BookError, BookErrors, edit
from witnessmark.book.differences import Difference, differences, step_words
from witnessmark.book.edit import Edited, Standing
from witnessmark.book.errors import Fault, Path
from witnessmark.book.model import Step
from witnessmark.book.select import access_for, in_turn, with_brought
from witnessmark.shop import content_store
from witnessmark.shop.forms import in_words
from witnessmark.shop.models import StoredBook
from witnessmark.shop.pages.books import edit_forms, edit_jobs, edit_readings, edit_work
from witnessmark.shop.pages.books.edit_forms import EditForm
from witnessmark.shop.pages.books.plans import plans
from witnessmark.shop.pages.books.views import book_shown, visits_here
from witnessmark.shop.responses import done, late, show
from witnessmark.shop.scope import Desk, DeskRequest
from witnessmark.shop.work import said_otherwise

KINDS: dict[str, type[EditForm]] = {
    "minutes": edit_forms.MinutesForm,
    "words": edit_forms.WordsForm,
    "cautions": edit_forms.CautionsForm,
    "caution": edit_forms.CautionForm,
    "readings": edit_forms.ReadingsForm,
    "reading": edit_readings.ReadingForm,
    "fasteners": edit_forms.FastenersForm,
    "job-words": edit_jobs.JobWordsForm,
    "order": edit_jobs.OrderForm,
    "steps": edit_jobs.StepsForm,
    "tools": edit_work.ToolsForm,
    "parts": edit_work.PartsForm,
    "needs": edit_work.NeedsForm,
    "circuits": edit_work.CircuitsForm,
    "intervals": edit_work.IntervalsForm,
    "new-step": edit_jobs.NewStepForm,
    "leave-out": edit_jobs.LeaveJobForm,
    "own-job": edit_jobs.OwnJobForm,
    "back": edit_jobs.BackForm,
}
MANY_TIMES = 10  # what takes so many times longer or shorter is looked at again; judged by us


@dataclass(frozen=True)
class Said:
    """One difference as a line; `back`: what takes it back to the block."""

    thing: str
    words: str
    back: str = ""


@dataclass(frozen=True)
class Look:
    """What saving would do."""

    lines: list[Said]
    doubts: list[str]
    broken: list[tuple[str, str]]
    result: str  # the hash of the text that would be saved


@require_GET
def job(request: DeskRequest, storedbook: UUID, job: str) -> HttpResponse:
    """One job of a book: its steps, what differs from the block, what can be changed."""
    stored = request.desk.get(StoredBook, storedbook, "current")
    now = standing_of(request.desk, stored)
    below = now.beneath.jobs.get(job) if now.beneath else None
    whole = now.book.jobs.get(job)
    if whole is None and below is None:
        raise Http404(_("the service book has no such job"))
    access = access_for(now.book, with_brought(now.book, [job])) if whole else []
    differ = _of(now, ("jobs", job), *(("access", name) for name in access))
    steps = (
        [] if whole is None else [(name, whole.operations[name]) for name in in_turn(now.book, job)]
    )
    return show(request, "books/job.html", {
        "stored": stored,
        "job": whole or below,
        "id": job,
        "gone": whole is None,
        "steps": [(name, one, _needed(now.book, one), any(f"operations/{name}" in d.back for d in differ))
                  for name, one in steps],
        "out": [] if whole is None or below is None else
               [one.text for name, one in below.operations.items() if name not in whole.operations],
        "access": [(name, now.book.access[name]) for name in access],
        "differ": differ,
        "own": below is None,
        "builds_on": now.beneath is not None,
    })  # fmt: skip


@require_GET
def step(request: DeskRequest, storedbook: UUID, job: str, step: str) -> HttpResponse:
    """One step of a job: everything that can be changed of it."""
    stored = request.desk.get(StoredBook, storedbook, "current")
    now = standing_of(request.desk, stored)
    if job not in now.book.jobs or step not in now.book.jobs[job].operations:
        raise Http404(_("the service book has no such step"))
    one = now.book.jobs[job].operations[step]
    return show(request, "books/step.html", {
        "stored": stored,
        "job": now.book.jobs[job],
        "id": job,
        "of": f"{job}/{step}",
        "step": one,
        "needs": _needed(now.book, one),
        "cautions": [(name, now.book.cautions[name]) for name in one.cautions],
        "readings": [(name, now.book.readings[name], _limits(now.book, name)) for name in one.readings],
        "loosens": [now.book.fasteners[name].text for name in one.loosens],
        "tightens": [now.book.fasteners[name].text for name in one.tightens],
        "tools": [now.book.tools[name].text for name in one.tools],
        "parts": [(now.book.parts[name].text, count) for name, count in one.parts.items()],
        "opens": [now.book.circuits[name].in_words(which) for name, which in one.opens.items()],
        "closes": [now.book.circuits[name].in_words(which) for name, which in one.closes.items()],
        "after": [step_words(now.book, name if "/" in name else f"{job}/{name}") for name in one.after],
        "differ": _of(now, ("jobs", job, "operations", step)),
    })  # fmt: skip


@require_http_methods(["GET", "POST"])
def change(request: DeskRequest, storedbook: UUID, what: str) -> HttpResponse:
    """Change one thing: shown first, then saved as a new revision. Visits keep the revision they pinned."""
    desk = request.desk
    if what not in KINDS:
        raise Http404(_("there is no such thing to change"))
    sent = request.POST if request.method == "POST" else None
    with transaction.atomic():
        stored = desk.get(StoredBook, storedbook, "current")
        if sent is not None:  # whoever saves next reads what is saved here
            stored = (
                desk.all(StoredBook).select_for_update().select_related("current").get(pk=stored.pk)
            )
        now = standing_of(desk, stored)
        form = _form(request, what, stored, now)
        moved = sent is not None and "move" in sent
        look, made = None, None
        if sent is not None and not moved and form.is_valid():
            made = _made(form, now)
            look = _look(made, now) if made else None
            if made and look and look.result == form.cleaned_data["looked"] and "plan" not in sent:
                content_store.keep_book(desk.shop, made.book, made.text)
                to = _page(stored, made.book, form.made or form.job, form.step)
                return done(request, to, said=_("Saved as a new revision."))
        if sent is not None:
            form.show_again(stored.current.sha256, look.result if look else "")
    about = {
        "form": form, "stored": stored, "what": what, "look": look,
        "changed": sent is not None and sent.get("shown") not in ("", None, stored.current.sha256),
        "visits": visits_here(desk, stored),
        "back": _page(stored, now.book, form.job, form.step),
        "plan": late(_plans, now, made, form) if made and "plan" in (sent or {}) else None,
    }  # fmt: skip
    if request.htmx and about["plan"] is not None:
        return show(request, "books/plans.html", about | {"form": None})
    return show(request, "books/change.html", about)


# ---------------------------------------------------------------- what is read


def standing_of(desk: Desk, stored: StoredBook) -> Standing:
    """A stored book as it is written now."""
    book = content_store.book_of(desk.shop, stored.current.sha256)
    return edit.standing(content_store.text_of(stored), book)


def _form(request: DeskRequest, what: str, stored: StoredBook, now: Standing) -> EditForm:
    """The form of a change, made from the book that the page showed. Http404 for what that book does not have."""
    given = request.POST if request.method == "POST" else request.GET
    of, kind = given.get("of", "")[:400], KINDS[what]
    was = book_shown(request.desk, stored, request.POST.get("shown", ""))
    more = {"beneath": now.beneath} if kind is edit_jobs.StepsForm else {}
    initial = {"shown": stored.current.sha256, "thing": given.get("thing", "")[:80]}
    try:
        return kind(request.POST or None, was=was, of=of, initial=initial, **more)
    except KeyError:
        raise Http404(_("the service book has no such job, step, reading or caution")) from None


def _made(form: EditForm, now: Standing) -> Edited | None:
    """The book as it would be; None where it cannot be, which is told, or where nothing was changed."""
    try:
        if isinstance(form, edit_jobs.OwnJobForm):
            text, form.made = form.text_with(now)
            return edit.became(now, text)
        changes = form.changes(now)
        made = edit.edited(now, changes) if changes else None
    except KeyError:
        words = _(
            "Somebody left this out of the book meanwhile. What you typed stands below; put it back first."
        )
        form.add_error(None, words)
        return None
    except BookErrors as errors:
        for error in errors.errors[:MOST]:
            form.add_error(None, fault_words(now.book, error))
        return None
    if made is None or made.text == now.text:
        form.add_error(None, _("Nothing is changed: this is how it stands."))
        return None
    return made


MOST = 6  # faults of a change: the rest follow from these


def fault_words(book: Book, error: BookError) -> str:
    """A fault of the book that would be, said with the words of steps and things in place of their ids."""
    path = [str(part) for part in error.path]
    where = ""
    if path[:1] == ["jobs"] and len(path) > 1:
        where = step_words(book, "/".join((path[1], path[3])) if len(path) > 3 else path[1])
        if where == path[1] and path[1] in book.jobs:
            where = book.jobs[path[1]].text
    elif path[:1] == ["access"] and len(path) > 1:
        where = step_words(book, path[1])
    words = re.sub(r"\"([a-z0-9_./]+)\"", lambda m: f"“{_name(book, m[1])}”", in_words(error))
    words = re.sub(r"\b(when|operation of|bring) ([a-z0-9_]+)\b", lambda m: f"{m[1]} “{_name(book, m[2])}”"
                   if m[2] in book.jobs else m[0], words)  # fmt: skip
    return f"{where}: {words}" if where else words


def _error(fault: Fault) -> BookError:
    error = BookError("", fault.problem, fault.expected)
    error.path = fault.path
    return error


def _name(book: Book, name: str) -> str:
    """What an id of the book is called."""
    circuit, _dot, closed = name.partition(".")
    if closed and circuit in book.circuits and closed in book.circuits[circuit].closed_by:
        return f"{book.circuits[circuit].text}: {book.circuits[circuit].closed_by[closed].text}"
    for table in (
        book.jobs,
        book.fasteners,
        book.circuits,
        book.renewals,
        book.readings,
        book.cautions,
    ):
        if name in table:
            return str(table[name].text)
    return step_words(book, name) if "/" in name else name


# ---------------------------------------------------------------- what is shown


def _look(made: Edited, now: Standing) -> Look:
    below = {} if now.beneath is None else {d.path: d for d in differences(now.beneath, made.book)}
    lines = []
    for one in made.differences:
        if one.path[0] == "translations":  # it goes and comes with its text: that is told once
            continue
        block = below.get(one.path)
        words = said_otherwise.in_words(one)
        if block is not None and None not in (block.was, one.was) and block.was != one.was:
            words = _("{words} (the block says: {block})").format(words=words, block=block.was)
        elif now.beneath is not None and not any(one.path[: len(path)] == path for path in below):
            words = _("{words} (as the block says)").format(words=words)
        lines.append(Said(one.thing, words))
    return Look(
        lines,
        [words for one in made.differences if (words := _doubt(one))],
        [(one.rule.holds, fault_words(made.book, _error(one.fault))) for one in made.broken],
        sha256(made.text.encode()).hexdigest(),
    )


def _doubt(one: Difference) -> str:
    """What is said of minutes that are many times what they were."""
    if one.path[-1] not in ("minutes", "unattended") or not one.was or not one.now:
        return ""
    old, new = float(one.was), float(one.now)
    if not old or not new or 1 / MANY_TIMES < new / old < MANY_TIMES:
        return ""
    return _("{thing}: {new} min in place of {old} min. Is the point where it belongs?").format(
        thing=one.thing, new=one.now, old=one.was
    )


def _plans(now: Standing, made: Edited, form: EditForm) -> list[Any]:
    return list(plans(now.book, made.book, form.made or form.job))


def _of(now: Standing, *paths: Path) -> list[Said]:
    """What the book says otherwise than the block, at these paths and below."""
    return [
        Said(one.thing, said_otherwise.of_block(one), "/".join(map(str, one.path)))
        for one in edit.otherwise(now)
        if any(one.path[: len(path)] == path for path in paths)
    ]


def _needed(book: Book, one: Step) -> list[str]:
    """What a step needs of the machine, in words."""
    made = []
    for name, states in one.needs.items():
        condition = book.conditions[name]
        words = " / ".join(condition.state_words.get(state, state) for state in states)
        made.append(f"{condition.text}: {words}")
    return made


def _limits(book: Book, name: str) -> str:
    reading = book.readings[name]
    ends = [(_("at least {value}"), reading.low), (_("at most {value}"), reading.high)]
    said = [
        words.format(value=book.figures[figure].value or book.figures[figure].low
                     or book.figures[figure].high or _("(no figure yet)"))
        for words, figure in ends
        if figure
    ]  # fmt: skip
    return ", ".join(said)


def _page(stored: StoredBook, book: Book, job: str, step: str) -> str:
    """The page of a step, of its job where there is no such step, else of the book."""
    if job not in book.jobs:
        return reverse("book", args=[stored.pk])
    if step in book.jobs[job].operations:
        return reverse("book-step", args=[stored.pk, job, step])
    return reverse("book-job", args=[stored.pk, job])
