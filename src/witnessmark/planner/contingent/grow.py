"""Grow a tree: one case is assumed and its least work followed until a reading decides, then again from there.

What is assumed (``Assumed``) and in which order the same steps are done (``Reading``) make different trees; the best
of some is kept. The rest of a plan of least work is one of least work, and an order known for a case often goes on
from where the work stands: so most stretches need no search.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

from witnessmark.planner.contingent.orders import Orders
from witnessmark.planner.contingent.places import Place, moved
from witnessmark.planner.contingent.rests import Order, Rests
from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import tenths
from witnessmark.planner.problem.plan import PlanStep
from witnessmark.planner.problem.timeline import finish_tenths
from witnessmark.planner.problem.tree import Branch, Stretch, TreeGoal
from witnessmark.planner.problem.unknowns import Answers
from witnessmark.planner.sequence.model.outline import outline, task_of
from witnessmark.planner.sequence.order import numbered
from witnessmark.planner.sequence.precedence_graph import PrecedenceGraph
from witnessmark.planner.sequence.solve import steps_of

Assumed = Literal["likeliest", "most", "least"]
Reading = Literal["first", "in between", "as it comes"]
Worth = tuple[float, float, float]


@dataclass(frozen=True)
class End:
    """A way's end: its answers, how probable, attended and finish in tenths of the whole visit."""

    known: Answers
    needed: frozenset[str]
    probability: float
    attended: int
    finish: int


@dataclass(frozen=True)
class Grown:
    """A tree from a place on, its ends, and what was assumed."""

    stretch: Stretch
    ends: tuple[End, ...]
    assumed: Assumed

    def expected(self) -> float:
        """Expected attended tenths of the whole visit."""
        return sum(end.probability * end.attended for end in self.ends)

    def worth(self, goal: TreeGoal) -> Worth:
        """What is compared, the least is the best; rounded, so that no rounding error decides."""
        expected = round(self.expected(), 6)
        finish = round(sum(end.probability * end.finish for end in self.ends), 6)
        worst = max(end.attended for end in self.ends)
        return (expected, finish, worst) if goal == "attended" else (worst, expected, finish)


@dataclass(frozen=True)
class Followed:
    """What is left of the plan that is followed, from the place where a reading told something."""

    case: Problem
    steps: tuple[PlanStep, ...]


