"""A place on the way through a tree: what is begun, what is known, what any way from there takes at least."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from witnessmark.planner.explain.snapshot import snapshot_at
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import tenths
from witnessmark.planner.problem.plan import PlanStep
from witnessmark.planner.problem.unknowns import Answers, ContingentProblem

Needed = frozenset[str]


@dataclass(frozen=True)
class Place:
    """Where the work stands.

    ``at``: all operations, from here. ``steps``: those begun so far, in minutes of the whole. ``floors``: per set of
    needed operations the least attended tenths of a whole way through here, for one who knew, that is proven by now.
    """

    problem: ContingentProblem
    at: Problem
    minute: int
    known: Mapping[str, bool]
    steps: tuple[PlanStep, ...]
    floors: dict[Needed, int]

    @cached_property
    def names(self) -> tuple[str, ...]:
        return tuple(step.name for step in self.steps)

    @cached_property
    def spent(self) -> int:
        """Attended tenths of what is begun."""
        return sum(self.at.step(name).effort_tenths for name in self.names)

    def case(self, answers: Answers) -> Problem:
        """What is left to do in a case."""
        return self.problem.case(answers, self.known, self.at)

    def waits(self, answers: Answers) -> bool:
        """Whether something left of a case waits for a reading, for which one who knew would not wait."""
        return (
            self.case(answers).operations != self.problem.case(answers, answers, self.at).operations
        )

    @cached_property
    def deciding(self) -> tuple[str, ...]:
        """Unknowns not known yet on which some operation not ruled out depends, or that tell of such a one."""
        open_ = [
            name
            for rows in (
                rows for o, rows in self.problem.conditional.items() if o not in self.at.begun
            )
            if all(any(self.known.get(u, yes) == yes for u, yes in row) for row in rows)
            for row in rows
            if not any(self.known.get(u) == yes for u, yes in row)
            for name, _ in row
            if name not in self.known
        ]
        together = self.problem.joint.names if self.problem.joint else ()
        if set(together) & set(open_):
            open_ += [name for name in together if name not in self.known]
        return tuple(name for name in self.problem.unknowns if name in open_)

    def first_told(self, steps: Sequence[PlanStep]) -> tuple[int, tuple[str, ...]] | None:
        """When these steps, or what runs, first tell something that decides, and what; None: never."""
        overs = {
            one.name: tenths(one.minutes) + tenths(one.unattended)
            for one in (self.at.now.running if self.at.now else ())
        }
        overs |= {step.name: tenths(step.tail_end) for step in steps}
        told = {u: overs[r] for u in self.deciding if (r := self.problem.reader(u)) in overs}
        if not told:
            return None
        at = min(told.values())
        return at, tuple(name for name, over in told.items() if over <= at)

    def after(self, steps: Sequence[PlanStep], at: int, told: Answers) -> Place:
        """The place ``at`` tenths from here, these steps begun by then, and this told."""
        there = snapshot_at(self.at, steps, at / 10).problem
        return Place(
            self.problem,
            there,
            self.minute + at,
            {**self.known, **told},
            (*self.steps, *moved(steps, self.minute)),
            dict(self.floors),
        )


def moved(steps: Sequence[PlanStep], by: int) -> tuple[PlanStep, ...]:
    """The same steps so many tenths later."""
    return tuple(
        step.model_copy(
            update={
                "start": (tenths(step.start) + by) / 10,
                "end": (tenths(step.end) + by) / 10,
                "tail_end": (tenths(step.tail_end) + by) / 10,
            }
        )
        for step in steps
    )
