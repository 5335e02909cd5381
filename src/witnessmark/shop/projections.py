"""Rows that are read often, from the entries of a visit alone. The same entries give the same rows."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from operator import attrgetter
from uuid import UUID, uuid5

from witnessmark.book import Book
from witnessmark.book.sequence import rounds
from witnessmark.ledger import ids
from witnessmark.ledger.bodies import Answered, Arrived, Tightened
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.gates import for_safety, lines
from witnessmark.ledger.ids import StepId
from witnessmark.ledger.phrases import NO_WORDS
from witnessmark.ledger.state import VisitState
from witnessmark.shop import sums
from witnessmark.shop.models import (
    DecidedRow,
    DeclinedLine,
    LastDoneRow,
    OpenItemRow,
    OwedRow,
    ProjectionRow,
    ReadingRow,
    Visit,
    VisitSummary,
    WasteRow,
    WrenchMark,
)

PROJECTIONS: list[type[ProjectionRow]] = [
    VisitSummary,
    OpenItemRow,
    OwedRow,
    LastDoneRow,
    DeclinedLine,
    ReadingRow,
    DecidedRow,
    WrenchMark,
    WasteRow,
]


@dataclass(frozen=True)
class Source:
    """What the rows of one visit follow from."""

    visit: Visit
    entries: Sequence[Entry]
    state: VisitState
    book: Book  # with what was opened beyond it
    sealed_at: datetime | None  # the newest seal
    lines: Mapping[str, str]  # words of jobs and lines of estimates

    def entry(self, key: str) -> Entry:
        """The entry with an id."""
        return next(entry for entry in self.entries if entry.id == key)


def replace(
    visit: Visit, wanted: list[ProjectionRow], standing: Sequence[ProjectionRow] = ()
) -> set[type[ProjectionRow]]:
    """Put these rows in the place of all that stand for a visit, and return the tables where any were changed.

    `standing`: those that stand, where that is known; else they are read. Rows that stand as they should are left
    alone. Sums over all visits follow (`sums`).
    """
    of_the_visit = {"visit": visit}
    changed: set[type[ProjectionRow]] = set()
    for model in PROJECTIONS:
        rows = model._default_manager.filter(**of_the_visit)
        expected = {row.pk: row for row in wanted if type(row) is model}
        told = attrgetter(*(field.attname for field in model._meta.concrete_fields))
        known = [row for row in standing if type(row) is model] if standing else rows
        here = {row.pk: row for row in known}
        gone = {
            key
            for key, row in here.items()
            if key not in expected or told(expected[key]) != told(row)
        }
        if gone:
            rows.filter(pk__in=gone).delete()
        missing = [row for key, row in expected.items() if key not in here or key in gone]
        if missing:
            model._default_manager.bulk_create(missing)
        if gone or missing:
            changed.add(model)
        if model in sums.SUMMED:
            sums.add(missing, [here[key] for key in gone])
    return changed


def rows(source: Source) -> Iterator[ProjectionRow]:
    """The rows that should stand for a visit."""
    yield _summary(source)
    yield from _open_items(source)
    yield from _owed(source)
    yield from _last_done(source)
    yield from _declined(source)
    yield from _readings(source)
    yield from _decided(source)
    yield from _wrench_marks(source)
    yield from _waste(source)


def stage(state: VisitState, book: Book) -> str:
    """The page where the visit goes on."""
    if state.returned:
        return "papers"
    if not state.machine:
        return "arrival"
    if not state.taken and not state.lines:
        return "needs"
    if not state.offers or state.unanswered:
        return "price"
    if state.taken and not state.plan:
        return "order"
    return "bench" if _work_left(state, book) else "handback"


def _work_left(state: VisitState, book: Book) -> bool:
    over = state.over
    beyond = {*state.lines, *state.added}
    if any(StepId(step).job in beyond for i in state.items.values() for step in i.closed_by):
        return True
    return any(operation not in over for job in state.taken for operation in _operations(book, job))


def _operations(book: Book, job: str) -> list[str]:
    return [f"{job}/{name}" for name in book.jobs[job].operations] if job in book.jobs else []


def arrival(entries: Sequence[Entry], state: VisitState) -> Entry | None:
    """The newest arrival entry that nobody corrected."""
    told = [h.entry for h in state.history if h.kind == "arrived" and h.undone is None]
    return next((e for e in entries if told and e.id == told[-1]), None)


def _summary(source: Source) -> VisitSummary:
    state = source.state
    arrived = arrival(source.entries, state)
    first = (e for e in source.entries if e.kind == "arrived")  # corrected later or not
    came = next(first) if arrived else None
    said = arrived.said if arrived else None
    assert said is None or isinstance(said, Arrived)
    returned = source.entry(state.returned) if state.returned else None
    opened = lines(state.items.values())  # counted as the hand-back shows them
    return VisitSummary(
        **_of(source, "summary"),
        machine=source.visit.machine,
        stage=stage(state, source.book),
        arrived_at=came.instant if came else None,
        arrived_on=_day(came.at) if came else None,
        handed_back_at=returned.instant if returned else None,
        last_at=source.sealed_at,
        wanted_by=said.wanted_by if said else None,
        complaint=said.complaint if said else "",
        odometer_km=state.odometer_km,
        book_revision=state.book or "",
        jobs=list(state.taken),
        open_items=len(opened),
        open_safety=len(for_safety(opened)),
        call_back=_call_back(state),
        entries=len(source.entries),
    )


def _call_back(state: VisitState) -> int:
    """How many things are open that a hand-back let go without knowing of them."""
    if not state.recalls:  # nothing came to light after a hand-back
        return 0
    return len(lines(item for item in state.items.values() if item.override is None))


def _open_items(source: Source) -> Iterator[OpenItemRow]:
    for key, item in source.state.items.items():
        yield OpenItemRow(
            **_of(source, "open", key),
            item=key,
            words=item.words,
            where=item.where,
            gate=item.gate,
            safety=item.safety,
            opened_by=list(item.opened_by),
        )


def _owed(source: Source) -> Iterator[OwedRow]:
    """What is open of each document, and what the owner has to get: together what the account has open."""
    account = source.state.account
    owner = UUID(source.state.owner) if source.state.owner else None
    currency = account.currency
    for each in account.documents:
        if each.open_minor:
            yield OwedRow(
                **_of(source, "owed", each.entry),
                owner=owner,
                name=each.said.name,
                on=each.said.on,
                due_on=each.said.due_on,
                currency=currency,
                open_minor=each.open_minor,
            )
    credit = account.open_minor - sum(each.open_minor for each in account.documents)
    if credit:
        yield OwedRow(
            **_of(source, "owed", "credit"), owner=owner, currency=currency, open_minor=credit
        )


def _last_done(source: Source) -> Iterator[LastDoneRow]:
    """Jobs done whole, once the machine was handed back."""
    state, book = source.state, source.book
    if not state.returned:
        return
    returned = source.entry(state.returned)
    for job in state.taken:
        operations = _operations(book, job)
        if state.done_whole(operations):
            yield LastDoneRow(
                **_of(source, "done", job),
                machine=source.visit.machine,
                job=job,
                on=_day(returned.at),
                km=state.odometer_km,
            )


def _declined(source: Source) -> Iterator[DeclinedLine]:
    for line in source.state.declined:
        answer, said = _refusal(source, line)
        yield DeclinedLine(
            **_of(source, "declined", line),
            machine=source.visit.machine,
            line=line,
            words=source.lines.get(line, NO_WORDS),
            estimate=said.estimate,
            on=_day(answer.at),
        )


def _refusal(source: Source, line: str) -> tuple[Entry, Answered]:
    """The last entry with the owner's no to a line that stands declined."""
    for entry in reversed(source.entries):
        said = entry.said
        if isinstance(said, Answered) and said.line == line and said.verdict == "no":
            return entry, said
    raise LookupError(f"{line}: declined, but nobody said no")  # the fold would be wrong


