"""The machines of the shop; one machine with its history."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode
from uuid import UUID

from django.http import HttpResponse
from django.urls import reverse
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET

from witnessmark import units
from witnessmark.book import Book
from witnessmark.due import known_as
from witnessmark.facts import LastDone
from witnessmark.ledger.bodies import Arrived
from witnessmark.ledger.entry import Entry
from witnessmark.ledger.state import Finding, VisitState
from witnessmark.shop import content_store, store
from witnessmark.shop.models import (
    DeclinedLine,
    LastDoneKnown,
    Machine,
    ReadingRow,
    Visit,
    VisitSummary,
)
from witnessmark.shop.projections import arrival
from witnessmark.shop.responses import late, show
from witnessmark.shop.scope import Desk, DeskRequest
from witnessmark.shop.work import arriving
from witnessmark.shop.work.frame_and_tyre_numbers import Marked, number_told, tyres_marked
from witnessmark.shop.work.machine_history import last_done
from witnessmark.shop.work.search import machines_by
from witnessmark.shop.work.wearing import FORECAST, worn

MOST_SHOWN = 60
MOST_VISITS = 6  # columns of readings
VERDICTS = {
    "within": gettext_lazy("within limits"),
    "low": gettext_lazy("below its limit"),
    "high": gettext_lazy("above its limit"),
    "bad": gettext_lazy("a finding"),
    "noted": "",
    "limits unknown": gettext_lazy("limits not known"),
    "none": gettext_lazy("never known"),
}


@dataclass(frozen=True)
class JobKnown:
    """A job of the book and when it was last done, as far as it is known."""

    words: str
    last: LastDone

    @property
    def how(self) -> str:
        """How it is known, in words."""
        said = {label.value: str(label.label) for label in LastDoneKnown.Known}
        return said[self.last.known]


@dataclass(frozen=True)
class ReadingLine:
    """One reading over the visits; an empty cell where it was not taken."""

    words: str
    cells: tuple[tuple[str, str], ...]  # value, verdict
    forecast: str = ""  # where to ask when its limit is reached


@dataclass(frozen=True)
class PastVisit:
    """What the ledger of one visit tells."""

    visit: Visit
    entries: Sequence[Entry]
    state: VisitState


@require_GET
def machines(request: DeskRequest) -> HttpResponse:
    """All machines, or those found by plate, owner or model."""
    words = request.GET.get("q", "").strip()[:80]
    rows = list(machines_by(request.desk, words)[: MOST_SHOWN + 1])
    found = arriving.those_here(request.desk, rows[:MOST_SHOWN])
    more = len(rows) > MOST_SHOWN
    return show(request, "machine/list.html", {"q": words, "found": found, "more": more})


@require_GET
def machine(request: DeskRequest, machine: UUID) -> HttpResponse:
    """One machine: what is known of it, from its visits and from what was told."""
    desk = request.desk
    row = desk.get(Machine, machine, "owner", "book__current")
    book = late(_book, desk, row)
    visits = desk.all(VisitSummary).filter(machine=row).select_related("visit", "machine__owner")
    summaries = list(visits.order_by("-visit__number"))
    readings = late(_readings, desk, row, book)
    told = late(_told, desk, row)
    return show(request, "machine/page.html", {
        "machine": row,
        "number": late(number_told, row.identification),
        "tyres": late(_tyres, told),
        "here": arriving.here(desk, row),
        "visits": summaries,
        "jobs": late(_jobs, row, book),
        "readings": readings,
        "declined": desk.all(DeclinedLine).filter(machine=row).select_related("visit").order_by("-on"),
        "findings": late(_findings, told),
        "odometers": [s for s in summaries if s.odometer_km is not None],
    })  # fmt: skip


def _book(desk: Desk, row: Machine) -> Book | None:
    return content_store.book_of(desk.shop, row.book.current.sha256) if row.book else None


def _jobs(row: Machine, book: Book | None) -> list[JobKnown]:
    """Every job of the book, and others that were told of."""
    known = last_done(row)
    jobs = book.jobs if book else {}
    names = {name: known_as(name, job, known) for name, job in jobs.items()}
    every = [
        JobKnown(jobs[name].text, known.get(was, LastDone(name, "never")))
        for name, was in names.items()
    ]
    others = {name: last for name, last in known.items() if name not in names.values()}
    return every + [JobKnown(name.replace("_", " "), last) for name, last in others.items()]


def _findings(told: list[PastVisit]) -> list[tuple[Visit, Finding]]:
    return [(one.visit, finding) for one in told for finding in one.state.findings]


def _readings(desk: Desk, row: Machine, book: Book | None) -> tuple[list[Visit], list[ReadingLine]]:
    """The newest visits with readings, and one line per reading."""
    taken = list(desk.all(ReadingRow).filter(machine=row).select_related("visit"))
    by_number = {one.visit.number: one.visit for one in taken}
    columns = [by_number[number] for number in sorted(by_number, reverse=True)][:MOST_VISITS]
    lines: dict[tuple[str, int], dict[int, ReadingRow]] = {}
    for one in taken:
        lines.setdefault((one.reading, one.place), {})[one.visit.number] = one
    made = [
        ReadingLine(
            _reading_words(book, *key),
            tuple(_cell(cells.get(v.number), book) for v in columns),
            _forecast(worn(cells.values(), book)),
        )
        for key, cells in lines.items()
    ]
    return columns, made


def _forecast(put_in: Mapping[str, str]) -> str:
    """Where to ask when the limit is reached; empty where there is nothing to ask."""
    path = reverse("calculator", args=[FORECAST])
    return f"{path}?{urlencode(put_in)}" if put_in else ""


def _reading_words(book: Book | None, name: str, place: int) -> str:
    rule = book.readings.get(name) if book else None
    words = rule.text if rule else name.replace("_", " ")
    return f"{words}, {place}" if rule and rule.repeat > 1 else words


def _cell(one: ReadingRow | None, book: Book | None) -> tuple[str, str]:
    if one is None:
        return "", ""
    if one.value is None:
        return one.words, str(VERDICTS[one.verdict])
    if one.quantity == "words":  # a value of a reading that the book does not know
        return f"{one.value:g}", str(VERDICTS[one.verdict])
    rule = book.readings.get(one.reading) if book else None
    unit = rule.unit if rule and rule.quantity == one.quantity else None
    return units.show(one.value, one.quantity, unit=unit or None), str(VERDICTS[one.verdict])  # type: ignore[arg-type]


def _told(desk: Desk, row: Machine) -> list[PastVisit]:
    """The ledgers of its visits, each read once, newest visit first."""
    visits = desk.all(Visit).filter(machine=row).select_related("shop", "machine")
    return [
        PastVisit(visit, read.entries, read.state)
        for visit in visits
        for read in [store.reading(visit)]
    ]


def _tyres(told: list[PastVisit]) -> list[Marked]:
    """The tyres as marked at the newest arrival that tells of one."""
    for one in told:
        entry = arrival(one.entries, one.state)
        marked = tyres_marked(entry.said.look) if entry and isinstance(entry.said, Arrived) else []
        if marked:
            return marked
    return []
