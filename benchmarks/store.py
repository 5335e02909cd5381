"""A workshop's store of many years: copies of visits that were worked through the project's own doors.

A few visits are brought from arrival to hand-back as the demo's are. Each copy gets ids, a machine and a day of its
own; its entries are chained, sealed, folded and projected by the functions that the pages use, so that
`witnessmark verify` finds nothing wrong with them. All names and figures are invented.
"""

from __future__ import annotations

import json
import random
import re
from dataclasses import dataclass
from datetime import UTC, date, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

import rfc8785
from django.db import transaction
from django.utils import timezone

from witnessmark.facts import add_months
from witnessmark.ledger import entry as ledger
from witnessmark.ledger.seal import Seal as SealMade
from witnessmark.ledger.seal import seal_hash
from witnessmark.ledger.system import new_entry_id
from witnessmark.shop import projections, scenario, store, sums
from witnessmark.shop.folded import fold
from witnessmark.shop.ids import new_id
from witnessmark.shop.models import (
    Entry,
    Machine,
    Member,
    Owner,
    Seal,
    Shop,
    Visit,
    WasteContainer,
    WasteMove,
    Wrench,
    WrenchEvent,
)
from witnessmark.shop.scope import Desk

A_DAY = 4  # visits
COLLECTED_EVERY = 60  # visits
AT_ONCE = 100  # visits made, half as many machines
MOST = 1_000_000  # visits: the oldest has the lowest number
WORKED = {"LY-08-SI": "annual", "LY-55-BR": "drive"}  # machines of the demo whose visits are copied
TURN = (1, 1, 0, 1)  # which of them, in turn
MARKED = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
SYLLABLES = ("ar", "bel", "cor", "dun", "el", "fen", "gar", "hol", "in", "jes", "kel", "lor")


@dataclass(frozen=True)
class Pattern:
    """A visit that was worked through: what is copied."""

    visit: Visit
    entries: tuple[ledger.Entry, ...]
    bodies: tuple[str, ...]  # of its entries, as canonical JSON


@dataclass
class Years:
    """The workshop, and how far back its visits reach."""

    shop: Shop
    patterns: list[Pattern]
    visits: int = 0

    def grow(self, visits: int) -> None:
        """Go back until there are so many visits, in whole hundreds; the checks and collections of that time, too."""
        while self.visits < visits:
            with transaction.atomic():
                _hundred(self, self.visits)
            self.visits += AT_ONCE


def build() -> Years:
    """The demo's workshop in an empty database; what is copied was worked through before its own visits came in."""
    shop = scenario.build(visits=False)
    technician, helper = desks()
    said = {about["plate"]: about for about in scenario.scenario()["machines"]}
    patterns = []
    Visit.objects.bulk_create([_first(shop)])  # the demo's visits are numbered after all others
    for plate, service in WORKED.items():
        machine = Machine.objects.select_related("book__current", "shop").get(plate=plate)
        more = {"stage": "gone", "service": service, "cards": None, "complaint": ""}
        about = {name: value for name, value in (said[plate] | more).items() if name != "answer"}
        scenario.bring(technician, helper, machine, about)
        visit = Visit.objects.select_related("shop", "machine").get(machine=machine)
        patterns.append(pattern_of(visit))
    for plate, about in said.items():
        if "stage" in about:
            machine = Machine.objects.select_related("book__current", "shop").get(plate=plate)
            scenario.bring(technician, helper, machine, about)
    scenario.afterwards(shop)
    return Years(shop, patterns)


def pattern_of(visit: Visit) -> Pattern:
    """A visit as it stands, to be copied."""
    entries = store.folded(visit).entries
    return Pattern(visit, entries, tuple(rfc8785.dumps(entry.body).decode() for entry in entries))


def desks() -> tuple[Desk, Desk]:
    """The demo's head of the shop and its helper, each at a device."""
    members = Member.objects.select_related("shop", "user")
    head, helper = (members.get(user__username=name) for name in ("tamsin", "jonas"))
    return Desk(head, new_id()), Desk(helper, new_id())


def _first(shop: Shop) -> Visit:
    """A visit that nothing was ever written of, to count on from."""
    machine = Machine.objects.filter(shop=shop).order_by("plate")[0]
    return Visit(shop=shop, machine=machine, number=MOST)


# ---------------------------------------------------------------- a hundred visits


