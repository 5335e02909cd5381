"""The fluids a plan puts in: each pour with its strokes or stage, and the packs that cover them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from witnessmark.book.model import Book, Figure, FluidUse
from witnessmark.fluids import (
    Bottle,
    BottleFit,
    Containers,
    FluidError,
    Strokes,
    containers,
    judge,
    stages,
    strokes,
    wanted,
)

Stage = Literal["all", "first", "top up"]
PLENTY = 10_000  # packs of a size whose number nobody counted


@dataclass(frozen=True, slots=True)
class Pack:
    """A pack a fluid comes in. ``price_minor`` per pack, net; ``in_stock`` None: not counted.

    ``fluid`` is the id of a fluid of the book; ``family``, ``grade`` and ``rating`` are what is in
    the pack by its label (family empty: the fluid's own).
    """

    fluid: str
    size_ml: float
    name: str = ""
    price_minor: int | None = None
    in_stock: int | None = None
    family: str = ""
    grade: str = ""
    rating: str = ""
    id: str = ""  # of the shelf's own row


@dataclass(frozen=True, slots=True)
class JudgedPack:
    """A pack of the shelf, and whether this machine allows what is in it."""

    pack: Pack
    verdict: BottleFit


@dataclass(frozen=True, slots=True)
class PackNeed:
    """How many of one pack to open, and how many of these are not in stock."""

    pack: Pack
    count: int
    missing: int = 0


@dataclass(frozen=True, slots=True)
class PlannedPour:
    """One step that puts a fluid in. ``volume_ml`` None: the figure is missing."""

    step: str
    start: float
    stage: Stage
    volume_ml: float | None
    strokes: Strokes | None = None
    figure: str = ""
    proven: bool = False


@dataclass(frozen=True, slots=True)
class FluidNeed:
    """A fluid in all its pours, by plan. ``volume_ml`` sums those whose figure is known.

    ``packs`` None: no pack is named that could cover it. ``grade``: what the machine allows, in
    the words of the book, None where that figure is missing or not asked for.
    """

    fluid: str
    text: str
    step: str
    start: float
    pours: tuple[PlannedPour, ...]
    volume_ml: float
    grade: str | None = None
    containers: Containers | None = None
    packs: tuple[PackNeed, ...] | None = None
    refused: tuple[JudgedPack, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether every pour's volume is known."""
        return all(pour.volume_ml is not None for pour in self.pours)


def pour(book: Book, step: str, start: float, use: FluidUse) -> PlannedPour:
    """One pour: its share of the filling, and the strokes of the syringe where one is used."""
    figure = book.figures.get(use.figure)
    volume = _volume(figure, use)
    syringe = use.syringe_ml
    counted = strokes(volume, syringe) if volume is not None and syringe is not None else None
    proven = figure is not None and figure.source is not None
    return PlannedPour(step, start, use.stage, volume, counted, use.figure, proven)


def _volume(figure: Figure | None, use: FluidUse) -> float | None:
    """Millilitres of this stage; where a figure is a range only, its upper end, so that it suffices."""
    total = figure.in_base("value", "high", "low") if figure else None
    if total is None or use.stage == "all" or use.hold_back_ml is None:
        return total
    parts = stages(total, use.hold_back_ml)
    return parts.first_ml if use.stage == "first" else parts.top_up_ml


def fluid_need(
    book: Book, fluid: str, pours: Sequence[PlannedPour], stock: Iterable[Pack]
) -> FluidNeed:
    """The need of one fluid, and the packs to open for it. ``pours`` in plan order, at least one."""
    known = [pour.volume_ml for pour in pours if pour.volume_ml is not None]
    volume = float(sum((Fraction(repr(each)) for each in known), Fraction(0)))
    grade = book.figures.get(book.fluids[fluid].grade or "")
    shelf = judged(book, fluid, stock)
    opened, packs = _cover(volume, [one.pack for one in shelf if one.verdict.offered])
    return FluidNeed(
        fluid=fluid,
        text=book.fluids[fluid].text,
        step=pours[0].step,
        start=pours[0].start,
        pours=tuple(pours),
        volume_ml=volume,
        grade=grade.value if grade else None,
        containers=opened,
        packs=packs,
        refused=tuple(one for one in shelf if not one.verdict.offered),
    )


def judged(book: Book, fluid: str, stock: Iterable[Pack]) -> list[JudgedPack]:
    """The packs listed for a fluid, each judged by what the book asks for."""
    asked = wanted(book, fluid)
    return [
        JudgedPack(pack, judge(asked, Bottle(pack.family or asked.family, pack.grade, pack.rating)))
        for pack in stock
        if pack.fluid == fluid
    ]


def _cover(
    volume_ml: float, packs: list[Pack]
) -> tuple[Containers | None, tuple[PackNeed, ...] | None]:
    """Packs to open: from what is in stock where that suffices, else the best choice, with what is missing."""
    sizes = {pack.size_ml for pack in packs}
    if not sizes or volume_ml <= 0:
        return None, None
    in_stock = {size: sum(_count(pack) for pack in packs if pack.size_ml == size) for size in sizes}
    try:
        opened = containers(volume_ml, sizes, at_hand=in_stock)
    except FluidError:
        opened = containers(volume_ml, sizes)
    needs = tuple(need for size, count in opened.packs for need in _of_size(size, count, packs))
    return opened, needs


def _count(pack: Pack) -> int:
    return PLENTY if pack.in_stock is None else max(0, pack.in_stock)


def _of_size(size_ml: float, count: int, packs: list[Pack]) -> list[PackNeed]:
    """So many packs of a size: of the kinds in stock first; what is missing counts on the first kind."""
    alike = [pack for pack in packs if pack.size_ml == size_ml]
    taken: list[int] = []
    rest = count
    for pack in alike:
        taken.append(min(rest, _count(pack)))
        rest -= taken[-1]
    missing = [rest] + [0] * (len(alike) - 1)
    return [
        PackNeed(pack, here + short, short)
        for pack, here, short in zip(alike, taken, missing, strict=True)
        if here + short
    ]
