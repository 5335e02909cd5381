"""Witness marks as they are printed: fasteners of one group closed by like evidence share a line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from django.utils.translation import gettext as _

from witnessmark.ledger.worked import FastenerMark, Tally
from witnessmark.papers.contents import PaperMark
from witnessmark.shop.work.cards import figure_shown
from witnessmark.shop.work.paperwork.language_and_heading import Pen
from witnessmark.shop.work.visit import Work
from witnessmark.shop.work.wrenches import OnShelf, shelf

Evidence = tuple[str, str, str, bool]  # reached, wrench, who, proven


def marks(pen: Pen) -> Iterator[PaperMark]:
    """The groups of fasteners that are tight, in the order of the book; covers that are only counted are left out."""
    wrenches = {str(one.row.pk): one for one in shelf(pen.desk.shop, history=True)}
    for name, tally in pen.work.state.tallies.items():
        fastener = pen.work.book.fasteners.get(name)
        if fastener is not None and fastener.grade != "counted":
            yield from _group(pen, tally, wrenches)


def all_proven(work: Work, steps: Iterable[str]) -> bool:
    """Whether everything these steps make tight is tight, and no mark of it rests on a wrench unproven."""
    groups = [
        (work.state.tallies.get(name), work.book.fasteners[name])
        for step in steps
        for name in work.steps[step].tightens
    ]
    return all(
        tally is not None
        and len(tally.tight) == tally.count
        and (fastener.grade != "proven" or all(mark.status == "tight" for mark in tally.marks))
        for tally, fastener in groups
    )


def _wrench(pen: Pen, mark: FastenerMark, wrenches: dict[str, OnShelf]) -> str:
    """The wrench by name, with the certificate that its calibration rested on that day."""
    one = wrenches.get(mark.wrench or "")
    if one is None:
        return _("wrench not listed") if mark.value_nm or mark.set_nm else ""
    certificate = one.certificate(pen.local(mark.at).date())
    if not certificate:
        return one.row.name
    return _("{wrench}, certificate {number}").format(wrench=one.row.name, number=certificate)


def _group(pen: Pen, tally: Tally, wrenches: dict[str, OnShelf]) -> Iterator[PaperMark]:
    alike: dict[Evidence, list[FastenerMark]] = {}
    for mark in tally.marks:
        if mark.status.startswith("tight"):
            alike.setdefault(_evidence(pen, mark, wrenches), []).append(mark)
    figure = figure_shown(pen.work.book, tally.figure) if tally.figure else None
    fastener = pen.work.book.fasteners[tally.fastener]
    by_table = fastener.grade == "by table"
    for (reached, wrench, who, proven), same in alike.items():
        yield PaperMark(
            fastener=_words(fastener.text, tally, same),
            figure=pen.figure(figure) if figure else "",
            source=pen.source(figure) if figure else "",
            reached=_("with the step") if by_table else reached,
            wrench=wrench,
            who=who,
            when=_when(pen, same),
            proven=proven and not by_table,
            note="" if proven or by_table else _("tight, wrench unproven"),
        )


def _evidence(pen: Pen, mark: FastenerMark, wrenches: dict[str, OnShelf]) -> Evidence:
    reached = _("tight")
    if mark.adapter is not None and mark.value_nm is not None and mark.set_nm is not None:
        on_wrench, at = (pen.quantity(x, "torque") for x in (mark.set_nm, mark.value_nm))
        reached = _("{set} on the wrench, {value} through an adapter").format(
            set=on_wrench, value=at
        )
    elif mark.value_nm is not None:
        reached = pen.quantity(mark.value_nm, "torque")
    elif mark.set_nm is not None:
        how = _("clicked at {value}") if mark.clicked else _("set to {value}")
        reached = how.format(value=pen.quantity(mark.set_nm, "torque"))
    wrench = _wrench(pen, mark, wrenches)
    if mark.wrench and mark.wrench_proven:
        wrench += ", " + _("in calibration")
    return reached, wrench, pen.name(mark.author), mark.wrench_proven


def _words(text: str, tally: Tally, same: list[FastenerMark]) -> str:
    if tally.count == 1:
        return text
    if len(same) == tally.count:
        return _("{fastener}, all {count}").format(fastener=text, count=tally.count)
    which = ", ".join(str(mark.index) for mark in sorted(same, key=lambda mark: mark.index))
    return _("{fastener}, {which} of {count}").format(fastener=text, which=which, count=tally.count)


def _when(pen: Pen, same: list[FastenerMark]) -> str:
    times = sorted(pen.local(mark.at) for mark in same)
    first, last = (pen.clock(one.isoformat()) for one in (times[0], times[-1]))
    return first if first == last else _("{first} to {last}").format(first=first, last=last)
