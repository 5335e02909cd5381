"""What a step of a book drains, and about how much: as much as its job fills in again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from witnessmark.book.model import Book, FluidUse, Operation
from witnessmark.book.select import job_of, steps
from witnessmark.fluids.volume import exact_ml


@dataclass(frozen=True, slots=True)
class Drains:
    """A fluid that comes out in a step. ``volume_ml`` None: the figure of its filling is missing."""

    fluid: str
    family: str
    volume_ml: float | None


def drains(book: Book, step: str) -> tuple[Drains, ...]:
    """The fluids that a step lets out.

    Those its job disposes of, whose circuit it opens whole (``["all"]``). As much as this very
    step fills in, where it does (a flush); else as much as the job fills in all.
    """
    operation = steps(book).get(step)
    job = job_of(step)
    if not isinstance(operation, Operation):
        return ()
    opened = {
        book.circuits[name].fluid for name, asked in operation.opens.items() if "all" in asked
    }
    return tuple(
        Drains(fluid, book.fluids[fluid].family, _volume(book, job, operation, fluid))
        for fluid in book.jobs[job].disposal
        if fluid in opened
    )


def _volume(book: Book, job: str, operation: Operation, fluid: str) -> float | None:
    own = operation.fluids.get(fluid)
    uses = [own] if own else list(_uses(book, job, fluid))
    figures = dict.fromkeys(use.figure for use in uses)  # a staged fill names its figure twice
    volumes = [book.figures[name].in_base("value", "high") for name in figures]
    known = [exact_ml(one, "volume") for one in volumes if one is not None]
    return float(sum(known, Fraction(0))) if known and len(known) == len(volumes) else None


def _uses(book: Book, job: str, fluid: str) -> Iterator[FluidUse]:
    for operation in book.jobs[job].operations.values():
        if fluid in operation.fluids:
            yield operation.fluids[fluid]
