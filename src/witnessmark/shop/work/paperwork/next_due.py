"""When to come again: every interval of the book, counted from what is known after this visit."""

from __future__ import annotations

from django.utils.translation import gettext as _

from witnessmark.due import Due, next_likely_visit, what_is_due
from witnessmark.facts import LastDone, Odometer, riding
from witnessmark.shop.dates import day_text
from witnessmark.shop.work import machine_history
from witnessmark.shop.work.hand_back import done_whole
from witnessmark.shop.work.left import left_for_later
from witnessmark.shop.work.paperwork.language_and_heading import Pen


def next_due(pen: Pen) -> list[tuple[str, str]]:
    """Jobs and when: those left for later on this visit, then the others, soonest first, those due together in one.

    Others without an interval are left out.
    """
    work, today = pen.work, pen.day
    history = machine_history.odometer_history(work.machine, but=work.visit)
    odometer = (
        Odometer(today, work.state.odometer_km) if work.state.odometer_km is not None else None
    )
    if odometer is not None:
        history = [*history, odometer]
    visits = [*machine_history.visit_days(work.machine, but=work.visit), today]
    likely = next_likely_visit(riding(history), odometer, today, visits, system=pen.desk.units)  # type: ignore[arg-type]
    known = machine_history.last_done(work.machine) | _done_now(pen)
    found = what_is_due(work.book, odometer, today, known, likely, system=pen.desk.units)  # type: ignore[arg-type]
    with_interval = [due for due in found if due.by not in ("no interval", "test")]
    together: dict[str, list[str]] = {}
    for due in sorted(with_interval, key=_soonest):
        together.setdefault(_when(pen, due), []).append(work.book.jobs[due.job].text)
    later = [one.words for one in left_for_later(work) if not one.declined]
    every = {_("left for later on this visit"): later} if later else {}
    for when, jobs in together.items():
        if left := [job for job in jobs if job not in later]:
            every[when] = left
    return [("; ".join(jobs), when) for when, jobs in every.items()]


def _done_now(pen: Pen) -> dict[str, LastDone]:
    """Jobs done whole on this visit."""
    work = pen.work
    return {
        job: LastDone(job, "record", work.state.odometer_km, pen.day, "this visit")
        for job in done_whole(work)
    }


def _soonest(due: Due) -> tuple[bool, bool, bool, str, float]:
    """Due first, then by day, those without a day by distance; last what nobody knows the last time of."""
    unknown = due.due_on is None and due.due_km is None
    return (
        due.state != "due",
        unknown,
        due.due_on is None,
        str(due.due_on or ""),
        due.due_km or 0.0,
    )


def _when(pen: Pen, due: Due) -> str:
    at, on = "", ""
    if due.due_km is not None:
        at = _("at {km}").format(km=pen.quantity(round(due.due_km), "distance"))
    if due.due_on is not None:
        on = _("on {day}").format(day=day_text(due.due_on))
    when = at or on
    if at and on:
        both = _("{at} or {on}, whichever comes first")
        if due.state == "due":
            both = _("{at} or {on}, whichever came first")
        when = both.format(at=at, on=on)
    if due.state != "due":
        return when
    if not when:
        return _("now: when it was last done is not known")
    return _("now; it was due {when}").format(when=when)
