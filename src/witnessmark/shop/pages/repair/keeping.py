"""A repair becomes a job of the model's service book: as it was written, with minutes as they turned out."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

from django import forms
from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from witnessmark.book import Book, BookErrors, load_book_text
from witnessmark.book.own_job import OwnJob, free
from witnessmark.book.own_job_text import with_job
from witnessmark.ledger.bodies import Done, RepairWritten
from witnessmark.shop import content_store
from witnessmark.shop.forms import SheetForm, in_words
from witnessmark.shop.models import PartPrice, StoredBook
from witnessmark.shop.pages.repair.views import address, named
from witnessmark.shop.responses import done, show
from witnessmark.shop.scope import Desk, DeskRequest
from witnessmark.shop.work.repair_draft import new_id
from witnessmark.shop.work.visit import Work, work_of

LONGEST = timedelta(hours=8)  # from one card to the next: more is no work at it


class MinutesForm(SheetForm):
    """How long each step takes."""

    def __init__(
        self, *args: object, job: OwnJob, clock: dict[str, float], **kwargs: object
    ) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        for step in job.steps:
            took = clock.get(step.name)
            self.fields[step.name] = forms.FloatField(
                label=step.text, initial=step.minutes, min_value=0.1, max_value=10_000,
                help_text=_("By the clock {minutes} min.").format(minutes=f"{took:g}") if took else "",
            )  # fmt: skip


@require_http_methods(["GET", "POST"])
def keep(request: DeskRequest, visit: UUID) -> HttpResponse:
    """Add the repair to the book of the machine's model, once."""
    desk, work = request.desk, work_of(request.desk, visit)
    of = named(work, request.POST if request.method == "POST" else request.GET)
    said, stored = work.state.repairs.get(of), work.machine.book
    if said is None or stored is None:
        problem = (
            _("There is no repair to keep.")
            if said is None
            else _("The machine has no service book.")
        )
        messages.error(request, problem)
        return done(request, address(work, of))
    back = address(work, of)
    form = MinutesForm(request.POST or None, job=said.job, clock=_by_the_clock(work, of))
    problem = ""
    with transaction.atomic():
        stored = (
            desk.all(StoredBook)
            .select_for_update(of=("self",))
            .select_related("current")
            .get(pk=stored.pk)
        )
        book = content_store.book_of(desk.shop, stored.current.sha256)
        if _there(book, said.job):
            words = _("“{text}” is in the service book already.").format(text=said.job.text)
            messages.error(request, words)
            return done(request, back)
        if request.method == "POST" and form.is_valid():
            if request.POST.get("shown") != stored.current.sha256:
                problem = _("Somebody changed the service book meanwhile: look, and keep it again.")
            else:
                problem = _kept(desk, stored, book, said, form.cleaned_data)
            if not problem:
                words = _("Kept: it is a job of {title} from now on.").format(title=stored.title)
                return done(request, back, said=words)
    context = {
        "visit": work.visit, "work": work, "said": said, "of": of, "form": form, "problem": problem,
        "title": stored.title, "shown": stored.current.sha256, "back": back,
    }  # fmt: skip
    return show(request, "repair/keep.html", context, faulty=bool(problem))


def _there(book: Book, job: OwnJob) -> bool:
    """Whether the book has a job of these words with these steps."""
    steps = [step.text for step in job.steps]
    return any(
        one.text == job.text and sorted(o.text for o in one.operations.values()) == sorted(steps)
        for one in book.jobs.values()
    )


def _kept(
    desk: Desk, stored: StoredBook, book: Book, said: RepairWritten, minutes: dict[str, float]
) -> str:
    """Keep the book with the job; what stands in the way, in words."""
    steps = [
        step.model_copy(update={"minutes": round(minutes[step.name], 1)}) for step in said.job.steps
    ]
    job = said.job.model_copy(update={"steps": steps})
    ids = free(job, book)["parts"]
    name = new_id(job.text, {*book.jobs, *book.services}, most=40)
    text = with_job(content_store.text_of(stored), book, job, name)
    try:
        made = load_book_text(text)
    except BookErrors as errors:
        return in_words(errors.errors[0])
    content_store.keep_book(desk.shop, made, text)
    for part, price in said.prices.items():
        rows = desk.all(PartPrice)
        if not rows.filter(part=ids[part], book__in=["", book.name]).exists():
            words = job.parts[part].text
            desk.new(
                PartPrice, part=ids[part], book=book.name, name=words[:120], price_minor=price
            ).save()
    return ""


def _by_the_clock(work: Work, of: str) -> dict[str, float]:
    """How long each step done took, in minutes: from what its author entered before it; steps done once alone."""
    before: dict[str, object] = {}
    took: dict[str, list[float]] = {}
    for entry in work.standing:
        last, said = before.get(entry.author), entry.said
        before[entry.author] = entry.instant
        if isinstance(said, Done) and last is not None:
            job, _slash, step = said.step.partition("/")
            gone = entry.instant - last  # type: ignore[operator]
            if job == of and timedelta(0) < gone <= LONGEST:
                took.setdefault(step, []).append(round(gone.total_seconds() / 60, 1))
    return {step: times[0] for step, times in took.items() if len(times) == 1 and times[0] >= 0.1}
