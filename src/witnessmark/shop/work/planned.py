"""An order of work as it is kept: a problem with its answer, and where readings decide the tree it is a way through."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import rfc8785

from witnessmark.kept_versions import Said, Upcast, as_newest
from witnessmark.planner import (
    Answer,
    Branch,
    ContingentProblem,
    PlanStep,
    Problem,
    Tree,
    explained,
    repeated_operations,
    ways,
)


def _without_tree(said: Said) -> Said:
    return {**said, "tree": None, "undecided": None, "left_out": []}


UPCASTS: tuple[Upcast, ...] = (_without_tree,)
FORMAT = len(UPCASTS) + 1
PLAIN = 1  # the format of an order without a tree: it is the same bytes as before there were any


@dataclass(frozen=True)
class Fork:
    """A reading of an order that decides: ``place`` among its steps of the first one after it."""

    place: int
    taken: Branch
    others: tuple[Branch, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """The unknowns told there."""
        return tuple(self.taken.answers)


@dataclass(frozen=True)
class Planned:
    """A problem and its checked answer, with the jobs and the book revision they rest on.

    ``later``: jobs to be done that this order leaves for another time on purpose. ``tree``: where readings decide;
    the answer is then the way through it by what was read, and by what is likeliest for the rest. ``undecided``: the
    problem of the tree; ``left_out``: unknowns that were too many, planned as no.
    """

    problem: Problem
    answer: Answer
    jobs: tuple[str, ...]
    book: str
    later: tuple[str, ...] = ()
    tree: Tree | None = None
    undecided: ContingentProblem | None = None
    left_out: tuple[str, ...] = ()
    read: tuple[tuple[str, bool], ...] = ()  # the answers that led along this way

    def canonical(self) -> bytes:
        """RFC 8785 form; the time it took to solve is left out, so that the same plan has the same hash."""
        answer = self.answer.model_dump(mode="json", by_alias=True, exclude={"solve_seconds"})
        said: dict[str, Any] = {
            "format": PLAIN,
            "book": self.book,
            "jobs": list(self.jobs),
            "later": list(self.later),
            "problem": self.problem.model_dump(mode="json", by_alias=True),
            "answer": answer,
        }
        if self.tree is not None and self.undecided is not None:
            said |= {
                "format": FORMAT,
                "tree": self.tree.model_dump(
                    mode="json", by_alias=True, exclude={"solve_seconds"}, exclude_defaults=True
                ),
                "undecided": self.undecided.model_dump(
                    mode="json", by_alias=True, exclude_defaults=True
                ),
                "left_out": list(self.left_out),
            }
        return rfc8785.dumps(said)

    @cached_property
    def hash(self) -> str:
        """SHA-256 of the canonical form: the hash it is kept under."""
        return hashlib.sha256(self.canonical()).hexdigest()

    @property
    def possible(self) -> bool:
        """Whether there is an order at all."""
        return self.answer.status in {"optimal", "feasible"}

    @property
    def again(self) -> tuple[str, ...]:
        """Operations that it does again, or takes from jobs not taken on, because nothing else leads on."""
        done = {step.name for step in self.answer.steps}
        return tuple(name for name in repeated_operations(self.problem) if name in done)

    @cached_property
    def forks(self) -> tuple[Fork, ...]:
        """The readings that decide on the way, in its order."""
        return _through(self.tree, dict(self.read))[1] if self.tree else ()

    @property
    def every_step(self) -> Answer:
        """The answer, and behind it what other branches that are still open have more: what must lie ready for any.

        Of access steps those that are had for such operations alone.
        """
        if self.tree is None:
            return self.answer
        known, read = {step.name for step in self.answer.steps}, dict(self.read)
        more = {
            step.name: step
            for way in ways(self.tree.first)
            if all(read.get(name, yes) == yes for name, yes in way.answers.items())
            for step in way.steps
            if step.name not in known
            and (step.kind == "operation" or (step.for_ and not known & {*step.for_}))
        }
        return self.answer.model_copy(update={"steps": (*self.answer.steps, *more.values())})

    def along(self, answers: Mapping[str, bool]) -> Planned:
        """The way through its tree by these answers, and by the likeliest for the rest; itself without a tree."""
        if self.tree is None or self.undecided is None:
            return self
        read = tuple(sorted((n, yes) for n, yes in answers.items() if n in self.undecided.unknowns))
        steps, forks = _through(self.tree, dict(read))
        told = dict(self.tree.least.answers) if self.tree.how == "likeliest" else {}
        for fork in forks:
            told |= fork.taken.answers
        own = self.undecided.technicians
        if len(own) == 1:  # the tree was grown for one who is free to do all, whoever that is
            steps = tuple(
                step.model_copy(update={"technicians": (own[0].name,) * len(step.technicians)})
                for step in steps
            )
        told = dict.fromkeys(self.undecided.unknowns, False) | self.undecided.answered | told
        case = self.undecided.case(told, told)
        answer = Answer(
            status="feasible",
            finish_minutes=max((step.tail_end for step in steps), default=0.0),
            attended_minutes=labour(self.undecided.union, steps),
            steps=steps,
        )
        return replace(self, problem=case, answer=explained(case, answer), read=read)


def labour(problem: Problem, steps: tuple[PlanStep, ...]) -> float:
    """The attended minutes of these steps, by as many hands as each takes."""
    return sum(problem.step(step.name).effort_tenths for step in steps) / 10


def _through(
    tree: Tree, answers: Mapping[str, bool]
) -> tuple[tuple[PlanStep, ...], tuple[Fork, ...]]:
    steps, forks, stretch = [*tree.first.steps], list[Fork](), tree.first
    while stretch.branches:
        fit = [
            branch
            for branch in stretch.branches
            if all(answers.get(name, yes) == yes for name, yes in branch.answers.items())
        ]
        taken = max(fit or stretch.branches, key=lambda branch: branch.probability)
        others = tuple(branch for branch in stretch.branches if branch is not taken)
        forks.append(Fork(len(steps), taken, others))
        stretch = taken.then
        steps += stretch.steps
    return tuple(steps), tuple(forks)


def read_back(said: object) -> Planned:
    """A kept order. Raises KeptError for one of a newer version."""
    kept = as_newest("the kept plan", said, UPCASTS)
    return Planned(
        problem=Problem.model_validate(kept["problem"]),
        answer=Answer.model_validate(kept["answer"]),
        jobs=tuple(kept["jobs"]),
        later=tuple(kept["later"]),
        book=kept["book"],
        tree=kept["tree"] and Tree.model_validate(kept["tree"]),
        undecided=kept["undecided"] and ContingentProblem.model_validate(kept["undecided"]),
        left_out=tuple(kept["left_out"]),
    )
