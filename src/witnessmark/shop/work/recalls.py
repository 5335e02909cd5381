"""What a wrench found wrong has closed since its last good check, and what is written into the ledger about it."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from witnessmark.shop import store
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import Entry, Machine, Visit, VisitSummary, WrenchEvent, WrenchMark
from witnessmark.shop.scope import Desk
from witnessmark.shop.work.wrenches import OnShelf, shelf, to_mind
from witnessmark.wrenches import Check, Doubted, day, doubted, per_cent, true_torque


@dataclass(frozen=True)
class InDoubt:
    """One fastener: the mark, what the torque likely was, and what has become of it."""

    mark: WrenchMark
    likely_nm: float
    deviation: float
    handed_back: bool
    written: bool  # stands in the ledger of its visit as doubted
    unclear: bool  # made on the day of a check of which only the day is known
    again: WrenchMark | None  # made tight again since

    @property
    def side(self) -> str:
        """Where the likely torque lies against the figure: low, high, within, unknown."""
        mark = self.mark
        if mark.low_nm is None and mark.high_nm is None:
            return "unknown"
        if mark.low_nm is not None and self.likely_nm < mark.low_nm * (1 - 1e-9):
            return "low"
        over = mark.high_nm is not None and self.likely_nm > mark.high_nm * (1 + 1e-9)
        return "high" if over else "within"

    @property
    def words(self) -> str:
        """How it stands."""
        if self.again is not None:
            other = "another" if self.again.wrench != self.mark.wrench else "the same"
            return f"made tight again on {day(self.again.on)} with {other} wrench"
        if not self.mark.stands and not self.written:
            return "no longer rests on this mark"
        unsure = "; before or after the check is not known" if self.unclear else ""
        return {
            "low": "too loose",
            "high": "too tight: look at the thread, too",
            "within": "still within its figure",
            "unknown": "its figure has no limits: judge it",
        }[self.side] + unsure

    @property
    def open(self) -> bool:
        """Whether the fastener still rests on this mark alone, and nobody has written it down yet."""
        return self.mark.stands and self.again is None and not self.written

    @property
    def advised(self) -> bool:
        """Whether it should be made tight again: out of its figure, or safety-critical and here."""
        return self.open and (self.side != "within" or (self.mark.safety and not self.handed_back))


@dataclass(frozen=True)
class MachineInDoubt:
    """One machine with its fasteners in doubt."""

    machine: Machine
    here: bool
    marks: tuple[InDoubt, ...]


@dataclass(frozen=True)
class FoundWrong:
    """A check that found a wrench wrong: since when it is in doubt, and what it closed, machines here first."""

    event: WrenchEvent
    check: Check
    good: WrenchEvent | None  # the last good check before; None: there was none
    groups: tuple[MachineInDoubt, ...]

    @property
    def words(self) -> str:
        """How wrong it was found. Example: ``11.1 % off: fasteners got less than it showed``."""
        less = "less" if self.check.worst > 0 else "more"
        return f"{per_cent(abs(self.check.worst))} off: fasteners got {less} than it showed"

    @property
    def marks(self) -> list[InDoubt]:
        """All of them."""
        return [mark for group in self.groups for mark in group.marks]

    @property
    def since(self) -> date | None:
        """The day of its last good check before."""
        return self.good.on if self.good else None

    @property
    def to_time(self) -> list[WrenchEvent]:
        """The checks whose time would tell what was made tight before them and what after."""
        if not any(mark.unclear for mark in self.left):
            return []
        days = {mark.mark.on for mark in self.left if mark.unclear}
        known = (self.event, self.good)
        return [one for one in known if one and one.at is None and one.on in days]

    @property
    def left(self) -> list[InDoubt]:
        """Those that nobody has written down yet and that still rest on this wrench."""
        return [mark for mark in self.marks if mark.open]


@dataclass(frozen=True)
class Written:
    """What was written into the ledger of one visit."""

    visit: Visit
    marks: int
    handed_back: bool


@dataclass(frozen=True)
class ToSeeTo:
    """A wrench something is to be done about; `doubt`: what it closed and nobody has written down yet."""

    wrench: OnShelf
    doubt: FoundWrong | None = None

    @property
    def said(self) -> tuple[str, ...]:
        """Why, in words."""
        standing = self.wrench.standing.to_mind
        if self.doubt is None:
            return standing
        number = len([one for one in self.doubt.left if one.advised])
        things = "fastener" if number == 1 else "fasteners"
        return (*standing, f"found {self.doubt.words}; {number} {things} to make tight again")


def to_see_to(desk: Desk) -> list[ToSeeTo]:
    """The wrenches of the shop that are due, dropped, found wrong, overdue, or have closed what is now in doubt."""
    every = shelf(desk.shop)
    doubts = {one.row.pk: _waiting(desk, one) for one in every}
    minded = {one.row.pk for one in to_mind(every)}
    return [
        ToSeeTo(one, doubts[one.row.pk])
        for one in every
        if doubts[one.row.pk] or one.row.pk in minded
    ]


def _waiting(desk: Desk, one: OnShelf) -> FoundWrong | None:
    """The newest check that found it wrong, while something that rests on it waits."""
    for doubt in doubted(one.tool):
        event = next(e for e in one.events if str(e.pk) == doubt.check.id)
        found = found_wrong(desk, one, event)
        if found and any(mark.advised for mark in found.left):
            return found
    return None


def found_wrong(desk: Desk, one: OnShelf, event: WrenchEvent) -> FoundWrong | None:
    """What the wrench closed between its last good check and the one that found it wrong; None if it did not."""
    doubt = next((d for d in doubted(one.tool) if d.check.id == str(event.pk)), None)
    if doubt is None:
        return None
    marks = desk.all(WrenchMark).filter(wrench=one.row.pk, at__lte=doubt.check.last)
    if doubt.good:
        marks = marks.filter(at__gte=doubt.good.first)
    rows = list(marks.select_related("visit", "machine__owner"))
    gone = _handed_back(desk, rows)
    written = _written(desk, rows, event)
    later = _later(desk, rows)
    every = [_in_doubt(doubt, row, gone, written, later) for row in rows]
    good = next((e for e in one.events if doubt.good and str(e.pk) == doubt.good.id), None)
    return FoundWrong(event, doubt.check, good, tuple(_groups(every)))


def write(desk: Desk, found: FoundWrong, chosen: Collection[str]) -> list[Written]:
    """Doubt the chosen marks (ids of rows) in the ledgers of their visits."""
    by_visit: dict[UUID, list[InDoubt]] = defaultdict(list)
    for one in found.left:
        if str(one.mark.pk) in chosen:
            by_visit[one.mark.visit_id].append(one)
    made = []
    for marks in by_visit.values():
        visit = marks[0].mark.visit
        body = {
            "wrench": str(found.event.wrench_id),
            "check": str(found.event.pk),
            "marks": sorted(str(one.mark.entry) for one in marks),
            "found": found.check.worst,
            "since": found.since.isoformat() if found.since else None,
        }
        store.record_all(desk, visit, store.Ticket(str(new_id())), [("wrench_doubted", body)])
        made.append(Written(visit, len(marks), marks[0].handed_back))
    return made


def in_words(written: Iterable[Written]) -> str:
    """What was done, in a sentence or two."""
    every = list(written)
    here = sum(one.marks for one in every if not one.handed_back)
    gone = [one for one in every if one.handed_back]
    parts = []
    if here:
        parts.append(
            f"{here} fastener{'s' if here > 1 else ''} of machines in the shop open again."
        )
    if gone:
        one = len(gone) == 1
        parts.append(
            "Call one machine back: its hand-back page has the letter."
            if one
            else f"Call {len(gone)} machines back: their hand-back pages have the letters."
        )
    return " ".join(parts)


def _in_doubt(
    doubt: Doubted,
    row: WrenchMark,
    gone: Collection[UUID],
    written: Collection[str],
    later: dict[tuple[UUID, str, int], list[WrenchMark]],
) -> InDoubt:
    true = true_torque(doubt.check, row.shown_nm)
    after = later.get((row.machine_id, row.fastener, row.place), [])
    again = next((one for one in after if one.at > row.at), None)
    return InDoubt(
        mark=row,
        likely_nm=true.likely_nm * row.got_nm / row.shown_nm,
        deviation=true.deviation,
        handed_back=row.visit_id in gone,
        written=str(row.entry) in written,
        unclear=doubt.reaches(row.at) == "unclear",
        again=again,
    )


def _groups(every: list[InDoubt]) -> Iterable[MachineInDoubt]:
    """By machine: those in the shop first, then those with safety-critical fasteners, then the newest."""
    by_machine: dict[UUID, list[InDoubt]] = defaultdict(list)
    for one in every:
        by_machine[one.mark.machine_id].append(one)
    groups = [
        MachineInDoubt(
            marks[0].mark.machine,
            any(not one.handed_back for one in marks),
            tuple(sorted(marks, key=lambda m: (not m.advised, not m.mark.safety, m.mark.at))),
        )
        for marks in by_machine.values()
    ]
    newest = {g.machine.pk: max(m.mark.at for m in g.marks) for g in groups}
    groups.sort(key=lambda g: newest[g.machine.pk], reverse=True)
    return sorted(groups, key=lambda g: (not g.here, not any(m.mark.safety for m in g.marks)))


def _handed_back(desk: Desk, rows: Iterable[WrenchMark]) -> set[UUID]:
    visits = {row.visit_id for row in rows}
    gone = desk.all(VisitSummary).filter(visit__in=visits).exclude(handed_back_at=None)
    return set(gone.values_list("visit", flat=True))


def _written(desk: Desk, rows: Iterable[WrenchMark], event: WrenchEvent) -> set[str]:
    """Entries that a doubt of this check names already, and that nobody has undone."""
    visits = {row.visit_id for row in rows}
    said = desk.all(Entry).filter(visit__in=visits, kind__in=["wrench_doubted", "corrected"])
    bodies = [(str(row.pk), row.kind, json.loads(row.body)) for row in said]
    undone = {body["entry"] for _, kind, body in bodies if kind == "corrected"}
    return {
        mark
        for key, kind, body in bodies
        if kind == "wrench_doubted" and body["check"] == str(event.pk) and key not in undone
        for mark in body["marks"]
    }


def _later(desk: Desk, rows: list[WrenchMark]) -> dict[tuple[UUID, str, int], list[WrenchMark]]:
    """Marks of the same machines from the first of these on, by fastener."""
    found: dict[tuple[UUID, str, int], list[WrenchMark]] = defaultdict(list)
    if rows:
        machines = {row.machine_id for row in rows}
        since = min(row.at for row in rows)
        for row in desk.all(WrenchMark).filter(machine__in=machines, at__gte=since):
            found[row.machine_id, row.fastener, row.place].append(row)
    return found
