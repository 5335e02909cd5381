"""Lay out the kit of a plan: everything in the order in which it is first used."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Literal

from witnessmark.book import steps
from witnessmark.book.model import Book, Step
from witnessmark.errors import WitnessError
from witnessmark.kit.fluids import FluidNeed, Pack, PlannedPour, fluid_need, pour
from witnessmark.kit.wrenches import WrenchNeed, wrench_needs
from witnessmark.planner import Answer, PlanStep
from witnessmark.units import show
from witnessmark.wrenches import TorqueTool


class KitError(WitnessError):
    """A plan that is not of this book."""


@dataclass(frozen=True, slots=True)
class PartNeed:
    """A part, how many of it, and the step that uses it first.

    ``at_hand`` None: not counted; ``missing`` is what is not at hand.
    """

    part: str
    text: str
    unit: str
    quantity: float
    step: str
    start: float
    consumable: bool = False
    at_hand: float | None = None
    missing: float = 0.0


@dataclass(frozen=True, slots=True)
class ToolNeed:
    """A tool or an instrument, and the step that uses it first; ``tool`` is empty for an instrument."""

    tool: str
    text: str
    step: str
    start: float


@dataclass(frozen=True, slots=True)
class Missing:
    """What has to be got before the work can start: a figure, a part, packs of a fluid, a wrench."""

    kind: Literal["figure", "part", "fluid", "wrench"]
    name: str
    words: str


@dataclass(frozen=True, slots=True)
class Kit:
    """All that must lie ready, each list in order of first use, and what of it is missing."""

    parts: tuple[PartNeed, ...] = ()
    fluids: tuple[FluidNeed, ...] = ()
    tools: tuple[ToolNeed, ...] = ()
    wrenches: tuple[WrenchNeed, ...] = ()
    missing: tuple[Missing, ...] = ()


def kit(
    book: Book,
    answer: Answer,
    stock: Iterable[Pack] = (),
    *,
    parts_at_hand: Mapping[str, float] | None = None,
    wrenches: Iterable[TorqueTool] | None = None,
    on: date | None = None,
) -> Kit:
    """The kit of a plan made from this book.

    A step that the plan does twice uses its parts twice. A new part is taken for every renewal
    that a step renews, unless the step lists that part itself. ``stock``: the packs fluids come
    in; ``parts_at_hand``: how many of each part there are (absent: not counted). ``wrenches``: those of the
    shop, judged as they stand ``on`` that day (None: not known, so nothing is said of them).
    Raises KitError for a plan with a step the book does not have.
    """
    done = _in_order(book, answer)
    parts = tuple(_parts(book, done, parts_at_hand or {}))
    fluids = tuple(_fluids(book, done, tuple(stock)))
    needed, unprovable = (
        wrench_needs(book, done, wrenches, on) if wrenches is not None and on else ((), ())
    )
    missing = (
        *_missing(book, parts, fluids),
        *(Missing("wrench", one.figure, one.words) for one in unprovable),
    )
    return Kit(parts, fluids, tuple(_tools(book, done)), needed, missing)


def _in_order(book: Book, answer: Answer) -> list[tuple[PlanStep, Step]]:
    """The plan's steps by start, each with its text in the book."""
    known = steps(book)
    for planned in answer.steps:
        if planned.name not in known:
            raise KitError(
                "plan", f"step “{planned.name}” is not in the book {book.name}", "plan again"
            )
    ordered = sorted(answer.steps, key=lambda planned: planned.start)  # stable: ties as in the plan
    return [(planned, known[planned.name]) for planned in ordered]


def parts_of(book: Book, step: Step) -> dict[str, float]:
    """The parts one doing of a step uses: those it lists, and one for each renewal it renews beside."""
    renewed: dict[str, float] = {}
    for name in step.renews:
        part = book.renewals[name].part
        if part not in step.parts:
            renewed[part] = renewed.get(part, 0.0) + 1.0
    return {**step.parts, **renewed}


def _parts(
    book: Book, done: list[tuple[PlanStep, Step]], at_hand: Mapping[str, float]
) -> Iterator[PartNeed]:
    totals: dict[str, Fraction] = {}
    first: dict[str, PlanStep] = {}
    for planned, step in done:
        for part, quantity in parts_of(book, step).items():
            totals[part] = totals.get(part, Fraction(0)) + Fraction(repr(quantity))
            first.setdefault(part, planned)
    for part, total in totals.items():
        text, there = book.parts[part], at_hand.get(part)
        short = max(Fraction(0), total - Fraction(repr(float(there)))) if there is not None else 0
        yield PartNeed(
            part, text.text, text.unit, float(total), first[part].name, first[part].start,
            text.consumable, there, float(short),
        )  # fmt: skip


def _fluids(
    book: Book, done: list[tuple[PlanStep, Step]], stock: tuple[Pack, ...]
) -> Iterator[FluidNeed]:
    pours: dict[str, list[PlannedPour]] = {}
    for planned, step in done:
        for fluid, use in step.fluids.items():
            pours.setdefault(fluid, []).append(pour(book, planned.name, planned.start, use))
    for fluid, each in pours.items():
        yield fluid_need(book, fluid, each, stock)


def _tools(book: Book, done: list[tuple[PlanStep, Step]]) -> Iterator[ToolNeed]:
    told: set[str] = set()
    for planned, step in done:
        tools = [(tool, book.tools[tool].text) for tool in step.tools]
        instruments = [("", book.readings[reading].instrument) for reading in step.readings]
        for tool, text in [*tools, *instruments]:
            if text and text.casefold() not in told:
                told.add(text.casefold())
                yield ToolNeed(tool, text, planned.name, planned.start)


def _missing(
    book: Book, parts: tuple[PartNeed, ...], fluids: tuple[FluidNeed, ...]
) -> Iterator[Missing]:
    figures = [pour.figure for need in fluids for pour in need.pours if pour.volume_ml is None]
    for figure in dict.fromkeys(figures):
        text = book.figures[figure].text if figure in book.figures else figure
        yield Missing(
            "figure", figure, f"{text}: figure missing, so how much is needed is not known"
        )
    for part in parts:
        if part.missing:
            yield Missing("part", part.part, f"{part.text}: {part.missing:g} {part.unit} missing")
    for need in fluids:
        yield from _missing_fluid(need)


def _missing_fluid(need: FluidNeed) -> Iterator[Missing]:
    if need.packs is None and need.volume_ml:
        none = (
            "every bottle on the shelf is refused"
            if need.refused
            else "no bottle or can of it is listed"
        )
        words = f"{need.text}: {show(need.volume_ml, 'volume')} needed, and {none}"
        yield Missing("fluid", need.fluid, words)
    for each in need.packs or ():
        if each.missing:
            name = each.pack.name or need.text
            words = f"{name}: {each.missing} × {show(each.pack.size_ml, 'volume')} missing"
            yield Missing("fluid", need.fluid, words)
