"""What a book's readings decide, as unknowns of the planning problem.

An operation with ``only_if`` waits for its reading; a job of which ``early`` names a reading is done only where that
is outside its limits, if it is not taken on anyhow. A reading that nobody takes on this visit decides nothing: the
operation is done, as a book without ``only_if`` says; the job is not.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from witnessmark.book.model import Book
from witnessmark.book.model_step import OnlyIf
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
    readers: Mapping[str, Collection[str]],
    likely: Mapping[str, float] | None = None,
    answers: Mapping[str, bool] | None = None,
) -> Undecided:
    """The same of a problem that was compiled before: what is left of ``jobs`` on a visit.

    ``readers``: by unknown, the steps that may tell it; read after what it decides it tells nothing.
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
        self.likely, self.answers, self.readers = likely, answers, readers
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
        asked = {name.removeprefix("!") for names in told.values() for name in names}
        open_ = sorted(asked - self.answers.keys(), key=lambda name: -self.priors[name])
        left_out = tuple(open_[MOST_UNKNOWNS:])
        known = {**self.answers, **dict.fromkeys(left_out, False)}
        kept = {
            name
            for name, only_if in told.items()
            if all(known.get(o.removeprefix("!"), o[0] != "!") == (o[0] != "!") for o in only_if)
        }
        data = union.model_dump(mode="json", exclude_defaults=True)
        data["operations"] = [
            {
                **one,
                "after": [name for name in one.get("after", ()) if name in kept],
                "only_if": [o for o in told[one["name"]] if o.removeprefix("!") not in known],
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
        """What decides about an operation; nothing where that is not read by another."""
        only_if = [self.bring[job]] if job in self.bring else []
        step = self.steps[name]
        decides = step.only_if
        if decides is not None and step.likely is not None:
            within = decides.outside is False
            unknown = self._unknown(decides, 1 - step.likely if within else step.likely)
            if unknown in self.answers or self._readers(unknown, union, name):
                only_if.append(f"!{unknown}" if within else unknown)
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
            (r for r in readers if unknown not in {o.removeprefix("!") for o in told[r]}),
            readers[0],
        )
