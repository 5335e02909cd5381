"""One interval of a job, distance or time, compared with when it was last done."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from witnessmark.book.model import Book, Figure
from witnessmark.days import day
from witnessmark.due.visit import NextVisit
from witnessmark.facts import LastDone, Odometer
from witnessmark.facts.months import add_months
from witnessmark.units import Quantity, System, show

IntervalKind = Literal["distance", "time"]
IntervalState = Literal[
    "over", "unknown", "soon", "later"
]  # soon: over before the next likely visit


@dataclass(frozen=True, slots=True)
class Today:
    """The machine today and at its next likely visit. ``new_on``: first day on the road, if known."""

    odometer: Odometer | None
    today: date
    next_visit: NextVisit
    new_on: date | None
    system: System


@dataclass(frozen=True, slots=True)
class IntervalStatus:
    """The status of one interval: what is left (kilometres or days; negative: over), and the words for it."""

    kind: IntervalKind
    state: IntervalState
    words: str
    left: float | None = None
    share_over: float = 0.0
    due_km: float | None = None
    due_on: date | None = None


@dataclass(frozen=True, slots=True)
class Interval:
    """An interval as the book has it: value in km or months (None: not known), and the words for it."""

    kind: IntervalKind
    value: float | None
    words: str
    missing: bool = False  # the book has no value of its figure


def interval_of(book: Book, kind: IntervalKind, figure_id: str, system: System) -> Interval:
    """The interval of that figure: its value, or the lower end where it has a range only."""
    quantity: Quantity = "distance" if kind == "distance" else "duration"
    figure = book.figures.get(figure_id)
    value = figure.in_base("value", "low") if figure else None
    if figure is None or value is None:
        words = f"interval not known: figure missing ({_name(figure, figure_id)})"
        return Interval(kind, None, words, missing=True)
    if value <= 0:
        return Interval(
            kind, None, f"interval not known: figure is nothing ({_name(figure, figure_id)})"
        )
    unproven = "" if figure.source else " (unproven figure)"
    return Interval(kind, value, f"every {show(value, quantity, system)}{unproven}")


def _name(figure: Figure | None, figure_id: str) -> str:
    return figure.text if figure else figure_id


def interval_status(interval: Interval, last: LastDone, now: Today) -> IntervalStatus:
    """The status of the interval.

    Where it is not known when the job was last done, it cannot have been before the machine was
    new: an interval not yet over since then is known to be open. Otherwise unknown stays unknown.
    """
    if interval.value is None:
        return IntervalStatus(interval.kind, "unknown", interval.words)
    hold = _distance if interval.kind == "distance" else _time
    return hold(interval.words, interval.value, last, now)


def _distance(words: str, every_km: float, last: LastDone, now: Today) -> IntervalStatus:
    if now.odometer is None:
        return IntervalStatus("distance", "unknown", f"{words}: the odometer is not read yet")
    at = now.odometer.km
    if last.km is not None and last.km > at:
        done = f"{words}: said to be done at {_km(last.km, now)}, but the odometer reads {_km(at, now)}"
        return IntervalStatus("distance", "unknown", done)
    if last.km is not None:
        return _distance_since(f"{words}: done at {_km(last.km, now)}", every_km, last.km, at, now)
    since_new = _distance_since(
        f"{words}: the machine has run {_km(at, now)} since new", every_km, 0.0, at, now
    )
    if since_new.state == "over":
        return IntervalStatus("distance", "unknown", _unknown(words, "at what distance", last))
    return since_new


def _distance_since(
    words: str, every_km: float, since: float, at: float, now: Today
) -> IntervalStatus:
    due_km = since + every_km
    left = due_km - at
    text = f"{words}, {_over_or_left(left, _km(abs(left), now))}"
    state: IntervalState = "later"
    if left <= 0:
        state = "over"
    elif now.next_visit.km is None:
        state, text = "soon", f"{text}, but how much it is ridden is not known"
    elif due_km < now.next_visit.km:
        state = "soon"
    return IntervalStatus("distance", state, text, left, -left / every_km, due_km=due_km)


def _time(words: str, months: float, last: LastDone, now: Today) -> IntervalStatus:
    if last.on is not None and last.on > now.today:
        return IntervalStatus(
            "time", "unknown", f"{words}: said to be done on {day(last.on)}, which is yet to come"
        )
    if last.on is not None:
        return _time_since(f"{words}: done on {day(last.on)}", months, last.on, now)
    if now.new_on is not None and now.new_on <= now.today:
        since_new = _time_since(
            f"{words}: the machine is on the road since {day(now.new_on)}", months, now.new_on, now
        )
        if since_new.state != "over":
            return since_new
    return IntervalStatus("time", "unknown", _unknown(words, "on which day", last))


def _time_since(words: str, months: float, since: date, now: Today) -> IntervalStatus:
    due_on = add_months(since, months)
    left = (due_on - now.today).days
    days = "1 day" if abs(left) == 1 else f"{abs(left)} days"
    text = f"{words}, {_over_or_left(left, days)}"
    state: IntervalState = (
        "over" if left <= 0 else "soon" if due_on < now.next_visit.on else "later"
    )
    return IntervalStatus(
        "time", state, text, left, -left / max(1, (due_on - since).days), due_on=due_on
    )


def _unknown(words: str, what: str, last: LastDone) -> str:
    return words if last.known == "never" else f"{words}: {what} it was last done is not known"


def _over_or_left(left: float, words: str) -> str:
    if left == 0:
        return "just reached"
    return f"{words} {'over' if left < 0 else 'left'}"


def _km(km: float, now: Today) -> str:
    return show(km, "distance", now.system)