@dataclass
class Growth:
    """One way to grow a tree."""

    rests: Rests
    assumed: Assumed
    reading: Reading
    _cases: dict[tuple[bool | None, ...], Answers] = field(default_factory=dict)

    def grown(self, place: Place, follow: Followed | None = None) -> Grown:
        """The tree from here; ``follow``: what was planned for the answers that came. Raises DeadEndError."""
        answers = self._assumption(place)
        case = place.case(answers)
        if follow is not None and _waits(follow.case, place) == _waits(case, place):
            steps = follow.steps
        else:
            readers = {place.problem.reader(name) for name in place.deciding}
            order = Orders(case).reading_early(self.rests.least(place, answers), readers)
            steps = in_time(case, order, readers, self.reading)
            steps = self.rests.by_the_clock(case, steps, place)
        told = place.first_told(steps)
        if told is None:
            return self._end(place, case, answers, steps)
        return self._fork(place, case, steps, *told)

    def _assumption(self, place: Place) -> Answers:
        key = tuple(place.known.get(name) for name in place.problem.unknowns)
        if key not in self._cases:
            cases = place.problem.cases(place.known)
            size = {"likeliest": 0, "most": 1, "least": -1}[self.assumed]
            needed = place.problem.needed
            best = max(cases, key=lambda case: (size * len(needed(case[0])), case[1]))
            self._cases[key] = best[0]
        return self._cases[key]

    def _end(
        self, place: Place, case: Problem, answers: Answers, steps: tuple[PlanStep, ...]
    ) -> Grown:
        attended = sum(case.step(step.name).effort_tenths for step in steps)
        finish = place.minute + finish_tenths(case, steps)
        end = End(place.known, place.problem.needed(answers), 1.0, place.spent + attended, finish)
        minutes = attended / 10
        stretch = Stretch(
            steps=moved(steps, place.minute),
            expected_minutes=minutes,
            least_minutes=minutes,
            most_minutes=minutes,
        )
        return Grown(stretch, (end,), self.assumed)

    def _fork(
        self,
        place: Place,
        case: Problem,
        steps: Sequence[PlanStep],
        at: int,
        told: tuple[str, ...],
    ) -> Grown:
        begun = tuple(step for step in steps if tenths(step.start) < at)
        attended = sum(place.at.step(step.name).effort_tenths for step in begun)
        rest = moved([step for step in steps if tenths(step.start) >= at], -at)
        follow = Followed(case, rest)
        branches, ends = list[Branch](), list[End]()
        for answers, probability in _answers(place, told):
            there = self.grown(place.after(begun, at, answers), follow)
            branches.append(Branch(answers=answers, probability=probability, then=there.stretch))
            ends += [
                End(e.known, e.needed, probability * e.probability, e.attended, e.finish)
                for e in there.ends
            ]
        stretch = Stretch(
            steps=moved(begun, place.minute),
            known_at=(place.minute + at) / 10,
            expected_minutes=attended / 10
            + sum(b.probability * b.then.expected_minutes for b in branches),
            least_minutes=attended / 10 + min(b.then.least_minutes for b in branches),
            most_minutes=attended / 10 + max(b.then.most_minutes for b in branches),
            branches=tuple(branches),
        )
        return Grown(stretch, tuple(ends), self.assumed)


def _waits(case: Problem, place: Place) -> dict[str, set[str]]:
    """What is left of a case, and for what of it each waits: alike in two cases, a plan of one is one of the other."""
    begun = place.at.begun
    return {o.name: {*o.after} - begun for o in case.operations if o.name not in begun}


def _answers(place: Place, told: Sequence[str]) -> Iterator[tuple[dict[str, bool], float]]:
    """What may be told there, and how probable each is."""
    found: dict[tuple[bool, ...], float] = {}
    for answers, probability in place.problem.cases(place.known):
        key = tuple(answers[name] for name in told)
        found[key] = found.get(key, 0.0) + probability
    for key, probability in found.items():
        yield dict(zip(told, key, strict=True)), probability


def in_time(
    case: Problem, order: Order, readers: set[str], reading: Reading
) -> tuple[PlanStep, ...]:
    """The steps of this order on the clock: what nothing binds changes places, so that nobody waits.

    ``reading``: readings, and all they need, come first; only those of which other steps do not wait longer; or in
    their turn.
    """
    there = outline(case)
    begun = [(task, 0) for task in there.begun]
    left = [(there.startable.get(n) or task_of(case.step(n)), c) for n, c in numbered(order)]
    graph = PrecedenceGraph(there, (*begun, *left))
    reads = 0
    for n, task in enumerate(graph.tasks):
        if task.name in readers:
            reads |= 1 << n
    later = [not (graph.after[n] | 1 << n) & reads for n in range(graph.size)]
    ranks: list[tuple[int, ...]]
    if reading == "first":
        ranks = [(later[n], -tail) for n, tail in enumerate(graph.tails)]
    elif reading == "in between":
        ranks = [(later[n] and _unattended(graph, n) < LONG, n) for n in range(graph.size)]
    else:
        ranks = [(-tail,) for tail in graph.tails]
    return steps_of(case, graph.found(graph.dispatched(ranks)))


LONG = 50  # unattended tenths that are worth beginning early. Judged by us


def _unattended(graph: PrecedenceGraph, n: int) -> int:
    """The longest wait that this step, or one after it, begins."""
    after = graph.after[n] | 1 << n
    return max(task.length - task.attended for m, task in enumerate(graph.tasks) if after >> m & 1)
