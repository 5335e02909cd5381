"""What is due, job by job, in words with the figures behind it. The rules stand in docs/due.md."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date

from witnessmark.book.model import Book, Job
from witnessmark.due.early import by_readings
from witnessmark.due.found import by_findings, tests_first
from witnessmark.due.interval import (
    IntervalKind,
    IntervalStatus,
    Today,
    interval_of,
    interval_status,
)
from witnessmark.due.status import Due, DueState
from witnessmark.due.visit import NextVisit
from witnessmark.facts import Known, LastDone, Odometer, ReadingTaken
from witnessmark.units import System

STATES: tuple[DueState, ...] = ("due", "due before the next likely visit", "not due")
_STATE_OF: dict[str, DueState] = {
    "over": "due",
    "unknown": "due",
    "soon": "due before the next likely visit",
    "later": "not due",
}
_HOW: dict[Known, str] = {
    "record": "by record",
    "word": "owner says",
    "never": "never known to be done",
}


def what_is_due(
    book: Book,
    odometer: Odometer | None,
    today: date,
    last_done: Mapping[str, LastDone],
    next_visit: NextVisit,
    *,
    new_on: date | None = None,
    readings: Iterable[ReadingTaken] = (),
    found: Mapping[str, str] | None = None,
    system: System = "metric",
) -> list[Due]:
    """The status of every job of the book: due ones first, otherwise in the order of the book.

    ``last_done`` by job id; a job without an entry was never known to be done. ``odometer`` None:
    not read yet. ``new_on``: the day the machine was first on the road, where known. Distances in
    ``why`` are shown in ``system``. ``readings``: what was read on the machine; a job that names
    one as ``early`` is due when it was read outside its limits since it was last done, and never
    later for one within. ``found``: what was found at the door (`book.fields.AtTheDoor`), each with
    its words; the jobs with a step for it are due. A job that a test decides (``after_test``) is not
    due for want of knowledge: its test is. Raises QuantityError for an interval that cannot be read, which
    a loaded book never has.
    """
    now = Today(odometer, today, next_visit, new_on, system)
    taken = list(readings)
    every: list[Due] = []
    for job_id, job in book.jobs.items():
        last = last_done.get(known_as(job_id, job, last_done)) or LastDone(job_id, "never")
        every.append(by_readings(book, job, last, taken, _job(book, job_id, job, last, now)))
    every = by_findings(book, found or {}, tests_first(book, every))
    return sorted(every, key=lambda due: STATES.index(due.state))


def known_as(job_id: str, job: Job, last_done: Mapping[str, LastDone]) -> str:
    """The name under which the job is known: its own, else one that it had before."""
    return next((name for name in (job_id, *job.once) if name in last_done), job_id)


def _job(book: Book, job_id: str, job: Job, last: LastDone, now: Today) -> Due:
    named: tuple[tuple[IntervalKind, str | None], ...] = (
        ("distance", job.every_distance),
        ("time", job.every_time),
    )
    intervals = [
        interval_of(book, kind, figure, now.system) for kind, figure in named if figure is not None
    ]
    if not intervals:
        return Due(
            job_id,
            "not due",
            "the book has no interval: when found or asked for",
            "no interval",
            last.known,
        )
    due = replace(
        _due(job_id, last, [interval_status(interval, last, now) for interval in intervals]),
        missing=tuple(interval.words for interval in intervals if interval.missing),
    )
    if last.known != "word":
        return due
    unaided = LastDone(job_id, "never")
    without_word = _due(
        job_id, unaided, [interval_status(interval, unaided, now) for interval in intervals]
    )
    return _by_word(due, without_word)


def _due(job_id: str, last: LastDone, statuses: list[IntervalStatus]) -> Due:
    """Whichever comes first; an interval of which nothing is known counts as over."""
    decisive = max(statuses, key=_urgency)
    distance = next((each for each in statuses if each.kind == "distance"), None)
    time = next((each for each in statuses if each.kind == "time"), None)
    how = _HOW[last.known] + (f" ({last.source})" if last.source and last.known != "never" else "")
    return Due(
        job=job_id,
        state=_STATE_OF[decisive.state],
        why=f"{how}; "
        + "; ".join(each.words for each in sorted(statuses, key=_urgency, reverse=True)),
        by="unknown" if decisive.state == "unknown" else decisive.kind,
        known=last.known,
        distance_left_km=distance.left if distance else None,
        days_left=int(time.left) if time and time.left is not None else None,
        due_km=distance.due_km if distance else None,
        due_on=time.due_on if time else None,
    )


def _urgency(each: IntervalStatus) -> tuple[int, float]:
    return ("later", "soon", "unknown", "over").index(each.state), each.share_over


def _by_word(due: Due, without_word: Due) -> Due:
    """A word counts, but less: what rests on it alone is due one step earlier than it says."""
    earlier = STATES[max(0, STATES.index(due.state) - 1)]
    if due.state == "due" or STATES.index(without_word.state) > STATES.index(earlier):
        return due
    return replace(
        due, state=earlier, why=f"{due.why}; no record of it, so one step earlier", by="word"
    )