def _readings(source: Source) -> Iterator[ReadingRow]:
    state, book = source.state, source.book
    for one in state.readings:
        rule = book.readings.get(one.reading)
        yield ReadingRow(
            **_of(source, "reading", one.entry),
            machine=source.visit.machine,
            reading=one.reading,
            step=one.step,
            place=one.index,
            quantity=rule.quantity if rule else "words",
            value=one.value,
            words=one.words or "",
            text=one.text,
            verdict=one.verdict,
            on=_day(one.at),
            km=state.odometer_km,
            entry=UUID(one.entry),
        )


def _decided(source: Source) -> Iterator[DecidedRow]:
    """What was read; what a reading was only taken as is no count."""
    name, taken_as = source.book.name, {n for one in source.state.unread for n in one.taken_as}
    for unknown, yes in source.state.answers.items():
        if unknown in taken_as:
            continue
        yield DecidedRow(**_of(source, "decided", unknown), book=name, unknown=unknown, yes=yes)


def _wrench_marks(source: Source) -> Iterator[WrenchMark]:
    state = source.state
    undone = state.undone
    tallies = state.tallies.values()
    standing = {mark.entry for t in tallies for mark in t.marks if mark.status.startswith("tight")}
    live = [e for e in source.entries if e.id not in undone and isinstance(e.said, Tightened)]
    standing |= _before_a_turn(source, live)
    for entry in live:
        said = entry.said
        if isinstance(said, Tightened) and said.wrench:
            yield from _wrench_mark(source, entry, said, stands=entry.id in standing)


