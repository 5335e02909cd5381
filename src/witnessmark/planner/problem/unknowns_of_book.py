"""What a book's readings decide, as unknowns of the planning problem.

An operation with ``only_if`` waits for its reading, unless a job of ``always_with`` is taken on; a job of which
``early`` names a reading is done only where that is outside its limits, if it is not taken on anyhow. A reading that
nobody takes on this visit decides nothing: the operation is done, as a book without ``only_if`` says; the job is not.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from witnessmark.book.model import Book
from witnessmark.book.model_step import Job, OnlyIf, Operation
from witnessmark.book.select import operations as operations_of
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.from_book import compile_problem
from witnessmark.planner.problem.unknowns import (
    MOST_UNKNOWNS,
    ContingentProblem,
    contingent_problem_from,
)


@dataclass(frozen=True)
class Undecided:
    """A problem with what readings will decide, and the unknowns that were too many: planned as no."""

    problem: ContingentProblem
    left_out: tuple[str, ...]


def unknown_name(decides: OnlyIf) -> str:
    """The name of what a reading decides. Example: ``chain_slack_before outside``."""
    if decides.outside is not None:
        return f"{decides.reading} outside"
    way, figure = ("below", decides.below) if decides.below else ("above", decides.above)
    return f"{decides.reading} {way} {figure}"


def brought_by(job: Job) -> list[OnlyIf]:
    """The readings of which one outside its limits brings a job."""
    return [] if job.likely is None else [OnlyIf(reading=r, outside=True) for r in job.early]


def decisions(step: Operation) -> Iterator[tuple[OnlyIf, float]]:
    """What decides about an operation, of one reading each, and how likely the unknown of its name is a yes."""
    if step.only_if is None or step.likely is None:
        return
    each = step.only_if.each
    one = 1 - (1 - step.likely) ** (1 / len(each))  # that one of them is so is as likely as said
    for decides in each:
        yield decides, 1 - one if decides.outside is False else one


def every_unknown(book: Book) -> dict[str, tuple[OnlyIf, float]]:
    """Everything that a reading may decide in a book: what decides it, and how likely the book says a yes is.

    Of an answer that several steps or jobs wait for the likeliest counts.
    """
    found: dict[str, tuple[OnlyIf, float]] = {}
    for job in book.jobs.values():
        told = [one for step in job.operations.values() for one in decisions(step)]
        for decides, likely in [*told, *((one, job.likely or 0.0) for one in brought_by(job))]:
            name = unknown_name(decides)
            before = found.get(name)
            found[name] = (decides, max(likely, before[1]) if before else likely)
    return found


def compile_undecided(
    book: Book,
    jobs: Sequence[str],
    *,
    perhaps: Sequence[str] = (),
    likely: Mapping[str, float] | None = None,
    answers: Mapping[str, bool] | None = None,
    **visit: Any,
) -> Undecided:
    """The problem of ``jobs``, and of what their readings may bring of the jobs ``perhaps``.

    ``likely``: the shop's own figures, by unknown, in place of the book's. ``answers``: what is known by now.
    ``visit``: as for ``compile_problem``. Raises what that raises.
    """
    found = _Deciding(book, jobs, perhaps, likely or {}, answers or {})
    union = compile_problem(book, [*jobs, *found.bring], **visit)
    return found.compiled(union)


def undecided(
    union: Problem,
    book: Book,
    jobs: Sequence[str],
    *,
    readers: Mapping[str, Collection[str]] | None = None,
    likely: Mapping[str, float] | None = None,
    answers: Mapping[str, bool] | None = None,
) -> Undecided:
    """The same of a problem that was compiled before: what is left of ``jobs`` on a visit.

    ``readers``: by unknown, the steps that may tell it; read after what it decides it tells nothing. None: any.
    """
    return _Deciding(book, jobs, (), likely or {}, answers or {}, readers).compiled(union)


class _Deciding:
    """Per operation what decides about it."""

    def __init__(
        self,
        book: Book,
        jobs: Sequence[str],
        perhaps: Sequence[str],
        likely: Mapping[str, float],
        answers: Mapping[str, bool],
        readers: Mapping[str, Collection[str]] | None = None,
    ) -> None:
        self.jobs, self.likely, self.answers, self.readers = jobs, likely, answers, readers
        self.steps = operations_of(book, book.jobs)
        self.priors: dict[str, float] = {}
        self.readings: dict[str, str] = {}
        self.bring: dict[str, str] = {}
        read = {r for step in operations_of(book, jobs).values() for r in step.readings}
        for job in perhaps:
            head = book.jobs[job]
            reading = next((r for r in head.early if r in read), None)
            if job not in jobs and reading is not None and head.likely is not None:
                self.bring[job] = self._unknown(OnlyIf(reading=reading, outside=True), head.likely)

    def _unknown(self, decides: OnlyIf, likely: float) -> str:
        name = unknown_name(decides)
        self.readings[name] = decides.reading
        self.priors[name] = self.likely.get(name, max(likely, self.priors.get(name, 0.0)))
        return name

    def compiled(self, union: Problem) -> Undecided:
        told = {o.name: self._told(o.name, o.job, union) for o in union.operations}
        asked = {name for rows in told.values() for row in rows for name in _names(row)}
        open_ = sorted(asked - self.answers.keys(), key=lambda name: (-self.priors[name], name))
        left_out = tuple(open_[MOST_UNKNOWNS:])
        known = {**self.answers, **dict.fromkeys(left_out, False)}
        only_if = {name: [_left(row, known) for row in rows] for name, rows in told.items()}
        kept = {name for name, rows in only_if.items() if "" not in rows}
        data = union.model_dump(mode="json", exclude_defaults=True)
        data["operations"] = [
            {
                **one,
                "after": [name for name in one.get("after", ()) if name in kept],
                "only_if": [row for row in only_if[one["name"]] if row is not None],
            }
            for one in data.get("operations", ())
            if one["name"] in kept
        ]
        data["unknowns"] = {
            name: {
                "revealed_by": self._reader(name, union, told),
                "yes": self.priors[name],
            }
            for name in open_[:MOST_UNKNOWNS]
        }
        return Undecided(contingent_problem_from(data), left_out)

    def _told(self, name: str, job: str | None, union: Problem) -> list[str]:
        """What decides about an operation, row by row; nothing where that is not read by another."""
        only_if = [self.bring[job]] if job in self.bring else []
        step = self.steps[name]
        if any(other in self.jobs for other in step.always_with):
            return only_if
        row = []
        for decides, likely in decisions(step):
            unknown = self._unknown(decides, likely)
            if unknown in self.answers or self._readers(unknown, union, name):
                row.append(f"!{unknown}" if decides.outside is False else unknown)
        if row:
            row += [self.bring[other] for other in step.always_with if other in self.bring]
            only_if.append("|".join(dict.fromkeys(row)))
        return only_if

    def _readers(self, unknown: str, union: Problem, but: str) -> list[str]:
        reading = self.readings[unknown]
        return [
            o.name
            for o in union.operations
            if o.name != but
            and reading in self.steps[o.name].readings
            and (self.readers is None or o.name in self.readers[unknown])
        ]

    def _reader(self, unknown: str, union: Problem, told: Mapping[str, Sequence[str]]) -> str:
        """The operation that reads it: of several the first that is not itself decided by it."""
        readers = self._readers(unknown, union, "")
        return next(
            (r for r in readers if not any(unknown in _names(row) for row in told[r])), readers[0]
        )


def _names(row: str) -> list[str]:
    return [one.removeprefix("!") for one in row.split("|")]


def _left(row: str, known: Mapping[str, bool]) -> str | None:
    """What is left to be told of a row: None where one is so, nothing where none can be."""
    left = []
    for one in row.split("|"):
        name, wanted = one.removeprefix("!"), not one.startswith("!")
        if name not in known:
            left.append(one)
        elif known[name] == wanted:
            return None
    return "|".join(left)