def _hundred(years: Years, first: int) -> None:
    shop, chance = years.shop, random.Random(first)
    pairs = [years.patterns[TURN[n % len(TURN)]] for n in range(AT_ONCE // 2)]
    machines = [_machine(shop, pattern, first + n, chance) for n, pattern in enumerate(pairs)]
    Owner.objects.bulk_create([machine.owner for machine in machines if machine.owner])
    Machine.objects.bulk_create(machines)
    visits: list[Visit] = []
    entries: list[Entry] = []
    seals: list[Seal] = []
    rows: list[projections.ProjectionRow] = []
    for n in range(AT_ONCE):
        pattern, machine = pairs[n % len(pairs)], machines[n % len(pairs)]
        back = (first + n) // A_DAY + 1
        visit = Visit(shop=shop, machine=machine, number=MOST - 1 - first - n)
        visits.append(visit)
        copied(pattern, visit, timedelta(days=back), entries, seals, rows)
        if (first + n) % COLLECTED_EVERY == 0:
            _collected(shop, back)
    Visit.objects.bulk_create(visits)
    keep(entries, seals, rows)
    _checks(
        shop, *(timezone.localdate() - timedelta(days=(first + n) // A_DAY) for n in (AT_ONCE, 0))
    )


def keep(entries: list[Entry], seals: list[Seal], rows: list[projections.ProjectionRow]) -> None:
    """Write what `copied` made."""
    Entry.objects.bulk_create(entries, batch_size=500)
    Seal.objects.bulk_create(seals, batch_size=500)
    for model in projections.PROJECTIONS:
        mine = [row for row in rows if type(row) is model]
        model._default_manager.bulk_create(mine, 500)
        if model in sums.SUMMED:
            sums.add(mine)


def _machine(shop: Shop, pattern: Pattern, number: int, chance: random.Random) -> Machine:
    like = pattern.visit.machine
    name = " ".join("".join(chance.choices(SYLLABLES, k=k)).title() for k in (2, 3))
    owner = Owner(shop=shop, name=f"{name} (invented)", phone="555 0100")
    return Machine(
        shop=shop, owner=owner, book_id=like.book_id, maker=like.maker, model=like.model,
        plate=f"{number // 1000:02d}-{number % 1000:03d}-YR", identification=f"YR{number:015d}",
    )  # fmt: skip


def copied(
    pattern: Pattern, visit: Visit, back: timedelta, entries: list[Entry], seals: list[Seal],
    rows: list[projections.ProjectionRow],
) -> None:  # fmt: skip
    """One visit as the pattern was, so many days before it."""
    like, machine, shop = pattern.visit, visit.machine, visit.shop
    ids = {entry.id: new_entry_id() for entry in pattern.entries}
    ids |= {
        str(like.machine_id): str(machine.pk),
        str(like.machine.owner_id): str(machine.owner_id),
    }
    made: list[ledger.Entry] = []
    last: dict[str, str] = {}  # by device: hash of its newest entry
    sealed: SealMade | None = None
    for entry, body in zip(pattern.entries, pattern.bodies, strict=True):
        text = MARKED.sub(lambda found: ids.get(found[0], found[0]), body)
        if entry.kind == "arrived":
            text = rfc8785.dumps(json.loads(text) | {"number": visit.number}).decode()
        local = (entry.instant - back).replace(tzinfo=None)
        at = local.replace(tzinfo=ZoneInfo(shop.time_zone))
        one = entry.model_copy(update={
            "id": ids[entry.id], "visit": str(visit.pk), "at": at.isoformat(timespec="milliseconds"),
            "prev": last.get(entry.device), "body": json.loads(text),
        })  # fmt: skip
        one.__dict__.pop("said", None)  # what the pattern's body said
        last[one.device] = hashed = ledger.kept_hash(one, text)
        sealed = SealMade.model_construct(
            number=sealed.number + 1 if sealed else 1,
            at=at.astimezone(UTC).isoformat(timespec="milliseconds"),
            entry_hash=hashed,
            prev=seal_hash(sealed) if sealed else None,
        )
        row = Entry(
            id=UUID(one.id), shop=shop, visit=visit, kind=one.kind, device=UUID(one.device),
            seq=one.seq, format=one.format, prev=one.prev or "", seen=one.seen,
            author_id=UUID(one.author), at=one.at, body=text,
        )  # fmt: skip
        entries.append(row)
        seals.append(Seal(
            shop=shop, visit=visit, entry=row, number=sealed.number, at=sealed.at,
            entry_hash=sealed.entry_hash, prev=sealed.prev or "",
        ))  # fmt: skip
        made.append(one)
    assert sealed is not None
    read = fold(visit, made, sealed)
    rows.extend(projections.rows(store.source(visit, read, sealed.at)))


def _collected(shop: Shop, back: int) -> None:
    """Whatever holds something is emptied."""
    for container in WasteContainer.objects.filter(shop=shop):
        WasteMove.objects.create(
            shop=shop, container=container, kind=WasteMove.Kind.COLLECTED, volume_ml=50_000.0,
            on=timezone.localdate() - timedelta(days=back), collector="Ashpit Lane (invented)",
        )  # fmt: skip


def _checks(shop: Shop, since: date, until: date) -> None:
    """Each wrench was at a laboratory once a year, and was good."""
    for wrench in Wrench.objects.filter(shop=shop):
        oldest = wrench.events.order_by("on").first()
        if oldest is None:
            continue
        on = oldest.on
        while (on := add_months(on, -12)) > since:
            if on <= until:
                points = [[at, at * 1.01] for at in (wrench.high_nm / 5, wrench.high_nm)]
                WrenchEvent.objects.create(
                    shop=shop, wrench=wrench, kind=WrenchEvent.Kind.LABORATORY, on=on, points=points
                )
