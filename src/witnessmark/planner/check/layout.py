"""Lay out the steps of an answer on the clock, as the independent checker reads them: nothing is
believed yet.

All times here are whole tenths of a minute (``*_tenths``, or plain ``start``, ``end``, ``over`` on
a step).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from itertools import pairwise

from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Move, Operation, tenths
from witnessmark.planner.problem.plan import PlanStep

NEAR = 1e-6  # of a tenth: what a float may be off and still mean that tenth


class Rule(IntEnum):
    """What was broken: 1 to 5 are the numbered rules of the planning model, the others stand around
    them.
    """

    FORM = 0  # one order, every operation once, start + minutes = end, end + unattended = over
    OCCUPATION = 1  # a condition being changed belongs to the step that changes it
    NEED = 2  # a needed state is there from start to over
    ORDER = 3  # `after`, and the finish states
    PEOPLE = 4  # hands, skills, shifts, one thing at a time
    LIMIT = 5  # `uses`, `holds`, `never`, `exposed`
    TIME = 6  # `release` and `horizon`
    FIGURE = 7  # a number or a word of the answer that the replay does not bear out


@dataclass(frozen=True)
class PlanFault:
    """One thing wrong with an answer: the rule, the steps at fault, the minute where it shows, and
    why in words.
    """

    rule: Rule
    steps: tuple[str, ...]
    minute: float | None
    words: str

    def __str__(self) -> str:
        return self.words


@dataclass(frozen=True)
class Placed:
    """A step on the clock, in tenths: attended [start, end), unattended [end, over). ``running``:
    begun before 0.
    """

    step: Move | Operation
    start: int
    end: int
    over: int
    technicians: tuple[str, ...]
    running: bool = False

    @property
    def name(self) -> str:
        """The step's name."""
        return self.step.name

    @property
    def is_operation(self) -> bool:
        """Whether it is an operation of a job, not a move."""
        return isinstance(self.step, Operation)


def minutes(count: int) -> float:
    """Tenths as minutes."""
    return count / 10


def whole_tenths(value: float) -> int | None:
    """Minutes as whole tenths, or None where the value is finer than that."""
    return round(value * 10) if abs(value * 10 - round(value * 10)) <= NEAR else None


def lay_out(problem: Problem, steps: Sequence[PlanStep]) -> tuple[list[Placed], list[PlanFault]]:
    """The steps under way at minute 0 and then those of an answer, in its order, with what is wrong
    with their form.

    A step of unknown name or with times that are no times is reported and left out of the replay.
    """
    known = {step.name: step for step in problem.steps}
    placed, faults = _under_way(problem, known), []
    for listed in steps:
        found = known.get(listed.name)
        times = [whole_tenths(at) for at in (listed.start, listed.end, listed.tail_end)]
        if found is None:
            words = f"{listed.name} is no step of the problem"
        elif None in times:
            words = f"{listed.name} has a time finer than a tenth of a minute"
        elif listed.start < 0:
            words = f"{listed.name} starts before minute 0"
        else:
            one = _placed(found, listed, [at for at in times if at is not None])
            placed.append(one)
            faults += _arithmetic(one, listed)
            continue
        faults.append(PlanFault(Rule.FORM, (listed.name,), listed.start, words))
    return placed, faults + _one_order(steps) + _each_once(problem, steps)


def _under_way(problem: Problem, known: dict[str, Move | Operation]) -> list[Placed]:
    if problem.now is None:
        return []
    return [
        Placed(
            known[one.name],
            0,
            tenths(one.minutes),
            tenths(one.minutes) + tenths(one.unattended),
            one.technicians,
            running=True,
        )
        for one in problem.now.running
    ]


def _placed(step: Move | Operation, listed: PlanStep, times: list[int]) -> Placed:
    """The step with the length the problem gives it, whatever the answer says of its end."""
    end = times[0] + tenths(step.minutes)
    return Placed(step, times[0], end, end + tenths(step.unattended), listed.technicians)


def _arithmetic(one: Placed, listed: PlanStep) -> list[PlanFault]:
    """Whether start + minutes = end, end + unattended = tail_end, and the kind it is said to be."""
    at, faults = minutes(one.start), []
    if whole_tenths(listed.end) != one.end:
        words = f"{one.name} ends at {minutes(one.end):g} (start + minutes), not at {listed.end:g}"
        faults.append(PlanFault(Rule.FORM, (one.name,), at, words))
    if whole_tenths(listed.tail_end) != one.over:
        words = (
            f"{one.name} is over at {minutes(one.over):g} (end + unattended), not "
            f"at {listed.tail_end:g}"
        )
        faults.append(PlanFault(Rule.FORM, (one.name,), at, words))
    kind = "operation" if one.is_operation else "move"
    if listed.kind != kind:
        words = f"{one.name} is said to be one {listed.kind} but is a {kind} in the problem"
        faults.append(PlanFault(Rule.FORM, (one.name,), at, words))
    return faults


def _one_order(steps: Sequence[PlanStep]) -> list[PlanFault]:
    return [
        PlanFault(
            Rule.FORM,
            (before.name, later.name),
            later.start,
            f"{later.name} is listed after {before.name} but starts before it",
        )
        for before, later in pairwise(steps)
        if later.start < before.start - NEAR
    ]


def _each_once(problem: Problem, steps: Sequence[PlanStep]) -> list[PlanFault]:
    """Every operation that is neither done nor under way stands in the list exactly once."""
    times = Counter(step.name for step in steps)
    first = {step.name: step.start for step in reversed(steps)}
    done = set(problem.now.done) if problem.now else set()
    running = {one.name for one in problem.now.running} if problem.now else set()
    faults = []
    for name in (operation.name for operation in problem.operations):
        if name in done | running and times[name]:
            word = "already done" if name in done else "already under way"
            words = f"{name} is {word} and must not be done again"
        elif name not in done | running and times[name] != 1:
            often = "is missing" if not times[name] else f"is done {times[name]} times"
            words = f"{name} {often}; every operation is done exactly once"
        else:
            continue
        faults.append(PlanFault(Rule.FORM, (name,), first.get(name), words))
    return faults
