"""Whose minutes are whose: each job's own, and its share of the access steps it needs."""

from __future__ import annotations

from collections.abc import Sequence

from witnessmark.book import steps
from witnessmark.book.model import Book
from witnessmark.money.currency import MoneyError
from witnessmark.money.rounding import share_equally
from witnessmark.planner import Answer, PlanStep, tenths


def labour_tenths(book: Book, answer: Answer, jobs: Sequence[str]) -> dict[str, int]:
    """Attended minutes of each job, in tenths of a minute: hands times minutes.

    An operation counts for its own job; an access step equally for the jobs it is done ``for``
    (for all, where the plan names none), tenths that remain going to the first in the order of
    ``jobs``. They sum to the plan's attended minutes exactly.
    Raises MoneyError for a plan of other jobs, of another book, or without steps to charge.
    """
    known = steps(book)
    minutes = dict.fromkeys(jobs, 0)
    for planned in answer.steps:
        if planned.name not in known:
            raise MoneyError(
                "plan", f"step “{planned.name}” is not in the book {book.name}", "plan again"
            )
        effort = known[planned.name].hands * (tenths(planned.end) - tenths(planned.start))
        those = served(planned, jobs)
        for job, share in zip(those, share_equally(effort, len(those)), strict=True):
            minutes[job] += share
    _agrees(answer, sum(minutes.values()))
    return minutes


def served(planned: PlanStep, jobs: Sequence[str]) -> list[str]:
    """The jobs a step is done for, in the order of ``jobs``."""
    own = planned.name.partition("/")
    names = [own[0]] if own[1] else [name.partition("/")[0] for name in planned.for_]
    strange = sorted(set(names) - set(jobs))
    if strange or not jobs:
        wrong = (
            f"step “{planned.name}” is for {', '.join(strange) or 'no job'}, which is not priced"
        )
        raise MoneyError("plan", wrong, "plan the jobs that are priced")
    return [job for job in jobs if job in names] or list(jobs)


def _agrees(answer: Answer, total: int) -> None:
    planned = answer.attended_minutes
    if planned is not None and tenths(planned) != total:
        wrong = f"its steps take {total / 10} attended minutes, it says {planned}"
        raise MoneyError("plan", wrong, "plan again with this revision of the book")
