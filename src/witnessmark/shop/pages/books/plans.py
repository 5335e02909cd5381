"""What a change of a book does to its plans: the least attended minutes before and after."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.translation import gettext as _

from witnessmark.book import Book
from witnessmark.book.select import with_brought
from witnessmark.errors import WitnessError
from witnessmark.planner import compile_problem, conflict_in_words
from witnessmark.shop.work.solving import least_attended


@dataclass(frozen=True)
class PlanShown:
    """One piece of work, planned by the book as it is and as it would be; `fault`: why there is no plan then."""

    work: str
    was: str
    now: str
    fault: str = ""


def plans(before: Book, after: Book, job: str) -> Iterator[PlanShown]:
    """The job by itself with what it brings, then the first service that has it."""
    alone = _("This job alone, with what it brings")
    yield _shown(
        alone, before, after, *(([job] if job in book.jobs else []) for book in (before, after))
    )
    for name, service in {**before.services, **after.services}.items():
        jobs = [
            list(book.services[name].jobs) if name in book.services else []
            for book in (before, after)
        ]
        if any(job in one for one in jobs):
            yield _shown(service.text, before, after, *jobs)
            return


def _shown(words: str, before: Book, after: Book, was: list[str], now: list[str]) -> PlanShown:
    old, _fault = _minutes(before, was)
    new, fault = _minutes(after, now)
    return PlanShown(words, old, new, fault)


def _minutes(book: Book, jobs: list[str]) -> tuple[str, str]:
    """The least attended minutes in words, and why there is no plan."""
    if not jobs:
        return "—", ""
    try:
        problem = compile_problem(book, with_brought(book, jobs))
    except WitnessError as error:
        return _("no plan"), f"{error.problem}; {error.expected}"
    answer = least_attended(problem)
    if answer.attended_minutes is None:
        return _("no plan"), conflict_in_words(problem, answer.conflict or ())
    minutes = f"{answer.attended_minutes:g}"
    if answer.status == "optimal":
        return _("{minutes} min").format(minutes=minutes), ""
    return _("{minutes} min, not proven the least").format(minutes=minutes), ""
