"""Verify a whole store: visits, what is kept under its hash, what follows from the entries, the anchors.

It only reads, each hundred visits in one view of the database, so the pages may go on meanwhile.
"""

import gc
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import Any
from uuid import UUID

from django.db import DatabaseError, connection, transaction
from django.db.models import Model

from witnessmark.kept_versions import KeptError
from witnessmark.ledger import entry as ledger
from witnessmark.ledger.anchor import Anchor, anchored
from witnessmark.ledger.seal import Head, seal_hash
from witnessmark.ledger.seal import Seal as SealMade
from witnessmark.ledger.verify import CUT_OFF, VerifyFault, VisitRow, verify
from witnessmark.shop import anchors, projections, store, sums
from witnessmark.shop import last_seals as beside
from witnessmark.shop.folded import fold
from witnessmark.shop.models import (
    BookRevision,
    DocumentKept,
    DoubtfulMark,
    Entry,
    EstimateKept,
    PhotoKept,
    PlanKept,
    Seal,
    Shop,
    Visit,
)
from witnessmark.shop.verifying_content import (
    RESTORE,
    WORDS,
    Report,
    VisitFault,
    sound_content,
)
from witnessmark.shop.work import doubtful, issuing

NAMED: dict[tuple[str, str], type[Model]] = {  # what an entry names by its hash
    ("book_pinned", "revision"): BookRevision,
    ("offered", "estimate"): EstimateKept,
    ("answered", "estimate"): EstimateKept,
    ("plan_taken", "plan"): PlanKept,
    ("issued", "document"): DocumentKept,
    ("photo", "sha256"): PhotoKept,
    ("figure_set", "photo"): PhotoKept,
    ("overridden", "signature"): PhotoKept,
}
AT_ONCE = 100  # visits
REBUILD = (
    "`witnessmark rebuild` makes them again; if there was no update, find out who changed them"
)


@dataclass(frozen=True)
class Known:
    """What visits are held against: heads known from outside the database, and what is here as it was kept."""

    heads: Mapping[str, Sequence[Head]]
    acknowledged: Mapping[str, Head]
    sound: Mapping[type[Model], Collection[tuple[UUID, str]]]  # shop and hash


def of_visits(shop: Shop | None = None) -> Iterator[tuple[Visit, VerifyFault]]:
    """The faults of the visits, each held against itself and what is kept, without anchors."""
    report = Report()
    known = Known({}, {}, sound_content(report, shop, None))
    for visit, fault in _visits(report, shop, known, ()):
        if fault.grave:
            yield visit, fault


def report_of(
    at: anchors.Places,
    shop: Shop | None = None,
    trusted: Collection[str] = (),
    *,
    since_anchor: bool = False,
) -> Report:
    """Verify all that is kept. What lies outside the database is read first: it can only be behind.

    `since_anchor`: leave out visits whose newest seal is the one last anchored, and documents and
    photos that were kept before that; nothing is left out where the anchors are not sound.
    """
    often = gc.get_threshold()
    gc.set_threshold(100_000)  # a quarter of the time else: what is read here makes no cycles
    try:
        return _report_of(at, shop, trusted, since_anchor=since_anchor)
    finally:
        gc.set_threshold(*often)


def _report_of(
    at: anchors.Places, shop: Shop | None, trusted: Collection[str], *, since_anchor: bool
) -> Report:
    report = Report()
    every, faults = anchors.known(at, trusted)
    acknowledged, unread = beside.read()
    report.told += [VisitFault(None, fault) for fault in (*faults, *unread)]
    report.checked["anchors"] = len(every)
    report.checked["acknowledged heads"] = len(acknowledged)
    good = every and not any(fault.grave for fault in faults)
    last = every[-1] if since_anchor and good else None
    known = Known(anchored(every), acknowledged, sound_content(report, shop, last))
    unchanged = _as_anchored(known) if last else set()
    report.told += [
        VisitFault(visit, fault) for visit, fault in _visits(report, shop, known, unchanged)
    ]
    report.told += [VisitFault(None, fault) for fault in _gone(every, known)]
    report.told += [VisitFault(None, fault) for one in _shops(shop) for fault in _together(one)]
    return report


def _as_anchored(known: Known) -> set[UUID]:
    newest = anchors.newest_seals().items()
    return {
        UUID(visit)
        for visit, seal in newest
        if (heads := known.heads.get(visit)) and heads[-1].seal == seal_hash(seal)
    }


