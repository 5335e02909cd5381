"""The service books: what each model needs, and which figures are still missing or without a source."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from witnessmark.book import Book
from witnessmark.book.build import in_words
from witnessmark.book.document import parsed
from witnessmark.book.edit import beneath
from witnessmark.book.figures import (
    FigureUse,
    figure_state,
    figures_missing,
    figures_unproven,
    only_sent,
)
from witnessmark.book.figures_form import figure_groups, figure_users
from witnessmark.book.model import Condition, Figure, Job
from witnessmark.book.rebuild import kept_aside
from witnessmark.book.vocabulary import NOT_KNOWN
from witnessmark.shop import content_store
from witnessmark.shop.models import BookRevision, Machine, PhotoKept, StoredBook, VisitSummary
from witnessmark.shop.pages.books.rules import rules_of
from witnessmark.shop.responses import show
from witnessmark.shop.scope import Desk, DeskRequest


@dataclass(frozen=True)
class BookShown:
    """A stored book as the list shows it."""

    stored: StoredBook
    book: Book

    @property
    def missing(self) -> list[FigureUse]:
        """Figures that a job rests on and that have no value."""
        return figures_missing(self.book, self.book.jobs)

    @property
    def unproven(self) -> list[FigureUse]:
        """Figures that have a value and no source."""
        return figures_unproven(self.book, self.book.jobs)


@dataclass(frozen=True)
class FigureLine:
    """One line of the figures sheet."""

    id: str
    figure: Figure
    used: tuple[str, ...]
    photo: PhotoKept | None = None  # of the page it was read on

    @property
    def state(self) -> str:
        """missing, unproven or proven."""
        return figure_state(self.figure)

    @property
    def sent(self) -> bool:
        """Whether another shop sent it, and nobody here looked it up."""
        return self.state == "unproven" and only_sent(self.figure)

    @property
    def written(self) -> str:
        """The value as the document has it, with its tolerance or range."""
        return self.figure.written


@require_GET
def books(request: DeskRequest) -> HttpResponse:
    """All books of the shop, with their revision and what is missing."""
    rows = request.desk.all(StoredBook).select_related("current")
    return show(request, "books/list.html", {"books": [shown(request.desk, row) for row in rows]})


@require_GET
def book(request: DeskRequest, storedbook: UUID) -> HttpResponse:
    """One book: services, jobs, figures, conditions."""
    desk = request.desk
    stored = desk.get(StoredBook, storedbook, "current")
    about = shown(desk, stored)
    return show(request, "books/page.html", {
        "shown": about,
        "stored": stored,
        "book": about.book,
        "jobs": list(_jobs(about.book)),
        "services": [(s, [about.book.jobs[j].text for j in s.jobs]) for s in about.book.services.values()],
        "groups": list(lines_by_job(about.book, _photos(desk, about.book))),
        "conditions": list(_conditions(about.book)),
        "machines": desk.all(Machine).filter(book=stored).select_related("owner"),
        "older": older_visits(desk, stored),
        "rules": rules_of(about.book, stored.text),
        "built": list(in_words(about.book.build)),
        "unknown": any(choice["is"] == NOT_KNOWN for choice in about.book.build.values()),
        "aside": list(_aside(stored.text)),
        "jobs_out": jobs_left_out(stored, about.book),
    })  # fmt: skip


def shown(desk: Desk, stored: StoredBook) -> BookShown:
    """A stored book with its current revision read."""
    return BookShown(stored, content_store.book_of(desk.shop, stored.current.sha256))


def book_shown(desk: Desk, stored: StoredBook, asked: str) -> Book:
    """The revision that a page showed, by the hash its form names; the current one where it names none of this book."""
    current = content_store.book_of(desk.shop, stored.current.sha256)
    if (
        asked in ("", stored.current.sha256)
        or not desk.all(BookRevision).filter(sha256=asked).exists()
    ):
        return current
    before = content_store.book_of(desk.shop, asked)
    return before if before.name == stored.name else current


def _photos(desk: Desk, about: Book) -> dict[str, PhotoKept]:
    """The photos of pages that this shop kept, by their hash."""
    named = {figure.photo for figure in about.figures.values() if figure.photo}
    rows = desk.all(PhotoKept).filter(sha256__in=named, erased_on=None) if named else []
    return {row.sha256: row for row in rows}


def lines_by_job(
    about: Book, photos: Mapping[str, PhotoKept] | None = None
) -> Iterator[tuple[str, list[FigureLine]]]:
    """The figures under the job that first uses them."""
    for heading, names in figure_groups(about):
        yield (
            heading,
            [
                FigureLine(
                    n,
                    about.figures[n],
                    tuple(figure_users(about, n)),
                    (photos or {}).get(about.figures[n].photo or ""),
                )
                for n in names
            ],
        )


def older_visits(desk: Desk, stored: StoredBook) -> list[VisitSummary]:
    """Visits now in the shop that pinned another revision than the current one: they keep it."""
    return [row for row in visits_here(desk, stored) if row.book_revision != stored.current.sha256]


def visits_here(desk: Desk, stored: StoredBook) -> list[VisitSummary]:
    """Visits now in the shop of machines of this model that pinned a revision."""
    rows = desk.all(VisitSummary).filter(machine__book=stored, handed_back_at=None)
    return list(rows.exclude(book_revision="").select_related("visit", "machine"))


def jobs_left_out(stored: StoredBook, about: Book) -> list[tuple[str, Job]]:
    """The jobs of its blocks that a book leaves out."""
    below = beneath(parsed(stored.text, stored.name).data) if stored.text else None
    return [(n, job) for n, job in below.jobs.items() if n not in about.jobs] if below else []


def _aside(text: str) -> Iterator[str]:
    """What a book's text keeps aside, as people read it; what was left empty is not told."""
    for path, said in kept_aside(text):
        given = (
            [str(one) for one in said.values() if one] if isinstance(said, dict) else [str(said)]
        )
        if given:
            name = str(path[-1 if path[0] == "list" else 1]).replace("_", " ").strip('"')
            yield f"{name}: {', '.join(given)}" if path[0] == "figures" else name


def _jobs(about: Book) -> Iterator[tuple[str, Job, str, float]]:
    """Each job by its id, with how often it is due, in words, and the minutes of its own operations."""
    for name, job in about.jobs.items():
        often = [
            about.figures[f].value or _("({text}: no figure)").format(text=about.figures[f].text)
            for f in (job.every_distance, job.every_time)
            if f
        ]
        minutes = sum(one.minutes * one.hands for one in job.operations.values())
        yield name, job, _often(often), minutes


def _often(intervals: Sequence[str]) -> str:
    if not intervals:
        return _("when found or asked for")
    distance, *time = intervals
    if time:
        return _("every {distance}, or every {time}").format(distance=distance, time=time[0])
    return _("every {interval}").format(interval=distance)


def _conditions(about: Book) -> Iterator[tuple[Condition, list[str], str]]:
    """Each condition with its states, and the one it must finish in, in words."""
    for one in about.conditions.values():
        words = [one.state_words.get(state, state) for state in one.states]
        finish = one.finish or ""
        yield one, words, one.state_words.get(finish, finish)
