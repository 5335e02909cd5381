"""What a figure is worth: missing, unproven or proven; what it allows; where it is used."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Literal, NamedTuple

from witnessmark.book.model import Book, Bounds, Figure, Reading, Step
from witnessmark.book.select import steps as all_steps
from witnessmark.book.select import used_steps
from witnessmark.book.sequence import rounds
from witnessmark.facts import Limit, Verdict, judge

FigureState = Literal["missing", "unproven", "proven"]


class FigureUse(NamedTuple):
    """A figure by id, and who uses it: steps ("rear_wheel_on", "oil/fill") and jobs ("oil")."""

    id: str
    figure: Figure
    where: tuple[str, ...]


def figure_state(figure: Figure) -> FigureState:
    """*missing* with neither value nor range, *unproven* without a source or not looked up here, else *proven*."""
    if figure.value is None and figure.low is None and figure.high is None:
        return "missing"
    proven = names_a_source(figure.source) and not only_sent(figure)
    return "proven" if proven else "unproven"


def only_sent(figure: Figure) -> bool:
    """Whether another shop sent it, and nobody here compared it or wrote a source of their own."""
    if figure.sent_by is None or figure.checked is not None:
        return False
    return (figure.source or "").startswith(source_sent(figure.sent_by, ""))


def source_sent(shop: str, source: str) -> str:
    """The source of a figure that another shop sent. Example: ``from Harbour Street: manual, page 4``."""
    return f"from {shop}: {source}".strip()


def names_a_source(text: str | None) -> bool:
    """Whether that names where a figure stands: not nothing, not a question mark, not somebody's memory."""
    said = " ".join(re.findall(r"\w+", (text or "").casefold()))
    if said.startswith(SAME_AS):
        return False  # of another model: nobody looked it up for this one
    return any(letter.isalpha() for letter in said) and said not in _NO_SOURCE


SAME_AS = "same as"  # begins the source of a figure that was taken over from another model
_NO_SOURCE = frozenset({
    "n a", "na", "no", "none", "nil", "unknown", "not known", "dont know", "don t know", "no idea", "no source",
    "without", "without source", "tbd", "tbc", "to do", "todo", "to be checked", "check", "later", "x", "xx", "xxx",
    "memory", "from memory", "my memory", "by heart", "guess", "guessed", "a guess", "estimate", "as usual",
    "usual", "always", "internet", "the internet", "forum", "somebody", "someone", "me", "same", "see above",
})  # fmt: skip


def limits(book: Book, reading: str | Reading) -> Bounds:
    """The least and the most that a reading may be, in the base unit of its quantity.

    The low limit is the low end of the figure that it names (its `low`, else its value less the
    tolerance), the high limit the high end. None where there is no limit, or its figure is missing.
    """
    if isinstance(reading, str):
        reading = book.readings[reading]
    low = None if reading.low is None else book.figures[reading.low].bounds.low
    high = None if reading.high is None else book.figures[reading.high].bounds.high
    return Bounds(low, high)


def verdict(book: Book, reading: str | Reading, value: float) -> Verdict:
    """A value read (base unit) against the limits of its reading, each with its figure's source.

    What the instrument tells apart, and how far it may be wrong, is as the reading asks for.
    """
    if isinstance(reading, str):
        reading = book.readings[reading]
    least, most = limits(book, reading)
    return judge(
        value,
        reading.quantity,
        low=_limit(book, reading.low, least),
        high=_limit(book, reading.high, most),
        resolution=reading.uncertain,
        unit=reading.unit,
    )


def _limit(book: Book, figure: str | None, value: float | None) -> Limit | None:
    if figure is None or value is None:
        return None
    return Limit(value, book.figures[figure].source or "without a source")


def figures_used(book: Book, jobs: Iterable[str]) -> list[FigureUse]:
    """The figures that those jobs rest on, by id.

    Through their intervals, and through their operations and the access steps a plan may call on
    (`access_for`): what is tightened, filled in, read against limits, or shown on the card. Give
    jobs as `selection` does, with those they bring.
    """
    jobs = list(jobs)
    where: dict[str, dict[str, None]] = {}
    for user, figure in _uses(book, jobs):
        where.setdefault(figure, {})[user] = None
    return [FigureUse(name, book.figures[name], tuple(where[name])) for name in sorted(where)]


def figures_in_order(book: Book, steps: Iterable[str], jobs: Iterable[str] = ()) -> list[FigureUse]:
    """The figures that these steps work by and read against, in their order, then the intervals of the jobs; each once.

    ``steps``: access steps and ``job/operation``, as a plan has them; those the book does not have use none.
    """
    known, where = all_steps(book), dict[str, dict[str, None]]()
    for name in steps:
        for figure in figures_of(book, known[name]) if name in known else ():
            where.setdefault(figure, {})[name] = None
    for job in jobs:
        for figure in _interval(book, job):
            where.setdefault(figure, {})[job] = None
    return [FigureUse(name, book.figures[name], tuple(used)) for name, used in where.items()]


def holds_lives(book: Book, name: str) -> bool:
    """Whether somebody can be hurt where the figure is wrong: what is marked ``safety`` in the book rests on it.

    Fasteners made tight to it, readings it bounds, and fluids of safety-critical circuits filled by it.
    """
    return (
        any(f.safety and name in rounds(f) for f in book.fasteners.values())
        or any(r.safety and name in (r.low, r.high) for r in book.readings.values())
        or any(
            c.safety and c.fluid and name == book.fluids[c.fluid].grade
            for c in book.circuits.values()
        )
    )


def figures_missing(book: Book, jobs: Iterable[str]) -> list[FigureUse]:
    """Those of `figures_used` that are missing; the unproven are not among them."""
    return [use for use in figures_used(book, jobs) if figure_state(use.figure) == "missing"]


def figures_unproven(book: Book, jobs: Iterable[str]) -> list[FigureUse]:
    """Those of `figures_used` that have a value and no source."""
    return [use for use in figures_used(book, jobs) if figure_state(use.figure) == "unproven"]


def figures_of(book: Book, step: Step) -> Iterator[str]:
    """The figures one step rests on; one may come more than once."""
    yield from figures_applied(book, step)
    for reading in step.readings:
        yield from _named(book.readings[reading].low, book.readings[reading].high)


def figures_applied(book: Book, step: Step) -> Iterator[str]:
    """The figures one step works to: tightened to, filled, shown; not those it reads against."""
    yield from step.figures
    for fastener in step.tightens:
        yield from rounds(book.fasteners[fastener])
    for fluid, use in step.fluids.items():
        yield use.figure
        yield from _named(book.fluids[fluid].grade)
    yield from _named(*(book.shims[shims].target for shims in step.shims))


def _uses(book: Book, jobs: list[str]) -> Iterator[tuple[str, str]]:
    """Who uses which figure."""
    for job in jobs:
        yield from ((job, f) for f in _interval(book, job))
    for name, step in used_steps(book, jobs).items():
        yield from ((name, figure) for figure in figures_of(book, step))


def _interval(book: Book, job: str) -> Iterator[str]:
    yield from _named(book.jobs[job].every_distance, book.jobs[job].every_time)


def _named(*figures: str | None) -> Iterator[str]:
    yield from (figure for figure in figures if figure is not None)
