"""The letter to the owner of a machine that was handed back before something was known of it."""

from __future__ import annotations

from collections.abc import Iterator
from uuid import UUID

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from witnessmark.ledger import ids
from witnessmark.ledger.bodies import WrenchDoubted
from witnessmark.papers import CallBack
from witnessmark.papers.contents import Doubtful
from witnessmark.shop.models import WrenchEvent
from witnessmark.shop.work.doubtful import InDoubt
from witnessmark.shop.work.paperwork.came_after import came_after
from witnessmark.shop.work.paperwork.language_and_heading import NoPaperError, Pen
from witnessmark.shop.work.paperwork.open_items import thing
from witnessmark.shop.work.recalls import FoundWrong, found_wrong
from witnessmark.shop.work.wrenches import shelf
from witnessmark.wrenches import per_cent


def call_back(pen: Pen) -> CallBack:
    """The letter. Raises NoPaperError where nothing came in after hand-back."""
    state = pen.work.state
    back = next((line for line in state.history if line.entry == state.returned), None)
    if back is None or not state.recalls:
        raise NoPaperError(noop("nothing came in after hand-back"))
    doubts = list(_doubts(pen))
    grave = any(item.safety for item in state.items.values())
    return CallBack(
        heading=pen.heading(),
        handed_back=pen.moment(back.at),
        ride=_("Do not ride it until it has been looked at.")
        if grave
        else _("Please bring it in."),
        why=came_after(pen),
        fasteners=[_doubtful(pen, mark) for _found, marks in doubts for mark in marks],
        found=" ".join(_off(pen, found.check.worst) for found, _marks in doubts),
    )


def _doubts(pen: Pen) -> Iterator[tuple[FoundWrong, list[InDoubt]]]:
    """What each check that found a wrench wrong says of this visit, as far as it was written down."""
    every = {one.row.pk: one for one in shelf(pen.desk.shop, history=True)}
    for entry in pen.work.standing:
        said = entry.said
        if not isinstance(said, WrenchDoubted):
            continue
        one = every.get(UUID(said.wrench))
        event = pen.desk.all(WrenchEvent).filter(pk=said.check).first()
        found = found_wrong(one, event) if one and event else None
        if found:
            yield found, found.marks(visit=pen.work.visit.pk, entry__in=said.marks)


def _doubtful(pen: Pen, one: InDoubt) -> Doubtful:
    mark = one.mark
    return Doubtful(
        fastener=thing(pen, ids.fastener(mark.fastener, mark.place)),
        safety=mark.safety,
        figure="" if mark.figure_nm is None else pen.quantity(mark.figure_nm, "torque"),
        likely=pen.quantity(round(one.likely_nm, 1), "torque"),
        words=_likely(one),
    )


def _off(pen: Pen, share: float) -> str:
    """How wrong the wrench was found."""
    words = _("The wrench was found {share} off: fasteners got less than it showed.")
    if share <= 0:
        words = _("The wrench was found {share} off: fasteners got more than it showed.")
    return words.format(share=pen.number(per_cent(abs(share))))


def _likely(one: InDoubt) -> str:
    """How the fastener likely stands."""
    if one.again is not None:
        return _("tightened again since")
    return {
        "low": _("too loose"),
        "high": _("too tight"),
        "within": _("still within its figure"),
        "unknown": _("its figure has no limits"),
    }[one.side]
