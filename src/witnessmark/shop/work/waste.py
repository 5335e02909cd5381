"""The shop's waste containers, how full they are, and everything that went in or was collected."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from witnessmark.errors import WitnessError
from witnessmark.fluids.waste import Container, choose, level, stream_of, why_not_into
from witnessmark.shop.models import Shop, WasteContainer, WasteMove, WasteRow


class WasteError(WitnessError):
    """Waste that does not belong where it was to go."""


@dataclass(frozen=True)
class Line:
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


def containers(shop: Shop) -> list[Container]:
    """The containers in use, each with its level: what went in less what was collected, exactly."""
    inside = _levels(shop)
    rows = WasteContainer.objects.filter(shop=shop, retired_on=None)
    return [_container(row, inside) for row in rows]


def as_container(row: WasteContainer) -> Container:
    """One container with its level, also one out of use."""
    return _container(row, _levels(row.shop))


def _container(row: WasteContainer, inside: dict[str, float]) -> Container:
    there = inside.get(str(row.pk), 0.0)
    return Container(str(row.pk), row.name, row.stream, row.capacity_ml, there)


def level_of(row: WasteContainer) -> float:
    """What is in one container, in mL."""
    return as_container(row).level_ml


def _levels(shop: Shop) -> dict[str, float]:
    """What is in each container that anything was ever put into or collected from."""
    put_in: dict[str, list[float]] = defaultdict(list)
    collected: dict[str, list[float]] = defaultdict(list)
    drained = WasteRow.objects.filter(shop=shop).exclude(container=None)
    for key, volume in drained.values_list("container", "volume_ml"):
        put_in[str(key)].append(volume)
    for move in WasteMove.objects.filter(shop=shop, taken_back_at=None):
        way = collected if move.kind == WasteMove.Kind.COLLECTED else put_in
        way[str(move.container_id)].append(move.volume_ml)
    return {key: level(put_in[key], collected[key]) for key in [*put_in, *collected]}


def into(shop: Shop, family: str, volume_ml: float, chosen: str = "") -> Container | None:
    """The container for a drained fluid: the one chosen, else by its family; None where there is none.

    Raises WasteError for one it never goes into, and for one that the shop does not have.
    """
    every = containers(shop)
    if not chosen:
        return choose(family, volume_ml, every)
    found = next((one for one in every if one.id == chosen), None)
    if found is None:
        raise WasteError("container", "the shop has no such container", "choose one of the list")
    why = why_not_into(family, found.stream)
    if why:
        raise WasteError("container", f"{found.name}: {why}", f"choose one for {stream_of(family)}")
    return found


def log(shop: Shop) -> list[Line]:
    """Everything that went in or was collected, newest first."""
    names = {str(row.pk): row.name for row in WasteContainer.objects.filter(shop=shop)}
    lines = [*_drained(shop, names), *_by_hand(shop, names)]
    return sorted(lines, key=lambda line: line.on, reverse=True)


def _drained(shop: Shop, names: dict[str, str]) -> Iterator[Line]:
    rows = WasteRow.objects.filter(shop=shop).select_related("visit", "machine")
    for row in rows.order_by("-on", "-visit__number"):
        container = names.get(str(row.container), row.into or "no container")
        words = f"visit {row.visit.number}, {row.machine}"
        key = str(row.container) if str(row.container) in names else ""
        yield Line(row.on, container, key, row.family, row.volume_ml, words, row.visit.number)


def _by_hand(shop: Shop, names: dict[str, str]) -> Iterator[Line]:
    for move in WasteMove.objects.filter(shop=shop, taken_back_at=None).order_by("-on", "-made_at"):
        collected = move.kind == WasteMove.Kind.COLLECTED
        parts = [move.get_kind_display(), move.collector, move.paper, move.note]
        words = ", ".join(part for part in parts if part)
        volume = -move.volume_ml if collected else move.volume_ml
        key = str(move.container_id)
        yield Line(move.on, names[key], key, move.family, volume, words, None, move)


COLUMNS = ("date", "container", "fluid", "millilitres", "what")


def cells(lines: Iterable[Line]) -> Iterator[tuple[str, ...]]:
    """The log as rows under `COLUMNS`, oldest first; what was collected is negative."""
    for line in sorted(lines, key=lambda line: line.on):
        volume = f"{line.volume_ml:g}"
        yield line.on.isoformat(), line.container, line.family, volume, line.words
