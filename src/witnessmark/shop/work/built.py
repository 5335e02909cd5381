"""What the book of a visit says otherwise by now than in the revision it pinned."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from witnessmark.book.build import built_otherwise
from witnessmark.book.differences import differences
from witnessmark.shop import content_store
from witnessmark.shop.work import said_otherwise
from witnessmark.shop.work.visit import Work

MOST = 6  # differences named: another build may have hundreds


@dataclass(frozen=True)
class BuiltSince:
    """What was chosen otherwise since the visit pinned its book, what is said otherwise of jobs booked, and jobs
    booked that the book has no more.
    """  # fmt: skip

    choices: list[str]
    jobs_gone: list[str]
    steps: list[str]
    more: int  # differences that are not named


def built_since(work: Work) -> BuiltSince | None:
    """The difference that a visit at work has to know of; None where there is none."""
    pinned = work.pinned
    if work.closed:
        return None
    stored = work.machine.book
    if stored is None or stored.name != pinned.name:
        return None
    if stored.current.sha256 == work.state.book:
        return None
    now = content_store.book_of(stored.shop, stored.current.sha256)
    choices = [
        _("{slot}: {new} (this visit: {old})").format(slot=slot, new=new, old=old)
        for slot, old, new in built_otherwise(pinned.build, now.build)
        if pinned.build
    ]
    gone = [
        pinned.jobs[job].text
        for job in work.state.taken
        if job in pinned.jobs and job not in now.jobs
    ]
    told = [
        f"{one.thing}, {said_otherwise.in_words(one)}"
        for one in differences(pinned, now)
        if one.path[0] == "jobs" and one.path[1] in work.state.taken and one.path[1] in now.jobs
    ]
    if not (choices or gone or told):
        return None
    return BuiltSince(choices, gone, told[:MOST], max(0, len(told) - MOST))
