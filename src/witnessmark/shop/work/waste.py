"""The shop's waste containers, how full they are, and everything that went in or was collected."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from witnessmark.errors import WitnessError
from witnessmark.fluids.waste import Container, choose, stream_of, why_not_into
from witnessmark.shop.models import Shop, WasteContainer, WasteLevel, WasteMove, WasteRow
from witnessmark.shop.sums import NL_PER_ML

A_PAGE = 50  # lines, and the rest of the last day
HAIR_ML = 1 / NL_PER_ML  # levels are rounded to it


class WasteError(WitnessError):
    """Waste that does not belong where it was to go."""


@dataclass(frozen=True)
class WasteLine:
    """One line of the waste log. ``volume_ml`` is negative where it was collected."""

    on: date
    container: str  # its name
    container_id: str  # empty: none of this list
    family: str
    volume_ml: float
    words: str
    number: int | None = None  # of the visit it was drained on
    move: WasteMove | None = None

    @property
    def amount(self) -> float:
        """How much, whichever way it went."""
        return abs(self.volume_ml)


@dataclass(frozen=True)
class Page:
    """Lines of whole days, the newest first; the days from which it goes on, None where there is nothing more."""

    lines: list[WasteLine]
    newer: date | None = None  # there is more after this day,
    older: date | None = None  # before this day


def containers(shop: Shop) -> list[Container]:
    """The containers in use, each with its level: what went in less what was collected."""
    levels = {row.container: row for row in WasteLevel.objects.filter(shop=shop)}
    rows = WasteContainer.objects.filter(shop=shop, retired_on=None)
    return [_container(row, levels.get(row.pk)) for row in rows]


def as_container(row: WasteContainer) -> Container:
    """One container with its level, also one out of use."""
    return _container(row, WasteLevel.objects.filter(shop=row.shop_id, container=row.pk).first())


def _container(row: WasteContainer, level: WasteLevel | None) -> Container:
    there = (level.drained_nl + level.moved_nl) / NL_PER_ML if level else 0.0
    return Container(str(row.pk), row.name, row.stream, row.capacity_ml, there)


def level_of(row: WasteContainer) -> float:
    """What is in one container, in mL."""
    return as_container(row).level_ml


def into_none(shop: Shop) -> int:
    """How many drains went into no container."""
    row = WasteLevel.objects.filter(shop=shop, container=None).first()
    return row.drains if row else 0


def into(shop: Shop, family: str, volume_ml: float, chosen: str = "") -> Container | None:
    """The container for a drained fluid: the one chosen, else by its family; None where there is none.

    Raises WasteError for one it never goes into, and for one that the shop does not have.
    """
    every = containers(shop)
    if not chosen:
        return choose(family, volume_ml, every)
    found = next((one for one in every if one.id == chosen), None)
    if found is None:
        problem = _("the shop has no such container")
        raise WasteError("container", problem, _("choose one of the list"))
    why = why_not_into(family, found.stream)
    if why:
        expected = _("choose one for {stream}").format(stream=stream_of(family))
        raise WasteError("container", f"{found.name}: {why}", expected)
    return found


def log(shop: Shop) -> list[WasteLine]:
    """Everything that went in or was collected, newest first."""
    return _lines(shop, *_rows(shop))


def page(
    shop: Shop,
    container: WasteContainer | None = None,
    before: date | None = None,
    after: date | None = None,
) -> Page:
    """A page of the log, of all or of one container: the newest days, those before a day, or those next after one."""
    every = _rows(shop, container)
    days = _days(every, before, after)
    if not days:
        return page(shop, container) if before or after else Page([])
    first, last = days[0], days[-1]
    within = [rows.filter(on__gte=first, on__lte=last) for rows in every]
    newer = any(rows.filter(on__gt=last).exists() for rows in every)
    older = any(rows.filter(on__lt=first).exists() for rows in every)
    lines = _lines(shop, *within)
    return Page(lines, last if newer else None, first if older else None)


def _days(every: Iterable[Any], before: date | None, after: date | None) -> list[date]:
    """The days of a page's lines, oldest first; the page reads no more of the log than that."""
    forward = after is not None
    beyond = {"on__gt": after} if after else {"on__lt": before} if before else {}
    found: list[date] = []
    for rows in every:
        in_order = rows.filter(**beyond).order_by("on" if forward else "-on")
        found += in_order.values_list("on", flat=True)[:A_PAGE]
    found.sort(reverse=not forward)
    return sorted(found[:A_PAGE])


def _rows(shop: Shop, container: WasteContainer | None = None) -> tuple[Any, Any]:
    """What was drained at the bench, and what was moved by hand and not taken back."""
    of = {"shop": shop} if container is None else {"shop": shop, "container": container.pk}
    return WasteRow.objects.filter(**of), WasteMove.objects.filter(taken_back_at=None, **of)


def _lines(shop: Shop, drained: Any, moves: Any) -> list[WasteLine]:
    names = {str(row.pk): row.name for row in WasteContainer.objects.filter(shop=shop)}
    lines = [*_drained(drained, names), *_by_hand(moves, names)]
    return sorted(lines, key=lambda line: line.on, reverse=True)


def _drained(rows: Any, names: dict[str, str]) -> Iterator[WasteLine]:
    for row in rows.select_related("visit", "machine").order_by("-on", "-visit__number"):
        container = names.get(str(row.container), row.into or _("no container"))
        words = _("visit {number}, {machine}").format(number=row.visit.number, machine=row.machine)
        key = str(row.container) if str(row.container) in names else ""
        yield WasteLine(row.on, container, key, row.family, row.volume_ml, words, row.visit.number)


def _by_hand(moves: Any, names: dict[str, str]) -> Iterator[WasteLine]:
    for move in moves.order_by("-on", "-made_at"):
        collected = move.kind == WasteMove.Kind.COLLECTED
        parts = [move.get_kind_display(), move.collector, move.paper, move.note]
        words = ", ".join(part for part in parts if part)
        volume = -move.volume_ml if collected else move.volume_ml
        key = str(move.container_id)
        yield WasteLine(move.on, names[key], key, move.family, volume, words, None, move)


COLUMNS = ("date", "container", "fluid", "millilitres", "what")


def cells(lines: Iterable[WasteLine]) -> Iterator[tuple[str, ...]]:
    """The log as rows under `COLUMNS`, oldest first; what was collected is negative."""
    for line in sorted(lines, key=lambda line: line.on):
        volume = f"{line.volume_ml:g}"
        yield line.on.isoformat(), line.container, line.family, volume, line.words
