"""The torque wrenches of a plan: which to lay out, what each is set to, and figures that none can prove."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from witnessmark.book.model import Book, Figure, Step
from witnessmark.book.sequence import rounds
from witnessmark.planner import PlanStep
from witnessmark.units import show
from witnessmark.wrenches import Fit, TorqueTool, ranked

Done = Sequence[tuple[PlanStep, Step]]


@dataclass(frozen=True, slots=True)
class WrenchNeed:
    """A wrench to lay out, what it is set to and for which fasteners, and the step that uses it first."""

    key: str
    name: str
    settings: tuple[tuple[str, tuple[str, ...]], ...]  # setting, fasteners
    step: str
    start: float


@dataclass(frozen=True, slots=True)
class Unprovable:
    """A figure that no wrench proves: its fasteners, and why each of the nearest does not."""

    figure: str
    words: str


@dataclass(frozen=True, slots=True)
class _Wanted:
    """A torque that a plan asks for, with the fasteners made tight to it, in order of first use."""

    figure: str
    torque_nm: float
    low_nm: float | None
    high_nm: float | None
    fasteners: tuple[str, ...]
    step: str
    start: float


def wrench_needs(
    book: Book, done: Done, tools: Iterable[TorqueTool], on: date
) -> tuple[tuple[WrenchNeed, ...], tuple[Unprovable, ...]]:
    """The wrenches of a plan in order of first use, and the figures that none of the tools proves on that day.

    What is only counted is left out; so is a figure that is missing, which is told by itself.
    """
    tools = list(tools)
    laid: dict[str, list[tuple[_Wanted, Fit]]] = {}
    unprovable: list[Unprovable] = []
    for wanted in _wanted(book, done):
        fits = ranked(tools, wanted.torque_nm, on, low_nm=wanted.low_nm, high_nm=wanted.high_nm)
        if fits and fits[0].suits:
            laid.setdefault(fits[0].tool.key or fits[0].tool.name, []).append((wanted, fits[0]))
        else:
            unprovable.append(Unprovable(wanted.figure, _why(wanted, fits)))
    return tuple(_need(each) for each in laid.values()), tuple(unprovable)


def _wanted(book: Book, done: Done) -> Iterator[_Wanted]:
    fasteners: dict[str, dict[str, None]] = {}
    first: dict[str, PlanStep] = {}
    for planned, step in done:
        for name in step.tightens:
            fastener = book.fasteners[name]
            for figure in rounds(fastener) if fastener.grade == "proven" else ():
                fasteners.setdefault(figure, {})[fastener.text] = None
                first.setdefault(figure, planned)
    for figure, named in fasteners.items():
        aim = _aim(book.figures[figure])
        if aim is not None:
            planned = first[figure]
            yield _Wanted(figure, *aim, tuple(named), planned.name, planned.start)


def _aim(figure: Figure) -> tuple[float, float | None, float | None] | None:
    """What to aim at and the limits, N·m: the value, else the middle of its range.

    None for a turn by an angle, and where it is missing.
    """
    if figure.quantity != "torque":
        return None
    low, high = figure.bounds
    if low is None or high is None:
        return None
    return (low, None, None) if low == high else ((low + high) / 2, low, high)


def _need(each: list[tuple[_Wanted, Fit]]) -> WrenchNeed:
    settings: dict[str, dict[str, None]] = {}
    for wanted, fit in each:
        settings.setdefault(fit.setting.text, {}).update(dict.fromkeys(wanted.fasteners))
    first, tool = each[0][0], each[0][1].tool
    said = tuple((text, tuple(names)) for text, names in settings.items())
    return WrenchNeed(tool.key, tool.name, said, first.step, first.start)


def _why(wanted: _Wanted, fits: list[Fit]) -> str:
    what = f"{', '.join(wanted.fasteners)}, {show(wanted.torque_nm, 'torque')}"
    near = [fit for fit in fits if fit.usable] or fits
    if not near:
        return f"{what}: no wrench to prove it"
    return f"{what}: no wrench proves it. " + ". ".join(fit.words for fit in near[:3])