def _gone(every: Sequence[Anchor], known: Known) -> Iterator[VerifyFault]:
    """Visits that are known from outside and are not here; and whether anything would tell of them."""
    numbers = {str(key): number for key, number in Visit.objects.values_list("pk", "number")}
    yield from anchors.visits(every, numbers)
    for visit, head in known.acknowledged.items():
        if visit not in numbers:
            problem = f"was acknowledged up to seal {head.number}, and is not in the database"
            yield VerifyFault(place=f"visit {visit}", problem=problem, expected=CUT_OFF)
    orphans = Entry.objects.exclude(visit__in=Visit.objects.all()).values_list("visit", flat=True)
    for key in orphans.distinct():
        yield VerifyFault(place=f"visit {key}", problem="has entries, but its own row is gone")
    if not beside.files() and Seal.objects.exists():
        problem = "is not there: entries acknowledged last may be missing, and nothing would tell"
        expected = (
            "copy the whole folder, or restore a backup; `witnessmark anchor` begins it anew "
            "where this store is the one that the pages use"
        )
        yield VerifyFault(place=str(beside.file()), problem=problem, expected=expected)


# ---------------------------------------------------------------- visits


def _visits(
    report: Report, shop: Shop | None, known: Known, leave_out: Collection[UUID]
) -> Iterator[tuple[Visit, VerifyFault]]:
    visits = Visit.objects.filter(**({"shop": shop} if shop else {}))
    keys = list(visits.order_by("shop", "number").values_list("pk", flat=True))
    if leave_out:
        report.checked["visits as the last anchor has them, not read"] = len(leave_out)
    keys = [key for key in keys if key not in leave_out]
    for first in range(0, len(keys), AT_ONCE):
        with snapshot():
            told = list(_some(report, keys[first : first + AT_ONCE], known))
        yield from told


def _some(
    report: Report, keys: Sequence[UUID], known: Known
) -> Iterator[tuple[Visit, VerifyFault]]:
    rows = Visit.objects.filter(pk__in=keys).select_related("shop", "machine")
    models: list[type[Model]] = [Entry, Seal, *projections.PROJECTIONS]
    tables = {model: _by_visit(model, keys) for model in models}
    for visit in rows.order_by("shop", "number"):
        report.checked["visits"] += 1
        mine = {model: by_visit.get(visit.pk, []) for model, by_visit in tables.items()}
        for fault in _one(report, visit, mine, known):
            yield visit, fault


def _by_visit(model: type[Model], keys: Sequence[UUID]) -> dict[UUID, list[Any] | VerifyFault]:
    """Rows by visit, as named tuples; a fault in their place where the database cannot give them."""
    found: dict[UUID, Any] = {}
    rows = model._default_manager.filter(visit__in=keys).order_by()
    try:
        for row in rows.values_list(*_names(model), named=True):
            found.setdefault(row.visit_id, []).append(row)
    except (DatabaseError, ValueError, RecursionError) as error:
        if len(keys) == 1:
            place = f"its rows in {model._meta.db_table}"
            return {keys[0]: VerifyFault(place=place, problem=f"cannot be read: {error}")}
        found = {}
        for key in keys:
            found |= _by_visit(model, [key])
    return found


@cache
def _names(model: type[Model]) -> list[str]:
    return [field.attname for field in model._meta.concrete_fields]


def _one(
    report: Report, visit: Visit, tables: Mapping[type[Model], Any], known: Known
) -> Iterator[VerifyFault]:
    unread = [rows for rows in tables.values() if isinstance(rows, VerifyFault)]
    if unread:
        yield from unread
        return
    key = str(visit.pk)
    faults: list[VerifyFault] = []
    seals = sorted(tables[Seal], key=lambda row: row.number)
    number_of = {row.entry_id: row.number for row in seals}
    rows = sorted(tables[Entry], key=lambda row: number_of.get(row.id, len(number_of) + row.seq))
    every, hashes = _readable(rows, faults)
    faults += verify(
        every,
        list(_sealed(seals, faults)),
        known.heads.get(key, ()),
        hashes=hashes,
        entry_of={row.number: str(row.entry_id) for row in seals},
        row=_row(visit),
        acknowledged=known.acknowledged.get(key),
    )
    faults += _named(visit, every, known)
    if not any(fault.grave for fault in faults):  # else they could not agree
        faults += _following(visit, every, seals[-1] if seals else None, tables)
    report.checked["entries"] += len(rows)
    report.checked["seals"] += len(seals)
    report.checked["rows that follow from them"] += sum(
        len(tables[model]) for model in projections.PROJECTIONS
    )
    if every and not any(e.body.get("number") for e in every if e.kind == "arrived"):
        report.checked["visits begun before an entry named their number and rule"] += 1
    yield from faults


