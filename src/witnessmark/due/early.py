"""Readings that bring a job forward: a brake fluid tester shortens the interval, and never extends it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from witnessmark.book.figures import limits
from witnessmark.book.model import Book, Job, Reading
from witnessmark.days import day
from witnessmark.due.status import Due
from witnessmark.facts import LastDone, ReadingTaken
from witnessmark.fluids.brake import AGE_SAYS_LITTLE
from witnessmark.units import show

NEVER_LATER = "a reading may bring it forward, never put it off"


def by_readings(
    book: Book, job: Job, last: LastDone, readings: Iterable[ReadingTaken], due: Due
) -> Due:
    """The status of the job with its own readings: the newest of each since it was last done."""
    since = [
        one
        for one in readings
        if one.reading in job.early and (last.on is None or one.on > last.on)
    ]
    newest = {one.reading: one for one in sorted(since, key=lambda one: one.on)}
    outside = [(one, why) for one in newest.values() if (why := _outside(book, one))]
    if outside:
        said = "; ".join(f"{_said(book, one)}, {why}" for one, why in outside)
        return replace(due, state="due", by="reading", why=f"{said}: due now; {due.why}")
    if newest:
        said = "; ".join(f"{_said(book, one)}, within limits" for one in newest.values())
        return replace(due, why=f"{due.why}; {said}: {NEVER_LATER}")
    if job.early and _is_brake_fluid(book, job):
        return replace(due, why=f"{due.why}. {AGE_SAYS_LITTLE}")
    return due


def _said(book: Book, one: ReadingTaken) -> str:
    reading = book.readings[one.reading]
    value = one.words or ("" if one.value is None else show(one.value, one.quantity))
    return f"{reading.text}: {value} on {day(one.on)}"


def _outside(book: Book, one: ReadingTaken) -> str:
    """How a reading lies outside its limits, in words; empty where it does not."""
    reading = book.readings[one.reading]
    if one.value is None:
        return _bad(reading, one.words)
    low, high = limits(book, reading)
    if low is not None and one.value < low - 1e-9:
        return f"below {show(low, one.quantity)}"
    if high is not None and one.value > high + 1e-9:
        return f"above {show(high, one.quantity)}"
    return ""


def _bad(reading: Reading, words: str) -> str:
    return "which is no longer good" if words in reading.bad else ""


def _is_brake_fluid(book: Book, job: Job) -> bool:
    return any(book.fluids[fluid].family.endswith("brake fluid") for fluid in job.disposal)