def _before_a_turn(source: Source, live: list[Entry]) -> set[str]:
    """The newest mark of each torque that a turn by an angle rests on, where its fastener is tight."""
    newest: dict[tuple[str, int], str] = {}
    for entry in live:
        said = entry.said
        assert isinstance(said, Tightened)
        tally = source.state.tallies.get(said.fastener)
        if tally and said.index in tally.tight:
            turned = _turn_after(source.book, said)
            open_round = ids.round(said.fastener, said.index, said.round) in source.state.items
            if turned and not open_round:
                newest[said.fastener, said.index] = entry.id
    return set(newest.values())


def _turn_after(book: Book, said: Tightened) -> bool:
    fastener = book.fasteners.get(said.fastener)
    figures = rounds(fastener) if fastener else ()
    after = figures[said.round : said.round + 1] if said.round else ()
    return any(book.figures[name].quantity == "angle" for name in after)


def _wrench_mark(
    source: Source, entry: Entry, said: Tightened, *, stands: bool
) -> Iterator[WrenchMark]:
    """None where no torque was told: the fastener kept turning."""
    got = said.value_nm if said.value_nm is not None else said.set_nm
    if got is None:
        return
    fastener = source.book.fasteners.get(said.fastener)
    rule = source.state.figure_rules.get(said.figure or (fastener.figure if fastener else "") or "")
    span = rule.span if rule else None
    words = fastener.text if fastener else said.fastener
    several = fastener is not None and fastener.count > 1
    yield WrenchMark(
        **_of(source, "wrench", entry.id),
        machine=source.visit.machine,
        wrench=UUID(said.wrench),
        entry=UUID(entry.id),
        fastener=said.fastener,
        place=said.index,
        words=f"{words}, {said.index} of {fastener.count}" if several and fastener else words,
        safety=bool(fastener and fastener.safety),
        on=_day(entry.at),
        at=entry.instant,
        figure_nm=span.value if span else None,
        low_nm=span.low if span else None,
        high_nm=span.high if span else None,
        shown_nm=got if said.set_nm is None else said.set_nm,
        got_nm=got,
        stands=stands,
    )


def _waste(source: Source) -> Iterator[WasteRow]:
    for one in source.state.drains:
        yield WasteRow(
            **_of(source, "waste", one.entry, one.fluid),
            machine=source.visit.machine,
            container=UUID(one.container) if one.container else None,
            into=one.into[:400],
            fluid=one.fluid,
            family=one.family[:40],
            volume_ml=one.volume_ml,
            on=_day(one.at),
            step=one.step,
            entry=UUID(one.entry),
        )


def _of(source: Source, *names: str) -> dict[str, object]:
    """Id, shop and visit of a row: the id follows from the visit and what the row is about."""
    visit = source.visit
    return {"id": uuid5(visit.pk, "/".join(names)), "shop_id": visit.shop_id, "visit": visit}


def _day(local_time: str) -> date:
    """The day where it was written down."""
    return datetime.fromisoformat(local_time).date()