def _row(visit: Visit) -> VisitRow:
    return VisitRow(
        shop=str(visit.shop_id),
        visit=str(visit.pk),
        number=visit.number,
        machine=str(visit.machine_id),
        refuse_unproven_wrench=visit.refuse_unproven_wrench,
    )


def _readable(
    rows: Iterable[Any], faults: list[VerifyFault]
) -> tuple[list[ledger.Entry], dict[str, str]]:
    """The entries that can be read, and their hashes; the rest is told."""
    every, hashes = [], {}
    for row in rows:
        place = f"entry {row.id} ({row.kind})"
        try:
            entry = store.entry_of_row(row)
            hashes[entry.id] = ledger.kept_hash(entry, row.body)
            every.append(entry)
        except KeptError as error:
            faults.append(VerifyFault(place=place, problem=error.problem, expected=error.expected))
        except (ValueError, RecursionError) as error:
            faults.append(VerifyFault(place=place, problem=f"cannot be read: {error}"))
    return every, hashes


def _sealed(rows: Iterable[Any], faults: list[VerifyFault]) -> Iterator[SealMade]:
    for row in rows:
        try:
            yield store.sealed(row)
        except ValueError as error:
            faults.append(
                VerifyFault(place=f"seal {row.number}", problem=f"cannot be read: {error}")
            )


def _named(visit: Visit, every: Sequence[ledger.Entry], known: Known) -> Iterator[VerifyFault]:
    """Entries that name something by its hash that is not here as it was kept."""
    erased = {e.body.get("sha256") for e in every if e.kind == "erased"}
    for entry in every:
        for (kind, name), model in NAMED.items():
            sha256 = entry.body.get(name) if entry.kind == kind else None
            if not sha256 or (visit.shop_id, sha256) in known.sound[model] or sha256 in erased:
                continue
            problem = f"names {WORDS[model]} {sha256}, which is not here as it was kept"
            yield VerifyFault(place=f"entry {entry.id} ({kind})", problem=problem, expected=RESTORE)


def _following(
    visit: Visit, every: list[ledger.Entry], last: Any, tables: Mapping[type[Model], list[Any]]
) -> Iterator[VerifyFault]:
    """The rows that follow from the entries, against the same made anew."""
    try:
        read = fold(visit, every, None)
        source = store.source(visit, read, last.at if last else None)
        wanted = list(projections.rows(source)) if every else []
    except Exception as error:  # noqa: BLE001 - whatever it is, the next visit is looked at
        problem = f"cannot be made from its entries: {type(error).__name__}: {error}"
        yield VerifyFault(
            place="its tables", problem=problem, expected="tell who keeps this program"
        )
        return
    for model in projections.PROJECTIONS:
        here = {row.id: row._asdict() for row in tables[model]}
        expected = {row.pk: _values(row) for row in wanted if type(row) is model}
        problem = ", ".join(_differences(here, expected))
        if problem:
            yield VerifyFault(
                place=f"its rows in {model._meta.db_table}", problem=problem, expected=REBUILD
            )


def _shops(shop: Shop | None) -> Sequence[Shop]:
    return [shop] if shop else list(Shop.objects.all())


def _together(shop: Shop) -> Iterator[VerifyFault]:
    """What follows from the visits of a shop together, against the same made anew."""
    with snapshot():
        told: list[tuple[type[Model], str]] = list(sums.differing(shop))
        told += [(DoubtfulMark, words) for words in doubtful.differing(shop)]
        missing = issuing.gaps(shop)
    for model, problem in told:
        place = f"its rows in {model._meta.db_table}"
        yield VerifyFault(place=place, problem=problem, expected=REBUILD)
    for words in missing:
        yield VerifyFault(place="numbers of documents", problem=words, expected=RESTORE)


def _differences(here: Mapping[UUID, Any], expected: Mapping[UUID, Any]) -> Iterator[str]:
    missing, strange = expected.keys() - here.keys(), here.keys() - expected.keys()
    if missing:
        yield f"{len(missing)} missing"
    if strange:
        yield f"{len(strange)} that do not follow from its entries"
    for key in expected.keys() & here.keys():
        names = [name for name, value in expected[key].items() if here[key][name] != value]
        if names:
            yield f"one differs in {', '.join(names)}"


def _values(row: Model) -> dict[str, Any]:
    return {name: getattr(row, name) for name in _names(type(row))}


@contextmanager
def snapshot() -> Iterator[None]:
    """One view of the database for all that is read in it, whatever is written meanwhile."""
    if connection.in_atomic_block:
        yield
        return
    with transaction.atomic():
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        yield
