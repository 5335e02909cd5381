"""How the model of a visit is built by now, where that is otherwise than in the revision it pinned."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from witnessmark.book.build import built_otherwise
from witnessmark.shop import content_store
from witnessmark.shop.work.visit import Work


@dataclass(frozen=True)
class BuiltSince:
    """What was chosen otherwise since the visit pinned its book, and jobs booked that the book has no more."""

    choices: list[str]
    jobs_gone: list[str]


def built_since(work: Work) -> BuiltSince | None:
    """The difference that a visit at work has to know of; None where there is none."""
    pinned = work.pinned
    if work.closed or not pinned.build:
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
    ]
    gone = [
        pinned.jobs[job].text
        for job in work.state.taken
        if job in pinned.jobs and job not in now.jobs
    ]
    return BuiltSince(choices, gone) if choices else None
