"""What was found at the door brings the jobs that look at it; what a test decides waits for that test."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from witnessmark.book.model import Book
from witnessmark.due.status import By, Due


def tests_first(book: Book, every: Sequence[Due]) -> list[Due]:
    """The statuses, with no job due for want of knowledge that a test decides: the test is due in its place.

    A test that is on record is not asked for once more. What an interval or a reading says stands.
    """
    made = {due.job: due for due in every}
    for due in every:
        job = book.jobs[due.job]
        if not job.after_test or due.by not in ("unknown", "no interval"):
            continue
        names = ", ".join(book.jobs[test].text for test in job.after_test)
        made[due.job] = replace(made[due.job], why=f"after the test, {names}; {due.why}")
        if due.by == "unknown":
            made[due.job] = replace(made[due.job], state="not due", by="test")
            for test in job.after_test:
                made[test] = _wanted(made[test], f"tells whether “{job.text}” is wanted")
    return list(made.values())


def by_findings(book: Book, found: Mapping[str, str], every: Sequence[Due]) -> list[Due]:
    """The statuses, with each job due that has a step for something found; in place of one after a test, its test.

    ``found``: by the name a book has for it, the words that were said of it.
    """
    made = {due.job: due for due in every}
    said: dict[str, dict[str, None]] = {}
    for name, words in found.items():
        for job in jobs_for(book, [name]):
            said.setdefault(job, {})[words] = None
    for job, every_word in said.items():
        made[job] = _wanted(made[job], f"found at arrival: {'; '.join(every_word)}", "finding")
    return list(made.values())


def jobs_for(book: Book, found: Iterable[str]) -> list[str]:
    """The jobs with a step for what was found, in the order of the book; in place of one after a test, its test."""
    names = {*found}
    jobs: dict[str, None] = {}
    for name, job in book.jobs.items():
        if any(names & {*step.for_findings} for step in job.operations.values()):
            jobs |= dict.fromkeys(job.after_test or [name])
    return list(jobs)


def _wanted(due: Due, why: str, by: By = "test") -> Due:
    """Due for that reason; one that was due keeps what decided it, and a test on record is not asked for again."""
    if due.state == "due":
        return due if by == "test" else replace(due, why=f"{why}; {due.why}")
    if by == "test" and due.known != "never":
        return due
    return replace(due, state="due", by=by, why=f"{why}; {due.why}")
