"""Price a plan."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Sequence

import rfc8785

from witnessmark.book import revision
from witnessmark.book.model import Book
from witnessmark.kit import Kit
from witnessmark.money.currency import MoneyError
from witnessmark.money.estimate import Estimate, EstimateLine, ExtraLine, summed
from witnessmark.money.lines import items_of_extra, items_of_jobs
from witnessmark.money.minutes import carried, labour_tenths
from witnessmark.money.rates import Rates
from witnessmark.planner import Answer


def plan_form(answer: Answer) -> bytes:
    """The plan as RFC 8785 JSON without the time it took to find, so that the same plan is the same bytes."""
    return rfc8785.dumps(answer.model_dump(mode="json", by_alias=True, exclude={"solve_seconds"}))


def plan_hash(answer: Answer) -> str:
    """SHA-256 of `plan_form`, 64 hexadecimal digits."""
    return hashlib.sha256(plan_form(answer)).hexdigest()


def estimate(
    book: Book,
    answer: Answer,
    jobs: Sequence[str],
    rates: Rates,
    kit: Kit,
    *,
    extra: Sequence[ExtraLine] = (),
    plan: str | None = None,
    settled: Collection[str] = (),
) -> Estimate:
    """The price of a plan: a line per job, in the order of ``jobs``, then the additions.

    A job that others bring (a ride) is on their lines, and has none; see `carried` for ``settled``.

    ``kit`` is that of the same plan. ``plan``: the hash the plan is kept under (absent:
    `plan_hash`). The order of jobs decides who carries remainders. Labour: `labour_tenths`. A part
    or fluid that an access step uses is shared by its jobs as its minutes are. What has no price
    is on the line without one (`Estimate.unpriced`): offer nothing before that is mended.
    Raises MoneyError for a plan that is none, or of other jobs or another book.
    """
    unknown = [job for job in jobs if job not in book.jobs]
    if unknown or len(set(jobs)) != len(jobs):
        problem = f"no job “{unknown[0]}” in {book.name}" if unknown else "a job is named twice"
        raise MoneyError("jobs", problem, "name jobs of the book, each once")
    if answer.status not in ("optimal", "feasible"):
        raise MoneyError("plan", f"the plan is {answer.status}", "price a plan that can be done")
    by = carried(book, jobs, settled)
    minutes = labour_tenths(book, answer, jobs, by)
    items = items_of_jobs(book, answer, jobs, rates, kit, minutes, by)
    lines = [
        EstimateLine(
            id=job,
            text=book.jobs[job].text,
            why=book.jobs[job].why,
            labour_tenths=minutes[job],
            items=tuple(items[job]),
        )
        for job in minutes
    ]
    lines += [_extra_line(each, rates) for each in extra]
    return summed(
        rates=rates, book=revision(book), plan=plan or plan_hash(answer), jobs=jobs, lines=lines
    )


def _extra_line(extra: ExtraLine, rates: Rates) -> EstimateLine:
    items = tuple(items_of_extra(extra, rates))
    return EstimateLine(
        id=extra.id, text=extra.text, why=extra.why, extra=True, labour_tenths=extra.labour_tenths, items=items
    )  # fmt: skip
