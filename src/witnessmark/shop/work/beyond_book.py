"""Work beyond the book: agreed own lines and things opened on the spot, as cards among those of the order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from django.utils.translation import gettext as _

from witnessmark.kit import PartNeed
from witnessmark.ledger.beyond_book import WORK
from witnessmark.ledger.bodies import OPEN
from witnessmark.ledger.ids import StepId
from witnessmark.ledger.stuck import unanswered
from witnessmark.shop.work.cards import Card, card_of
from witnessmark.shop.work.visit import Work


def left(work: Work) -> list[str]:
    """Steps that would close what is open beyond the book, in the order in which it was opened.

    One left out with a reason is not asked for again until its thing is opened again; one that would not go waits for
    its answer.
    """
    waits = {one.step for one in unanswered(work.state)}
    opened: dict[str, list[str]] = {}
    for item in work.state.items.values():
        for step in item.closed_by:
            if StepId(step).job in {*work.state.lines, *work.state.added}:
                opened.setdefault(step, []).extend(item.opened_by)
    turn = [name for name in _steps(work) if name in opened and name not in waits]
    return [name for name in turn if not _left_out_since(work, name, opened[name])]


def cards_left(work: Work) -> list[Card]:
    """They as cards; one that was done before its thing was opened again is to be done anew."""
    return [replace(card_of(work, name), status=None) for name in left(work)]


def among(work: Work, planned: Sequence[Card]) -> list[Card]:
    """The cards of the order with those beyond the book: after it, but before the machine is ridden."""
    own = cards_left(work)
    ride = next((n for n, one in enumerate(planned) if one.step.gate == "road test"), len(planned))
    return [*planned[:ride], *own, *planned[ride:]]


def every(work: Work) -> list[Card]:
    """Cards of all that was agreed or opened beyond the book, over or not."""
    shown = {*agreed_lines(work), *work.state.added}
    return [card_of(work, name) for name in _steps(work) if StepId(name).job in shown]


def to_open_again(work: Work) -> list[Card]:
    """Things that are closed and may have to come off once more."""
    busy = {StepId(name).job for name in left(work)}
    return [card_of(work, f"{name}/{OPEN}") for name in work.state.added if name not in busy]


def agreed_lines(work: Work) -> list[str]:
    """Own lines the owner said yes to, and that were not left since."""
    state = work.state
    return [name for name in state.lines if name in state.agreed and state.jobs.get(name) != "left"]


def parts_left(work: Work) -> list[PartNeed]:
    """The parts of agreed own lines that are still to be done."""
    return [
        PartNeed(part, work.book.parts[part].text, "piece", quantity, f"{name}/{WORK}", 0.0)
        for name in agreed_lines(work)
        if f"{name}/{WORK}" in left(work)
        for part, quantity in work.steps[f"{name}/{WORK}"].parts.items()
    ]


def words_of(work: Work, line: str) -> str:
    """A line by its words: a job of the book, or an own line. One of before they had entries: that it was one."""
    return work.jobs[line].text if line in work.jobs else _("a line of the estimate")


def complaint_by(work: Work) -> list[str]:
    """The lines that put the complaint right, in words."""
    said = work.state.complaint
    return [words_of(work, line) for line in said.answer.lines] if said and said.answer else []


def _steps(work: Work) -> list[str]:
    """Every step that closes something beyond the book, as they follow one another."""
    return [
        f"{name}/{step}"
        for name, job in work.own.jobs.items()
        for step in job.operations
        if step != OPEN
    ]


def _left_out_since(work: Work, name: str, opened_by: list[str]) -> bool:
    state = work.state.steps.get(name)
    if state is None or state.status != "skipped":
        return False
    place = {entry.id: n for n, entry in enumerate(work.entries)}
    return max(place[key] for key in state.entries) > max(place[key] for key in opened_by)
