"""Where a visit cannot go on as planned: what is taken again, what waits, what stands in the way, what frees it."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from urllib.parse import urlencode

from django.utils.translation import gettext as _

from witnessmark.book.select import job_of
from witnessmark.ledger.gates import lines
from witnessmark.ledger.ids import StepId
from witnessmark.ledger.state import OpenItem
from witnessmark.ledger.work_left import asked_by_ride, to_do
from witnessmark.planner import conflict_of_book, remedies, state_in_words
from witnessmark.shop.scope import Desk
from witnessmark.shop.work import undoing
from witnessmark.shop.work.cards import Card
from witnessmark.shop.work.planned import Planned
from witnessmark.shop.work.planning import left
from witnessmark.shop.work.visit import Work

OPENED = {
    "fastener",
    "round",
    "still",
    "secured",
    "circuit",
    "renewal",
}  # kinds of items that work opens


@dataclass(frozen=True)
class Free:
    """One thing that frees the way. ``query``: of the page it is done on; ``stand``: "condition/state", to be said."""

    kind: str  # step, state, job
    words: str
    query: str = ""
    stand: str = ""


@dataclass(frozen=True)
class LeftOut:
    """A step left out for which a ride waits. ``skip``: the entry that left it out."""

    words: str
    reason: str
    skip: str


@dataclass(frozen=True)
class Report:
    """A report that a card cannot be done; ``entries``: what takes it back, where whoever looks may."""

    item: OpenItem
    entries: tuple[str, ...]


def reported(work: Work, card: Card) -> list[OpenItem]:
    """The reports without an answer that this card, or what rides along with it, cannot be done."""
    here = {card.id, *(before.id for before in card.along)}
    return [i for i in work.state.items.values() if i.kind == "wont" and here & {*i.closed_by}]


def reports(desk: Desk, work: Work, card: Card) -> list[Report]:
    """They as the card shows them."""
    return [Report(one, _taken_back_by(desk, work, one.key.name)) for one in reported(work, card)]


def left_out(work: Work) -> list[LeftOut]:
    """What was left out, and would close what is open before a ride."""
    return [
        LeftOut(work.steps[name].text, reason, work.state.steps[name].entries[-1])
        for name in asked_by_ride(work.book, work.state, to_do(work.book, work.state))
        if (reason := work.state.not_done.get(name)) is not None
    ]


def again(work: Work, made: Planned) -> list[str]:
    """What an order takes again, in words."""
    return [_again(work, name) for name in made.again]


def stays_open(work: Work, steps: Collection[str]) -> list[OpenItem]:
    """What was opened and none of these steps closes, a line each: it waits for a card that is not in the order."""
    return lines(
        item
        for item in work.state.items.values()
        if item.kind in OPENED
        and item.closed_by
        and not item.ride
        and {*item.closed_by}.isdisjoint(steps)
    )


def left_by(work: Work, job: str) -> list[OpenItem]:
    """What is open now, and only cards of this job close."""
    others = [name for name in work.steps if StepId(name).job != job]
    return stays_open(work, others) if job in work.state.taken else []


def conflict(work: Work, made: Planned) -> list[str]:
    """What cannot be had together; without any one of it there is an order."""
    return conflict_of_book(work.book, made.problem, made.answer.conflict or ())


def frees(work: Work, made: Planned) -> Iterator[Free]:
    """What frees the way, each by itself."""
    for one in remedies(left(work, to_do(work.book, work.state))):
        if one.kind == "step":
            yield Free("step", work.steps[one.name].text, query=urlencode({"card": one.name}))
        elif one.kind == "state":
            words = state_in_words(work.book, one.name, [one.state])
            yield Free("state", words, stand=f"{one.name}/{one.state}")
        else:
            later = urlencode([("later", job) for job in (*made.later, one.name)])
            yield Free("job", work.book.jobs[one.name].text, query=later)


def _taken_back_by(desk: Desk, work: Work, entry: str) -> tuple[str, ...]:
    one = undoing.of_entry(work, entry)
    may = one is not None and undoing.may_take_back(desk, work, one)
    return tuple(line.entry for line in one.lines) if one and may else ()


def _again(work: Work, name: str) -> str:
    said = _("“{step}” of “{job}” has to be done, though that job is not booked")
    if name in work.state.not_done:
        said = _("“{step}” ({job}) was left out, and the work cannot go on without it")
    elif name in work.state.done:
        said = _("“{step}” ({job}) is to be done again: the work cannot go on without it")
    return said.format(step=work.steps[name].text, job=work.book.jobs[job_of(name)].text)
