"""Whose minutes are whose: each job's own, and its share of the access steps it needs."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from witnessmark.book import steps
from witnessmark.book.model import Book
from witnessmark.book.select import job_of, with_brought
from witnessmark.money.currency import MoneyError
from witnessmark.money.rounding import share_equally
from witnessmark.planner import Answer, PlanStep, tenths

Carried = Mapping[str, tuple[str, ...]]  # of each job: the jobs whose lines carry it


def carried(
    book: Book, jobs: Sequence[str], settled: Collection[str] = ()
) -> dict[str, tuple[str, ...]]:
    """Whose lines carry each job: its own, or those of the jobs that bring it, where any of them is there.

    What others bring is no line that could be refused alone. Lines ``settled`` before stay lines, and
    carry alone what they brought.
    """
    brings = {job: {*with_brought(book, [job])} - {job} for job in jobs}
    place = {job: n for n, job in enumerate(jobs)}

    def brought(job: str) -> bool:
        over = (one for one in jobs if job in brings[one])
        return any(one not in brings[job] or place[one] < place[job] for one in over)

    lines = [job for job in jobs if job in settled or not brought(job)]
    found = {}
    for job in jobs:
        over = [job] if job in lines else [line for line in lines if job in brings[line]]
        found[job] = tuple([line for line in over if line in settled] or over)
    return found


def labour_tenths(
    book: Book, answer: Answer, jobs: Sequence[str], by: Carried | None = None
) -> dict[str, int]:
    """Attended minutes of each line, in tenths of a minute: hands times minutes.

    An operation counts for the line of its job; an access step equally for those of the jobs it is done
    ``for`` (for all, where the plan names none), tenths that remain going to the first in the order of
    ``jobs``. ``by``: whose line carries a job (absent: its own). They sum to the plan's attended
    minutes exactly. Raises MoneyError for a plan of other jobs, of another book, or without steps to charge.
    """
    known = steps(book)
    by = by or {job: (job,) for job in jobs}
    minutes = dict.fromkeys(lines_of(by, jobs), 0)
    for planned in answer.steps:
        if planned.name not in known:
            raise MoneyError(
                "plan", f"step “{planned.name}” is not in the book {book.name}", "plan again"
            )
        effort = known[planned.name].hands * (tenths(planned.end) - tenths(planned.start))
        those = lines_of(by, served(planned, jobs))
        for job, share in zip(those, share_equally(effort, len(those)), strict=True):
            minutes[job] += share
    _agrees(answer, sum(minutes.values()))
    return minutes


def lines_of(by: Carried, jobs: Sequence[str]) -> list[str]:
    """The lines that carry these jobs, each once, in their order."""
    carrying = {line for job in jobs for line in by[job]}
    return [job for job in by if job in carrying]


def served(planned: PlanStep, jobs: Sequence[str]) -> list[str]:
    """The jobs a step is done for, in the order of ``jobs``."""
    own = job_of(planned.name)
    names = [own] if own else [job_of(name) for name in planned.for_]
    strange = sorted(set(names) - set(jobs))
    if strange or not jobs:
        problem = (
            f"step “{planned.name}” is for {', '.join(strange) or 'no job'}, which is not priced"
        )
        raise MoneyError("plan", problem, "plan the jobs that are priced")
    return [job for job in jobs if job in names] or list(jobs)


def _agrees(answer: Answer, total: int) -> None:
    planned = answer.attended_minutes
    if planned is not None and tenths(planned) != total:
        problem = f"its steps take {total / 10} attended minutes, it says {planned}"
        raise MoneyError("plan", problem, "plan again with this revision of the book")
