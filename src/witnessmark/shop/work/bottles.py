"""The bottles and waste containers of a card: what is offered, what is refused and why, what was said.

Nothing has to be tapped: the first bottle that is allowed and the container for the fluid's family
stand, unless others are chosen.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from witnessmark import units
from witnessmark.fluids import Bottle, BottleFit, judge, wanted
from witnessmark.fluids.bottle import HYDRAULIC
from witnessmark.fluids.drain import Drains, drains
from witnessmark.fluids.waste import Container, choose, why_not_into
from witnessmark.kit.fluids import pour
from witnessmark.shop.forms import in_words
from witnessmark.shop.models import StockPack
from witnessmark.shop.work import waste
from witnessmark.shop.work.cards import Card
from witnessmark.shop.work.visit import Work

Said = Mapping[str, str]
NONE = "none"  # a bottle that is not on the list


@dataclass(frozen=True)
class BottleShown:
    """A pack of the shelf as one card offers or refuses it."""

    row: StockPack
    verdict: BottleFit

    @property
    def key(self) -> str:
        """What its tile posts."""
        return str(self.row.pk)

    @property
    def label(self) -> str:
        """What its label says."""
        return Bottle(self.row.family, self.row.grade, self.row.rating).label

    @property
    def words(self) -> str:
        """Its name, and what its label says beyond that."""
        return f"{self.row.name} ({self.label})" if self.label else self.row.name


@dataclass(frozen=True)
class PourShown:
    """A fluid that goes in on a card: what it may be taken from."""

    fluid: str
    text: str
    bottles: tuple[BottleShown, ...]
    chosen: BottleShown | None
    volume_ml: float | None
    because: str = ""
    fault: str = ""
    elsewhere: bool = False  # from a bottle that is not on the list

    @property
    def not_allowed(self) -> int:
        """How many are refused, with or without a way round it."""
        return len(self.refused) + len(self.never)

    @property
    def offered(self) -> tuple[BottleShown, ...]:
        """Those that may be poured."""
        return tuple(one for one in self.bottles if one.verdict.offered)

    @property
    def refused(self) -> tuple[BottleShown, ...]:
        """Those that are refused, and may be used for a reason."""
        return tuple(one for one in self.bottles if one.verdict.standing == "refused")

    @property
    def never(self) -> tuple[BottleShown, ...]:
        """Those that must not be used, whatever the reason."""
        return tuple(one for one in self.bottles if one.verdict.standing == "never")


@dataclass(frozen=True)
class DrainShown:
    """A fluid that comes out on a card: how much, and where it goes."""

    drains: Drains
    text: str
    containers: tuple[Container, ...]
    refused: tuple[tuple[Container, str], ...]
    chosen: Container | None
    volume: str
    fault: str = ""
    volume_fault: str = ""


def pours(
    work: Work, card: Card, said: Said | None = None, problem: Said | None = None
) -> list[PourShown]:
    """The fluids that go in on this card, each with the bottles of the shelf judged."""
    said, problem = said or {}, problem or {}
    rows = list(StockPack.objects.filter(shop=work.visit.shop)) if card.step.fluids else []
    return [_pour(work, card, fluid, rows, said, problem) for fluid in card.step.fluids]


def _pour(
    work: Work, card: Card, fluid: str, rows: list[StockPack], said: Said, problem: Said
) -> PourShown:
    asked = wanted(work.book, fluid)
    alike = set(HYDRAULIC) if asked.family in HYDRAULIC else {asked.family}
    bottles = [
        BottleShown(row, judge(asked, Bottle(row.family, row.grade, row.rating)))
        for row in rows
        if row.family in alike and row.fluid in ("", fluid)
    ]
    volume = pour(work.book, card.id, 0, card.step.fluids[fluid]).volume_ml
    tapped = said.get(f"bottle-{fluid}", "")
    chosen = next((one for one in bottles if one.key == tapped), None)
    return PourShown(
        fluid,
        work.book.fluids[fluid].text,
        tuple(bottles),
        chosen or (None if tapped == NONE else _first(bottles, volume or 0.0)),
        volume,
        said.get(f"because-{fluid}", ""),
        problem.get(f"bottle-{fluid}", ""),
        tapped == NONE,
    )


def _first(bottles: list[BottleShown], volume_ml: float) -> BottleShown | None:
    """The one to pour unless another is tapped.

    Allowed before not known, on the shelf before used up; of those the smallest that holds all of
    it, else the largest.
    """
    offered = [one for one in bottles if one.verdict.offered]
    return min(offered, key=lambda one: _last_in_line(one, volume_ml), default=None)


def _last_in_line(one: BottleShown, volume_ml: float) -> tuple[bool, bool, bool, int]:
    short = one.row.size_ml < volume_ml
    size = -one.row.size_ml if short else one.row.size_ml
    return one.verdict.standing != "allowed", one.row.in_stock == 0, short, size


def draining(
    work: Work, card: Card, said: Said | None = None, problem: Said | None = None
) -> list[DrainShown]:
    """The fluids that come out on this card, each with the container it goes into."""
    found = drains(work.book, card.id)
    every = waste.containers(work.visit.shop) if found else []
    return [_drain(work, one, every, said or {}, problem or {}) for one in found]


def _drain(
    work: Work, one: Drains, every: list[Container], said: Said, problem: Said
) -> DrainShown:
    reasons = [(container, why_not_into(one.family, container.stream)) for container in every]
    fit = tuple(container for container, why in reasons if why is None)
    tapped = said.get(f"into-{one.fluid}", "")
    chosen = next((container for container in fit if container.id == tapped), None)
    volume = units.show(one.volume_ml, "volume") if one.volume_ml else ""
    return DrainShown(
        one,
        work.book.fluids[one.fluid].text,
        fit,
        tuple((container, why) for container, why in reasons if why),
        chosen or choose(one.family, one.volume_ml or 0.0, fit),
        said.get(f"drained-{one.fluid}", volume),
        problem.get(f"into-{one.fluid}", ""),
        problem.get(f"drained-{one.fluid}", ""),
    )


# ---------------------------------------------------------------- what goes into the entry


def posted(
    work: Work, card: Card, said: Said
) -> tuple[dict[str, list[dict[str, Any]]], dict[str, str]]:
    """What the confirmed card says of its fluids, for the entry; and the faults by field."""
    faults: dict[str, str] = {}
    poured = [_poured(one, said, faults) for one in pours(work, card, said)]
    drained = [_drained(work, one, said, faults) for one in drains(work.book, card.id)]
    entry = {
        "poured": [one for one in poured if one],
        "drained": [one for one in drained if one],
    }
    return {name: what for name, what in entry.items() if what}, faults


def _poured(shown: PourShown, said: Said, faults: dict[str, str]) -> dict[str, Any] | None:
    place = f"bottle-{shown.fluid}"
    tapped = said.get(place, "")
    if tapped == NONE or (shown.chosen is None and not tapped):
        return None
    if shown.chosen is None or tapped not in ("", shown.chosen.key):
        faults[place] = _("That bottle is no longer on the shelf. Choose another.")
        return None
    bottle, because = shown.chosen, shown.because.strip()
    why = "; ".join(bottle.verdict.why)
    why = why[:1].upper() + why[1:]
    if bottle.verdict.standing == "never":
        faults[place] = _("{why}. It must not be used.").format(why=why)
    elif bottle.verdict.standing == "refused" and not because:
        faults[place] = _("{why}. Choose another, or give the reason.").format(why=why)
    refused = bottle.verdict.standing == "refused"
    return {
        "fluid": shown.fluid,
        "bottle": bottle.words,
        "pack": bottle.key,
        "volume_ml": shown.volume_ml,
        "refused": list(bottle.verdict.why) if refused else [],
        "because": because if refused else "",
    }


def _drained(work: Work, one: Drains, said: Said, faults: dict[str, str]) -> dict[str, Any] | None:
    typed = said.get(f"drained-{one.fluid}", "").strip()
    try:
        as_shown = one.volume_ml is not None and typed == units.show(one.volume_ml, "volume")
        volume = one.volume_ml if as_shown or not typed else units.read(typed, "volume").value
    except units.QuantityError as error:
        faults[f"drained-{one.fluid}"] = in_words(error)
        return None
    if volume is None:  # the figure is missing, and nobody measured
        return None
    try:
        into = waste.into(work.visit.shop, one.family, volume, said.get(f"into-{one.fluid}", ""))
    except waste.WasteError as error:
        faults[f"into-{one.fluid}"] = in_words(error)
        return None
    fluid = work.book.fluids[one.fluid]
    return {
        "fluid": one.fluid,
        "family": one.family,
        "volume_ml": volume,
        "container": into.id if into else None,
        "into": into.name if into else fluid.waste,
    }
