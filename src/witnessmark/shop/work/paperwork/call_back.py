"""The letter to the owner of a machine that was handed back before something was known of it."""

from __future__ import annotations

from collections.abc import Iterator
from uuid import UUID

from witnessmark.ledger.bodies import WrenchDoubted
from witnessmark.papers import CallBack
from witnessmark.papers.forms import Doubtful
from witnessmark.shop.models import WrenchEvent
from witnessmark.shop.work.doubts import FoundWrong, InDoubt, found_wrong
from witnessmark.shop.work.paperwork.pen import NoPaperError, Pen
from witnessmark.shop.work.wrenches import shelf

NO_RIDE = "Do not ride it until it has been looked at."
COME = "Please bring it in."


def call_back(pen: Pen) -> CallBack:
    """The letter. Raises NoPaperError where nothing came in after hand-back."""
    state = pen.work.state
    back = next((line for line in state.history if line.entry == state.returned), None)
    if back is None or not state.recalls:
        raise NoPaperError("nothing came in after hand-back")
    said = {line.entry: line.words for line in state.history}
    doubts = list(_doubts(pen))
    grave = any(item.safety for item in state.items.values())
    return CallBack(
        heading=pen.heading(),
        handed_back=pen.moment(back.at),
        ride=NO_RIDE if grave else COME,
        why=[said[one.entry] for one in state.recalls],
        fasteners=[_doubtful(pen, mark) for _, marks in doubts for mark in marks],
        found=" ".join(f"The wrench was found {found.words}." for found, _ in doubts),
    )


def _doubts(pen: Pen) -> Iterator[tuple[FoundWrong, list[InDoubt]]]:
    """What each check that found a wrench wrong says of this visit, as far as it was written down."""
    live = {line.entry for line in pen.work.state.history if not line.undone}
    every = {one.row.pk: one for one in shelf(pen.desk.shop)}
    for entry in pen.work.entries:
        said = entry.said
        if not isinstance(said, WrenchDoubted) or entry.id not in live:
            continue
        one = every.get(UUID(said.wrench))
        event = pen.desk.all(WrenchEvent).filter(pk=said.check).first()
        found = found_wrong(pen.desk, one, event) if one and event else None
        if found:
            named = [mark for mark in found.marks if str(mark.mark.entry) in said.marks]
            yield found, named


def _doubtful(pen: Pen, one: InDoubt) -> Doubtful:
    mark = one.mark
    return Doubtful(
        fastener=mark.words,
        safety=mark.safety,
        figure="" if mark.figure_nm is None else pen.quantity(mark.figure_nm, "torque"),
        likely=pen.quantity(round(one.likely_nm, 1), "torque"),
        words=one.words,
    )
