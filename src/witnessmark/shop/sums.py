"""Sums over all visits of a shop, kept beside the rows that they are sums of: no page adds up the years.

`add` keeps them while the rows of a visit change, in the same transaction; `rebuild` makes them again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal
from uuid import UUID, uuid5

from django.db import connection, transaction
from django.db.models import Count, F, Model

from witnessmark.shop.models import (
    ProjectionRow,
    Shop,
    WasteLevel,
    WasteMove,
    WasteRow,
    WrenchDay,
    WrenchMark,
)

SUMMED = (WrenchMark, WasteRow)
SUMS: tuple[type[ProjectionRow], ...] = (WrenchDay, WasteLevel)
NL_PER_ML = 1_000_000


@dataclass(frozen=True)
class Key:
    """Which sum: its table, its shop, and what it is the sum of."""

    model: type[ProjectionRow]
    shop: UUID
    of: UUID | None  # a wrench, or a container
    on: date | None = None

    @property
    def pk(self) -> UUID:
        """Its id follows from what it is."""
        return uuid5(self.shop, f"{self.model._meta.model_name}/{self.of or ''}/{self.on or ''}")

    @property
    def fields(self) -> dict[str, Any]:
        """What its row says beside the amounts."""
        said = {"shop_id": self.shop}
        if self.model is WrenchDay:
            return {**said, "wrench": self.of, "on": self.on}
        return {**said, "container": self.of}


Amounts = dict[Key, Counter[str]]


def nanolitres(volume_ml: float) -> int:
    """A volume as it is added up."""
    return round(volume_ml * NL_PER_ML)


def add(made: Iterable[ProjectionRow], gone: Iterable[ProjectionRow] = ()) -> None:
    """Count rows that were made, and no longer those that are gone. Call it in the transaction that changes them."""
    amounts: Amounts = {}
    for sign, rows in ((1, made), (-1, gone)):
        for row in rows:
            for key, name, amount in _shares(row):
                amounts.setdefault(key, Counter())[name] += sign * amount
    for key in sorted(amounts, key=lambda one: str(one.pk)):  # locked in one order
        _add(key, {name: n for name, n in amounts[key].items() if n})


def moved(container: UUID, shop: UUID) -> None:
    """Add up again what was put into a container by hand and collected from it."""
    key = Key(WasteLevel, shop, container)
    with transaction.atomic():
        _row(key)
        row = WasteLevel.objects.select_for_update().get(pk=key.pk)
        row.moved_nl = _moved(WasteMove.objects.filter(container=container))
        row.save(update_fields=["moved_nl"])


def keep_moved(instance: WasteMove, **signal: Any) -> None:
    """Receiver: a move was written down, taken back or deleted."""
    moved(instance.container_id, instance.shop_id)


def wanted(shop: Shop) -> dict[Key, dict[str, int]]:
    """Every sum of a shop, from the rows themselves."""
    found: Amounts = {}
    marks = WrenchMark.objects.filter(shop=shop).order_by().values_list("wrench", "on")
    for wrench, on, number in marks.annotate(Count("id")):
        found[Key(WrenchDay, shop.pk, wrench, on)] = Counter(marks=number)
    drained = WasteRow.objects.filter(shop=shop).order_by().values_list("container", "volume_ml")
    for into, volume in drained.iterator():
        sums = found.setdefault(Key(WasteLevel, shop.pk, into), Counter())
        sums.update(drains=1, drained_nl=nanolitres(volume))
    moves = WasteMove.objects.filter(shop=shop)
    for container in moves.order_by().values_list("container", flat=True).distinct():
        key = Key(WasteLevel, shop.pk, container)
        by_hand = _moved(moves.filter(container=container))
        found.setdefault(key, Counter()).update(moved_nl=by_hand)
    return {key: {name: n for name, n in sums.items() if n} for key, sums in found.items()}


def differing(shop: Shop) -> Iterator[tuple[type[ProjectionRow], str]]:
    """Where a sum is not what its rows add up to: the table, and in words."""
    expected = {key.pk: (key, sums) for key, sums in wanted(shop).items()}
    for model in SUMS:
        here = {row.pk: _told(row) for row in model._default_manager.filter(shop=shop)}
        due = {pk: sums for pk, (key, sums) in expected.items() if key.model is model}
        wrong = [pk for pk in here.keys() | due.keys() if here.get(pk, {}) != due.get(pk, {})]
        if wrong:
            yield model, f"{len(wrong)} not what its rows add up to"


@transaction.atomic
def rebuild(shop: Shop) -> None:
    """Make the sums of a shop again."""
    for model in SUMS:  # who changes rows meanwhile waits, then adds to what is made here
        lock_table(model, "SHARE ROW EXCLUSIVE")
    expected = wanted(shop)
    for model in SUMS:
        model._default_manager.filter(shop=shop).delete()
        model._default_manager.bulk_create(
            [
                model(id=key.pk, **key.fields, **sums)
                for key, sums in expected.items()
                if key.model is model
            ],
            batch_size=500,
        )


def are_there() -> bool:
    """Whether the database has the tables: it may have been taken back to before them."""
    return SUMS[0]._meta.db_table in connection.introspection.table_names()


def lacking(shop: Shop) -> bool:
    """Whether there is something to add up, and no sum at all."""
    summed = any(
        model._default_manager.filter(shop=shop).exists() for model in (*SUMMED, WasteMove)
    )
    return summed and not any(model._default_manager.filter(shop=shop).exists() for model in SUMS)


def lock_table(model: type[Model], mode: Literal["ROW EXCLUSIVE", "SHARE ROW EXCLUSIVE"]) -> None:
    """Wait until nobody else writes there, and keep others out until the transaction ends.

    With "ROW EXCLUSIVE" only those who lock out others. On SQLite there is but one who writes at all.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            table = connection.ops.quote_name(model._meta.db_table)
            cursor.execute(f"LOCK TABLE {table} IN {mode} MODE")


# ---------------------------------------------------------------- parts


def _shares(row: ProjectionRow) -> Iterator[tuple[Key, str, int]]:
    if isinstance(row, WrenchMark):
        yield Key(WrenchDay, row.shop_id, row.wrench, row.on), "marks", 1
    elif isinstance(row, WasteRow):
        key = Key(WasteLevel, row.shop_id, row.container)
        yield key, "drains", 1
        yield key, "drained_nl", nanolitres(row.volume_ml)


def _add(key: Key, amounts: Mapping[str, int]) -> None:
    more = {name: F(name) + n for name, n in amounts.items()}
    rows = key.model._default_manager.filter(pk=key.pk)
    if more and not rows.update(**more):
        _row(key)
        rows.update(**more)


def _row(key: Key) -> None:
    key.model._default_manager.get_or_create(pk=key.pk, defaults=key.fields)


def _moved(moves: Any) -> int:
    standing = moves.filter(taken_back_at=None).order_by().values_list("kind", "volume_ml")
    return sum(
        -nanolitres(volume) if kind == WasteMove.Kind.COLLECTED else nanolitres(volume)
        for kind, volume in standing
    )


def _told(row: ProjectionRow) -> dict[str, int]:
    names = ("marks",) if isinstance(row, WrenchDay) else ("drains", "drained_nl", "moved_nl")
    return {name: n for name in names if (n := getattr(row, name))}
