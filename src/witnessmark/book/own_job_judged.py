"""A job of one's own judged as a job of the book beside which it is written."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Any

from witnessmark.book import refer, rules
from witnessmark.book.closing import Thing, closed, opened
from witnessmark.book.errors import Fault, Path
from witnessmark.book.model import Book, Job
from witnessmark.book.own_job import OWN, STEPS, Ids, OwnJob, free, free_id, laid, said_of, tables
from witnessmark.book.rules.rule import Rule
from witnessmark.book.select import with_brought


def faults(book: Book, job: OwnJob) -> list[Fault]:
    """Why the job cannot be a job of that book, which is taken to be sound.

    Paths are the job's: ``("steps", name, key, …)``, ``("fasteners", id, key, …)``, or a key of its head.
    """
    if told := [*_names_not_there(book, job)]:
        return told
    before, after, name, ids = _alone(book, job)
    known = {*refer.faults(before)}
    told = [_own(fault, name, ids) for fault in refer.faults(after) if fault not in known]
    return told or [*_undone_too_late(book, job)]


def broken_rules(book: Book, job: OwnJob) -> list[tuple[Rule, Fault]]:
    """The rules of the trade that a job without `faults` breaks, each where it does."""
    before, after, name, ids = _alone(book, job)
    known = {(found.rule.name, found.fault) for found in rules.findings(before)}
    return [
        (found.rule, _own(found.fault, name, ids))
        for found in rules.findings(after)
        if (found.rule.name, found.fault) not in known and found.answer is None
    ]


def _alone(book: Book, job: OwnJob) -> tuple[Book, Book, str, Ids]:
    """The book with the jobs that this one names, without and with it: others cannot change its faults."""
    follows = {
        after.partition("/")[0] for step in job.steps for after in step.after or () if "/" in after
    }
    named = {*job.brings, *job.after_test, *follows}
    kept = with_brought(book, [one for one in book.jobs if one in named])
    jobs = {one: _following(book.jobs[one], kept) for one in kept}
    before = book.model_copy(update={"jobs": jobs, "services": {}, "translations": {}})
    name, ids = free_id("own_job", book.jobs), free(job, book)
    return before, laid(before, tables(job, name, ids)), name, ids


def _following(job: Job, kept: Collection[str]) -> Job:
    """The job, coming after nothing of jobs that are not kept, nor after a test by them."""
    operations = {
        name: one.model_copy(
            update={"after": [a for a in one.after if "/" not in a or a.partition("/")[0] in kept]}
        )
        for name, one in job.operations.items()
    }
    tests = [one for one in job.after_test if one in kept]
    return job.model_copy(update={"operations": operations, "after_test": tests})


def _own(fault: Fault, name: str, ids: Ids) -> Fault:
    """The fault at its place in the job."""
    table, *rest = fault.path
    path: Path = fault.path
    if path[:2] == ("jobs", name):
        path = (STEPS, *rest[2:]) if rest[1:2] == ["operations"] else tuple(rest[1:])
    elif rest and table in ids:
        own = {there: here for here, there in ids[str(table)].items()}
        path = (table, own.get(str(rest[0]), str(rest[0])), *rest[1:])
    return fault._replace(path=path, other=None)


def _names_not_there(book: Book, job: OwnJob) -> Iterator[Fault]:
    earlier: list[str] = []
    for step in job.steps:
        path: Path = (STEPS, step.name)
        for after in step.after or ():
            if "/" not in after:
                yield from refer.unknown((*path, "after"), "earlier step", after, earlier)
        earlier.append(step.name)
    for brought in job.brings:
        yield from refer.unknown(("brings",), "job", brought, book.jobs)


_CLOSED = {
    "fastener": ("loosened", "let this step or one after it make it tight"),
    "renewal": ("disturbed", "let this step or one after it renew it"),
    "circuit": ("opened", "let this step or one after it close it"),
}


def _undone_too_late(book: Book, job: OwnJob) -> Iterator[Fault]:
    """What the job closes only before it opens it: a fastener made tight, and then loosened."""
    whole = laid(book, _declared(job))
    last: dict[Thing, int] = {}
    by_access = {thing for step in book.access.values() for thing in closed(book, step)}
    for place, step in enumerate(job.steps):
        last |= dict.fromkeys(closed(whole, step), place)
    for place, step in enumerate(job.steps):
        for thing, at in opened(whole, step).items():
            if last.get(thing, place) < place and thing not in by_access:
                how, expected = _CLOSED[thing[0]]
                words = getattr(whole, f"{thing[0]}s")[thing[1]].text
                problem = f"“{words}” is {how} here, and closed only by a step before"
                yield Fault((STEPS, step.name, *at), problem, expected)


def _declared(job: OwnJob) -> dict[str, dict[str, Any]]:
    return {table: {own: said_of(x) for own, x in getattr(job, table).items()} for table in OWN}
