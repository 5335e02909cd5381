"""The road-test sheet: what is looked at before a ride and after it, with what was found."""

from __future__ import annotations

from collections.abc import Iterator

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from witnessmark.book.model import Book, Operation
from witnessmark.ledger.bodies import OdometerRead
from witnessmark.ledger.ids import StepId
from witnessmark.ledger.worked import StepState
from witnessmark.papers import RoadTest
from witnessmark.papers.contents import Section, SheetLine
from witnessmark.shop.work.cards import Card, ReadingShown, card_of
from witnessmark.shop.work.hand_back import verdict
from witnessmark.shop.work.paperwork.findings import answer_words, finding_words
from witnessmark.shop.work.paperwork.job_card import limit_of, read_of
from witnessmark.shop.work.paperwork.language_and_heading import NoPaperError, Pen
from witnessmark.shop.work.paperwork.open_items import lines as open_lines
from witnessmark.shop.work.visit import Work


def road_test(pen: Pen) -> RoadTest:
    """The sheet of this visit's rides. Raises NoPaperError where its jobs have none."""
    work = pen.work
    rides, odometer = rides_of(work), _odometer(pen)
    if not rides:
        raise NoPaperError(noop("no job of this visit has a ride"))
    after = [name for name in _operations(work) if _belongs_after(work, name, rides)]
    every = [card_of(work, name) for name in (*rides, *after)]
    left = [name for name in (*rides, *after) if name not in work.state.done]
    return RoadTest(
        heading=pen.heading(),
        cautions=list(dict.fromkeys(text for card in every for text in card.cautions)),
        sections=[
            *(_section(pen, card, _("ridden")) for card in every[: len(rides)]),
            *(_section(pen, card, _("confirmed")) for card in every[len(rides) :]),
        ],
        complaint=work.state.complaint.words if work.state.complaint else "",
        odometer=odometer[0] if odometer else "",
        odometer_after=odometer[-1] if len(odometer) > 1 else "",
        open_for_ride=open_lines(pen, [item for item in work.state.items.values() if item.ride]),
        stops=open_lines(pen, verdict(work, "road test").blocking)
        if not left or left[0] in rides
        else [],
        verdict=""
        if left
        else _("Ridden, and looked at again. A value stands where one was read."),
    )


def rides_of(work: Work) -> list[str]:
    """Operations of this visit's jobs that only follow a passed road test, in the order they may come."""
    rides = [name for name in _operations(work) if work.steps[name].gate == "road test"]
    return sorted(rides, key=lambda name: len(_before(work.book, name) & set(rides)))


# ---------------------------------------------------------------- parts


def _odometer(pen: Pen) -> list[str]:
    """What was read off it on this visit, in order; the same reading once."""
    read = (entry.said for entry in pen.work.standing)
    km = dict.fromkeys(said.km for said in read if isinstance(said, OdometerRead))
    return [pen.quantity(one, "distance") for one in km]


def _operations(work: Work) -> list[str]:
    return [
        f"{job}/{name}"
        for job in work.state.taken
        if job in work.book.jobs
        for name in work.book.jobs[job].operations
    ]


def _before(book: Book, name: str) -> set[str]:
    """All operations that come before this one, at any remove."""
    found: set[str] = set()
    todo = [name]
    while todo:
        step = StepId(todo.pop())
        operation = book.jobs[step.job].operations[step.operation]
        more = {each if "/" in each else f"{step.job}/{each}" for each in operation.after} - found
        found |= more
        todo += more
    return found


def _belongs_after(work: Work, name: str, rides: list[str]) -> bool:
    """It follows a ride, and closes what only a ride can close, or belongs to the ride's own job."""
    operation = work.steps[name]
    assert isinstance(operation, Operation)
    before = _before(work.book, name) & set(rides)
    if name in rides or not before:
        return False
    own_job = any(StepId(ride).job == StepId(name).job for ride in before)
    return own_job or any(
        work.book.circuits[circuit].closed_by[one].ride
        for circuit, asked in operation.closes.items()
        for one in work.book.circuits[circuit].wanted(asked)
    )


def _section(pen: Pen, card: Card, how: str) -> Section:
    status = card.status if card.status and card.status.status == "done" else None
    note = (
        f"{card.job_words}, {how} {pen.signed(status.at, status.author)}"
        if status
        else card.job_words
    )
    return Section(title=card.step.text, note=note, lines=list(_lines(pen, card)))


def _lines(pen: Pen, card: Card) -> Iterator[SheetLine]:
    found = _confirmed(card.status)
    for figure in card.figures:
        yield SheetLine(text=figure.words, limit=pen.figure(figure), found=found)
    for text in card.step.does:
        yield SheetLine(text=text, found=found)
    for shown in card.readings:
        for place in range(1, shown.reading.repeat + 1):
            text = shown.reading.text + (f", {place}" if shown.reading.repeat > 1 else "")
            read = read_of(pen, shown, place) or _unread(shown, place)
            yield SheetLine(text=text, limit=limit_of(pen, shown), found=read)
    for one in pen.work.state.findings:
        if one.step == card.id:
            yield SheetLine(text=finding_words(pen, one), found=answer_words(pen, one))
    if not (card.figures or card.step.does or card.readings):
        yield SheetLine(text=card.step.text, found=found)


def _confirmed(status: StepState | None) -> str:
    if status is None or status.status not in {"done", "skipped"}:
        return ""
    if status.status == "skipped":
        return _("left out: {why}").format(why=status.reason)
    return _("confirmed")


def _unread(shown: ReadingShown, place: int) -> str:
    """Why there is no value."""
    why = next((one.because for one in shown.unread if one.index == place), "")
    return _("not read: {why}").format(why=why) if why else ""
