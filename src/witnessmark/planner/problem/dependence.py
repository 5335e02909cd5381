"""Which two steps of a plan must keep their order."""

from __future__ import annotations

from witnessmark.planner.problem.checked import Problem
from witnessmark.planner.problem.model import Operation, Step


def bound_by_order(problem: Problem, first: str, second: str) -> bool:
    """Whether the second relies on, changes, or must keep clear of what the first leaves."""
    earlier, later = problem.step(first), problem.step(second)
    if isinstance(later, Operation) and first in later.after:
        return True
    return bound_by_states(problem, earlier, later)


def bound_by_states(problem: Problem, earlier: Step, later: Step) -> bool:
    """Whether one changes what the other needs, changes or forbids."""
    if earlier.sets.keys() & (later.sets.keys() | later.needs.keys()):
        return True
    if later.sets.keys() & earlier.needs.keys():
        return True
    return any(
        combination.keys() & earlier.sets.keys() and combination.keys() & later.sets.keys()
        for combination in problem.never
    )
