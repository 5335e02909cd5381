"""What the readings of a visit have decided of the unknowns of its book: what a shop counts.

An unknown has the name that the planner gives it (`planner.unknown_name`).
"""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.book.model import Book
from witnessmark.book.model_step import OnlyIf
from witnessmark.ledger.state import ReadingState, VisitState
from witnessmark.ledger.table import limits_of
from witnessmark.planner import decisions, unknown_name


def unknowns(book: Book) -> dict[str, tuple[OnlyIf, float]]:
    """Everything that a reading may decide in a book: what decides it, and how likely the book says a yes is.

    Of an answer that several steps or jobs wait for the likeliest counts, as in `planner.compile_undecided`.
    """
    found: dict[str, tuple[OnlyIf, float]] = {}
    for decides, likely in _told(book):
        name = unknown_name(decides)
        before = found.get(name)
        found[name] = (decides, max(likely, before[1]) if before else likely)
    return found


def decided(book: Book, state: VisitState) -> dict[str, bool]:
    """The unknowns that a reading answered, by name: as the reading stands that nobody took back.

    The step where something is read first decides; read again elsewhere, after it was put right, it decides no more.
    Of a reading that is taken at several places one that is so makes a yes, and a no takes all of them.
    A reading without limits, or in words that say neither, answers nothing.
    """
    found = {}
    for name, (decides, _) in unknowns(book).items():
        rule = book.readings[decides.reading]
        told = [_so(decides, one, state) for one in _first_read(state, decides.reading)]
        if any(told):
            found[name] = True
        elif len(told) >= rule.repeat and None not in told:
            found[name] = False
    return found


def _told(book: Book) -> Iterator[tuple[OnlyIf, float]]:
    for job in book.jobs.values():
        for step in job.operations.values():
            yield from decisions(step)
        if job.likely is not None:
            yield from ((OnlyIf(reading=name, outside=True), job.likely) for name in job.early)


def _first_read(state: VisitState, reading: str) -> list[ReadingState]:
    """Per place the newest value of the step where it was read first."""
    first: dict[int, ReadingState] = {}
    for one in state.readings:  # in causal order
        if one.reading == reading and (one.index not in first or first[one.index].step == one.step):
            first[one.index] = one
    return list(first.values())


def _so(decides: OnlyIf, read: ReadingState, state: VisitState) -> bool | None:
    """Whether it is what the step or job waits for; None where that cannot be told."""
    if decides.outside is not None:
        told = {"low": True, "high": True, "bad": True, "within": False, "noted": False}
        return (
            None if read.verdict == "noted" and read.value is not None else told.get(read.verdict)
        )
    limits = limits_of(decides.below or decides.above, state.figure_rules)
    if read.value is None or limits is None:
        return None
    side = limits.side(read.value)
    return side == ("low" if decides.below else "high")
